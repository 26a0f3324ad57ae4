/* One figure a title: every comparison with its interval, on one axis. */
const SHAPES = { gain: "triangle-up", loss: "triangle-down", gain_open: "triangle-up", loss_open: "triangle-down",
  within: "square", open: "circle", none: "cross" };
const FILLED = ["gain", "loss", "within"];
const figures = new Map();

function ink(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}
/* The axis holds nine in ten of the ends; what lies beyond is cut there, and the caption says so. */
function axisOf(rows) {
  const ends = rows.flatMap((row) => [row.low_95_pct ?? row.change_pct, row.high_95_pct ?? row.change_pct])
    .filter((end) => end !== null).sort((a, b) => a - b);
  const at = (share) => ends[Math.round(share * (ends.length - 1))] || 0;
  const least = Math.min(-2 * data.delta, at(0.05)), most = Math.max(2 * data.delta, at(0.95));
  return { domain: [Math.floor(least), Math.ceil(most)], cut: ends.some((end) => end < Math.floor(least) || end > Math.ceil(most)) };
}
function lineName(row) {
  const older = row.current ? "" : `, ${row.stack.split("-").pop()}, ${row.title_build}`;
  return `${rigName(row.rig)}, ${row.resolution.replace("x", " × ")}${older}`;
}
function specOf(title, rows, axis) {
  const names = distinctNames(rows);
  const values = rows.filter((row) => row.change_pct !== null).map((row) => ({
    line: names.get(row), low: row.low_95_pct, high: row.high_95_pct, change: row.change_pct,
    shape: row.kind, filled: FILLED.includes(row.kind) ? "yes" : "no" }));
  const x = (field) => ({ field, type: "quantitative", scale: { domain: axis.domain, nice: true, clamp: true }, title: "change, %" });
  const narrow = innerWidth < 640;
  const axisY = { labelLimit: Math.min(320, innerWidth * 0.5), domain: false, ticks: false, labelPadding: 8,
    ...(narrow ? { labelExpr: "split(datum.label, ', ')" } : {}) };
  const y = { field: "line", type: "nominal", sort: null, title: null, axis: axisY };
  const kinds = Object.keys(SHAPES);
  return {
    description: spoken(title, rows), width: "container", autosize: { type: "fit-x", contains: "padding" }, height: { step: narrow ? 36 : 20 }, background: "transparent",
    config: { aria: false, font: "system-ui, sans-serif", view: { stroke: null },
      axis: { labelColor: ink("--ink"), titleColor: ink("--ink"), gridColor: ink("--line"), labelFontSize: 12, titleFontSize: 12 } },
    layer: [
      { data: { values: [{ low: -data.delta, high: data.delta }] }, mark: { type: "rect", color: ink("--band") },
        encoding: { x: x("low"), x2: { field: "high" } } },
      { data: { values: [{ change: 0 }] }, mark: { type: "rule", color: ink("--soft") }, encoding: { x: x("change") } },
      { data: { values }, mark: { type: "rule", color: ink("--mark"), strokeWidth: 2 },
        encoding: { y, x: x("low"), x2: { field: "high" } } },
      { data: { values }, mark: { type: "point", size: 60, opacity: 1, color: ink("--mark"), strokeWidth: 1.5 },
        encoding: { y, x: x("change"),
          shape: { field: "shape", type: "nominal", legend: null, scale: { domain: kinds, range: kinds.map((kind) => SHAPES[kind]) } },
          fill: { field: "filled", type: "nominal", legend: null, scale: { domain: ["yes", "no"], range: [ink("--mark"), ink("--paper")] } } } },
    ],
  };
}
function distinctNames(rows) {
  const seen = new Map(), names = new Map();
  for (const row of rows) {
    const name = lineName(row), times = (seen.get(name) || 0) + 1;
    seen.set(name, times);
    names.set(row, times === 1 ? name : `${name} (${row.rig})`);
  }
  return names;
}
function spoken(title, rows) {
  const said = rows.map((row) => `${lineName(row)}: ${pct(row.change_pct)}, ${pct(row.low_95_pct)} to ${pct(row.high_95_pct)}, ${row.says}`);
  return `Change with 95 % interval, ${title.name}. ${said.slice(0, 12).join(". ")}${said.length > 12 ? `. And ${said.length - 12} more; the table below holds all.` : "."}`;
}
function inOrder(rows) {
  const place = (list, id) => data.names[list].findIndex((one) => one.id === id);
  const key = (row) => [place("card", row.card), place("platform", row.platform), place("resolution", row.resolution)];
  return [...rows].sort((a, b) => key(a).map((part, at) => part - key(b)[at]).find((part) => part !== 0) || 0);
}
function figureOf(title, rows) {
  const ordered = inOrder(rows), axis = axisOf(rows);
  const plot = make("div", { class: "plot", role: "img", "aria-label": spoken(title, ordered) });
  const cut = axis.cut ? " What lies beyond the axis is drawn at its end." : "";
  figures.set(plot, () => vegaEmbed(plot, specOf(title, ordered, axis),
    { ast: true, logLevel: 1, actions: false, renderer: "svg", defaultStyle: false, tooltip: { disableDefaultStyle: true } })
    .then(() => plot.querySelector("svg").setAttribute("aria-hidden", "true")));
  return make("figure", { class: "wide" }, make("figcaption", {}, make("h3", {}, isolate(title.name)),
    make("p", { class: "note" }, `${counted(rows.length, "comparison")}.${cut}`)), plot);
}
/* Figures are drawn when they come into view, and all of them for print. */
const watcher = new IntersectionObserver((entries) => {
  for (const entry of entries.filter((one) => one.isIntersecting)) drawFigure(entry.target);
}, { rootMargin: "400px" });
function drawFigure(plot) {
  const draw = figures.get(plot);
  watcher.unobserve(plot);
  if (!draw || plot.dataset.drawn) return;
  plot.dataset.drawn = "yes";
  draw();
}
function drawIntervals(rows) {
  for (const plot of figures.keys()) watcher.unobserve(plot);
  figures.clear();
  const titles = data.names.title.filter((title) => rows.some((row) => row.workload === title.id));
  document.getElementById("figures").replaceChildren(...titles.map((title) => figureOf(title, rows.filter((row) => row.workload === title.id))));
  if (!titles.length) document.getElementById("figures").append(make("p", {}, "No comparison fits these filters."));
  for (const plot of figures.keys()) watcher.observe(plot);
}
