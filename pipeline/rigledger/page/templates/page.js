"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const dialog = document.getElementById("made");
const view = document.getElementById("view");
const FILTERS = ["metric", "contrast", "title", "resolution", "platform", "card"];
const FIELD = { title: "workload" };
const MARKS = {
  gain: ["▲", "material gain"], loss: ["▼", "material loss"], gain_open: ["△", "gain, size not settled"],
  loss_open: ["▽", "loss, size not settled"], within: ["≈", "within the material change"],
  open: ["?", "not settled"], none: ["⊘", "no verdict"],
};
const FIRST_ROWS = 40;

function unpack(table) {
  const columns = Object.entries(table.columns);
  return Array.from({ length: table.rows }, (_, row) => Object.fromEntries(columns.map(
    ([name, held]) => [name, Array.isArray(held) ? held[row] : held.words[held.at[row]]])));
}
const tables = Object.fromEntries(Object.entries(data).filter(([, held]) => held && held.columns)
  .map(([name, held]) => [name, unpack(held)]));
const rigs = new Map(tables.rigs.map((rig) => [rig.rig, rig]));
const stacks = new Map(tables.stacks.map((stack) => [stack.stack, stack.says]));
for (const name of ["comparisons", "cells", "overall", "repeatability", "stack_shift", "runs"]) {
  for (const row of tables[name]) {
    row.platform = rigs.get(row.rig).platform;
    row.card = rigs.get(row.rig).card;
  }
}

/* Elements are only ever made from text: nothing of the data is read as HTML. */
function make(tag, attributes = {}, ...children) {
  const svg = ["svg", "line", "rect", "path"].includes(tag);
  const made = svg ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name, value);
    else if (value !== null) made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== null));
  return made;
}
const isolate = (text) => make("bdi", {}, String(text ?? ""));

function pct(value) {
  if (value === null || value === undefined) return "–";
  const text = Math.abs(value).toFixed(1);
  const sign = Number(text) === 0 ? "" : value > 0 ? "+" : "−";
  return `${sign}${text} %`;
}
function plain(value) {
  if (value === null || value === undefined) return "–";
  return value.toFixed(Math.abs(value) >= 1000 ? 0 : Math.abs(value) >= 100 ? 1 : 2);
}
const named = (list, id) => (data.names[list].find((one) => one.id === id) || { name: id }).name;
const rigName = (id) => `${named("platform", rigs.get(id).platform)} · ${named("card", rigs.get(id).card)}`;

/* The link is the state: a control changes the link, the link draws the page. */
function options(filter) {
  return data.names[filter].filter((one) => filter !== "contrast" || one);
}
function readLink() {
  const held = new URLSearchParams(location.hash.slice(1));
  const state = { unknown: [] };
  for (const filter of FILTERS) {
    const first = ["metric", "contrast"].includes(filter) ? (data.names[filter][0] || { id: "" }).id : "";
    const asked = held.get(filter);
    const known = asked === null || options(filter).some((one) => one.id === asked);
    if (!known) state.unknown.push(asked);
    state[filter] = known && asked !== null ? asked : first;
  }
  for (const name of ["older", "my-platform", "my-card", "made"]) state[name] = held.get(name) || "";
  return state;
}
function writeLink(changes) {
  const state = { ...readLink(), ...changes };
  delete state.unknown;
  const kept = Object.entries(state).filter(([, value]) => value !== "");
  location.hash = new URLSearchParams(kept).toString();
}
function select(label, name, list, all) {
  const control = make("select", { id: `filter-${name}`, change: (event) => writeLink({ [name]: event.target.value }) });
  if (all) control.append(make("option", { value: "" }, all));
  for (const one of list) control.append(make("option", { value: one.id, dir: "auto" }, one.name));
  return make("label", {}, make("span", {}, label), control);
}
function buildFilters() {
  const box = document.getElementById("filters");
  const labels = { metric: "Metric", contrast: "Levels", title: "Title", resolution: "Resolution", platform: "Platform", card: "Card" };
  for (const filter of FILTERS) {
    box.append(select(labels[filter], filter, options(filter), ["metric", "contrast"].includes(filter) ? null : "all"));
  }
  box.append(make("label", { class: "check" }, make("input", {
    type: "checkbox", id: "filter-older", change: (event) => writeLink({ older: event.target.checked ? "1" : "" }),
  }), make("span", {}, "older stacks too")));
  box.append(make("button", { type: "button", click: () => { location.hash = ""; } }, "Clear"));
  const mine = document.getElementById("my-choice");
  mine.append(select("My platform", "my-platform", data.names.platform, "choose"));
  mine.append(select("My card", "my-card", data.names.card, "choose"));
}
function showFilters(state) {
  for (const name of [...FILTERS, "my-platform", "my-card"]) document.getElementById(`filter-${name}`).value = state[name];
  document.getElementById("filter-older").checked = state.older !== "";
}
function fits(row, state, filters = FILTERS) {
  return filters.every((filter) => {
    const field = FIELD[filter] || filter;
    return state[filter] === "" || !(field in row) || row[field] === state[filter];
  }) && (state.older !== "" || row.current !== false);
}

/* Tables that sort, copy and download. */
function csvCell(value) {
  const text = String(value ?? "");
  const safe = typeof value === "string" && /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\n\r]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
function asCsv(columns, rows) {
  const lines = [columns.map((column) => column.name), ...rows.map((row) => columns.map((column) => column.value(row)))];
  return lines.map((line) => line.map(csvCell).join(",")).join("\r\n") + "\r\n";
}
function download(name, text) {
  const address = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
  const link = make("a", { href: address, download: `${data.study}-${data.version}-${name}.csv` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
}
async function copyText(button, text) {
  try { await navigator.clipboard.writeText(text); button.textContent = "Copied"; }
  catch { button.textContent = "Copying is not allowed here"; }
}
function compare(a, b) {
  if (a === null || a === undefined) return 1;
  if (b === null || b === undefined) return -1;
  return typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b), "en");
}
function tableOf(name, caption, columns, rows) {
  const box = make("div", { class: "held" });
  const order = { column: -1, down: false, all: false };
  const draw = () => {
    const sorted = order.column < 0 ? rows : [...rows].sort((a, b) =>
      (order.down ? -1 : 1) * compare(columns[order.column].value(a), columns[order.column].value(b)));
    box.replaceChildren(tools(name, columns, sorted), scroller(caption, headed(columns, order, draw), sorted, columns, order));
    if (!order.all && rows.length > FIRST_ROWS) {
      box.append(make("button", { type: "button", click: () => { order.all = true; draw(); } }, `Show all ${rows.length} rows`));
    }
  };
  draw();
  return box;
}
function tools(name, columns, rows) {
  return make("p", { class: "tools" },
    make("button", { type: "button", click: (event) => copyText(event.target, asCsv(columns, rows)) }, "Copy"),
    make("button", { type: "button", "data-csv": name, click: () => download(name, asCsv(columns, rows)) }, "Download CSV"));
}
function headed(columns, order, draw) {
  return make("thead", {}, make("tr", {}, ...columns.map((column, place) => {
    const sort = order.column !== place ? "none" : order.down ? "descending" : "ascending";
    const turn = () => { order.down = order.column === place && !order.down; order.column = place; draw(); };
    return make("th", { scope: "col", class: column.kind || null, "aria-sort": sort },
      make("button", { type: "button", click: turn }, column.name, sort === "none" ? "" : order.down ? " ↓" : " ↑"));
  })));
}
function scroller(caption, head, rows, columns, order) {
  const shown = order.all ? rows : rows.slice(0, FIRST_ROWS);
  const body = make("tbody", {}, ...shown.map((row) => make("tr", {}, ...columns.map((column) =>
    make("td", { class: column.kind || null }, column.show ? column.show(row) : isolate(column.value(row)))))));
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption },
    make("table", {}, make("caption", {}, caption), head, body));
}

/* Pictures. */
const keyOf = (row) => [row.rig, row.stack, row.workload, row.title_build, row.resolution, row.contrast, row.metric].join("~");
function told(row) {
  return `${named("title", row.workload)}, ${row.resolution}, ${rigName(row.rig)}: ${pct(row.change_pct)}, ${row.says}. Show how it was made.`;
}
function mark(row) {
  const [sign] = MARKS[row.kind];
  return make("button", { type: "button", class: `mark k-${row.kind}`, "aria-label": told(row), title: `${rigName(row.rig)}: ${row.says}`,
    click: () => writeLink({ made: keyOf(row) }) }, make("span", { "aria-hidden": "true" }, `${sign} `), pct(row.change_pct));
}
function drawGrids(state, rows) {
  const box = document.getElementById("grids");
  const titles = data.names.title.filter((title) => rows.some((row) => row.workload === title.id));
  box.replaceChildren(...titles.map((title) => grid(title, rows.filter((row) => row.workload === title.id), state)));
  if (!titles.length) box.append(make("p", {}, "No comparison fits these filters."));
}
function grid(title, rows, state) {
  const platforms = data.names.platform.filter((one) => rows.some((row) => row.platform === one.id));
  const columns = data.names.card.flatMap((card) => data.names.resolution
    .filter((resolution) => rows.some((row) => row.card === card.id && row.resolution === resolution.id))
    .map((resolution) => ({ card, resolution })));
  const head = make("tr", {}, make("th", { scope: "col" }, "Platform"), ...columns.map(({ card, resolution }) =>
    make("th", { scope: "col" }, isolate(card.name), make("small", {}, resolution.name))));
  const body = platforms.map((platform) => make("tr", {}, make("th", { scope: "row" }, isolate(platform.name)),
    ...columns.map(({ card, resolution }) => gridCell(rows.filter((row) => row.platform === platform.id
      && row.card === card.id && row.resolution === resolution.id)))));
  const scroll = make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `Change, ${title.name}` },
    make("table", { class: "grid" }, make("thead", {}, head), make("tbody", {}, ...body)));
  return make("figure", {}, make("figcaption", {}, make("h3", {}, isolate(title.name))), scroll, effects(title, state));
}
function gridCell(rows) {
  return rows.length ? make("td", {}, ...rows.map(mark)) : make("td", { class: "unmeasured" }, "not measured");
}
function effects(title, state) {
  const held = tables.effects.filter((row) => row.workload === title.id && row.told && fits(row, state, ["metric", "contrast", "resolution"]));
  const shown = held.filter((row) => row.depends);
  if (!held.length) return make("p", { class: "note" }, "On what it depends can't be told from these rigs.");
  if (!shown.length) return make("p", { class: "note" }, "That it depends on platform or card was not shown.");
  const where = [...new Set(shown.map((row) => row.resolution))].join(", ");
  return make("details", { class: "note" }, make("summary", {}, make("strong", {}, "Depends on the hardware"), ` at ${where}: how`),
    make("ul", {}, ...shown.map((row) => make("li", {}, `${row.resolution}: `, isolate(row.says)))));
}
function scaleOf(rows) {
  const ends = rows.flatMap((row) => [row.low_95_pct, row.high_95_pct]).filter((end) => end !== null).map(Math.abs).sort((a, b) => a - b);
  return Math.max(2 * data.delta, ends[Math.floor(ends.length * 0.9)] || 0);
}
function interval(row, scale) {
  const at = (value) => 100 + 96 * Math.max(-1, Math.min(1, value / scale));
  const label = `${pct(row.change_pct)}, 95 % interval ${pct(row.low_95_pct)} to ${pct(row.high_95_pct)}`;
  const svg = make("svg", { viewBox: "0 0 200 16", role: "img", "aria-label": label, class: "interval" },
    make("rect", { x: at(-data.delta), y: 0, width: at(data.delta) - at(-data.delta), height: 16, class: "band" }),
    make("line", { x1: 100, x2: 100, y1: 0, y2: 16, class: "zero" }));
  if (row.low_95_pct !== null) svg.append(make("line", { x1: at(row.low_95_pct), x2: at(row.high_95_pct), y1: 8, y2: 8, class: "reach" }));
  if (row.change_pct !== null) svg.append(make("rect", { x: at(row.change_pct) - 3, y: 5, width: 6, height: 6, class: row.kind.startsWith("open") ? "dot hollow" : "dot" }));
  return svg;
}
function drawComparisons(rows) {
  const scale = scaleOf(rows);
  const columns = [
    { name: "Title", value: (row) => named("title", row.workload) },
    { name: "Resolution", kind: "n", value: (row) => row.resolution },
    { name: "Rig", value: (row) => row.rig, show: (row) => make("span", {}, isolate(rigName(row.rig)), make("small", {}, isolate(row.rig))) },
    { name: "Change", kind: "n", value: (row) => row.change_pct, show: mark },
    { name: "95 % low", kind: "n", value: (row) => row.low_95_pct, show: (row) => pct(row.low_95_pct) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95_pct, show: (row) => pct(row.high_95_pct) },
    { name: "Interval", kind: "p", value: (row) => row.moderated_spread_pct, show: (row) => interval(row, scale) },
    { name: "What it says", value: (row) => row.says },
    { name: "From", kind: "n", value: (row) => row.from_value, show: (row) => plain(row.from_value) },
    { name: "To", kind: "n", value: (row) => row.to_value, show: (row) => plain(row.to_value) },
    { name: "Runs", kind: "n", value: (row) => row.from_runs + row.to_runs },
    { name: "Beside it", value: beside },
  ];
  columns[6].name = "Interval (spread %)";
  const caption = `${rows.length} comparisons; intervals are drawn from −${scale.toFixed(0)} % to +${scale.toFixed(0)} %, the band is ±${data.delta} %`;
  document.getElementById("table-comparisons").replaceChildren(tableOf("comparisons", caption, columns, rows));
}
function beside(row) {
  return [row.one_session ? "one session" : `${row.sessions} sessions`, row.stale ? "the rig's newest stack is another" : "",
    row.current ? "" : "older", row.confounded_by ? `also differs: ${row.confounded_by}` : ""].filter(Boolean).join("; ");
}
function drawSpread(state) {
  const rows = tables.repeatability.filter((row) => fits(row, state, ["metric", "title", "platform", "card"]));
  document.getElementById("table-spread").replaceChildren(tableOf("spread", `Spread of ${rows.length} rigs and titles`, [
    { name: "Title", value: (row) => named("title", row.workload) }, { name: "Rig", value: (row) => row.rig },
    { name: "Run to run", kind: "n", value: (row) => row.run_spread_pct, show: (row) => pct(row.run_spread_pct).replace("+", "") },
    { name: "Session to session", kind: "n", value: (row) => row.session_spread_pct, show: (row) => pct(row.session_spread_pct).replace("+", "") },
    { name: "Runs", kind: "n", value: (row) => row.runs }, { name: "Sessions", kind: "n", value: (row) => row.sessions }], rows));
}
function drawCells(state) {
  const box = document.getElementById("absolute");
  if (!box.open) return;
  const rows = tables.cells.filter((row) => fits(row, state));
  document.getElementById("table-cells").replaceChildren(tableOf("cells", `${rows.length} cells, planned ones without runs too`, [
    { name: "Title", value: (row) => named("title", row.workload) }, { name: "Resolution", value: (row) => row.resolution, kind: "n" },
    { name: "Rig", value: (row) => row.rig }, { name: "Level", value: (row) => named("level", row.level) },
    { name: "Geometric mean", kind: "n", value: (row) => row.geometric_mean, show: (row) => plain(row.geometric_mean) },
    { name: "95 % low", kind: "n", value: (row) => row.low_95, show: (row) => plain(row.low_95) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95, show: (row) => plain(row.high_95) },
    { name: "Runs", kind: "n", value: (row) => row.runs }, { name: "Stack", value: (row) => stacks.get(row.stack) || row.stack }], rows));
}

/* My rig: what holds for it, and what nobody has measured. */
function drawMine(state) {
  const box = document.getElementById("mine");
  const [platform, card] = [state["my-platform"], state["my-card"]];
  if (!platform || !card) { box.replaceChildren(make("p", {}, "Choose both to see what was measured on such a rig.")); return; }
  const here = tables.comparisons.filter((row) => row.platform === platform && row.card === card && fits(row, state, ["metric", "contrast"]));
  const near = tables.comparisons.filter((row) => row.card === card && row.platform !== platform && fits(row, state, ["metric", "contrast"]));
  const missing = data.names.title.filter((title) => !here.some((row) => row.workload === title.id)).map((title) => title.name);
  const parts = [make("p", {}, here.length ? `${here.length === 1 ? "One comparison was" : `${here.length} comparisons were`} made on this pair.` : "Nobody has measured this pair of platform and card.")];
  if (!here.length) parts.push(make("p", {}, `${new Set(near.map((row) => row.rig)).size} other rigs with this card were measured; whether they speak for yours is what the pictures above ask.`));
  if (missing.length) parts.push(make("p", {}, "Not measured here: ", isolate(missing.join(", ")), "."));
  if (here.length) parts.push(make("ul", {}, ...here.map((row) => make("li", {}, isolate(named("title", row.workload)), `, ${row.resolution}: `, mark(row), ` ${row.says}`))));
  box.replaceChildren(...parts);
}

/* How a number was made: its comparison, the two cells, their runs. */
function drawMade(state) {
  const row = state.made && tables.comparisons.find((one) => keyOf(one) === state.made);
  if (!row) { if (dialog.open) dialog.close(); return; }
  const contrast = data.names.contrast.find((one) => one.id === row.contrast);
  const cells = [contrast.from, contrast.to].map((level) => madeCell(row, level));
  document.getElementById("made-body").replaceChildren(
    make("h2", { id: "made-title" }, "How this number was made"),
    make("p", {}, isolate(told(row).replace(" Show how it was made.", ""))),
    make("p", {}, `95 % interval ${pct(row.low_95_pct)} to ${pct(row.high_95_pct)}; ${beside(row)}; metric: ${named("metric", row.metric)}.`), ...cells);
  if (!dialog.open) dialog.showModal();
}
function madeCell(row, level) {
  const same = (one) => ["rig", "stack", "workload", "title_build", "resolution"].every((field) => one[field] === row[field]) && one.level === level;
  const cell = tables.cells.find((one) => same(one) && one.metric === row.metric) || {};
  const runs = tables.runs.filter(same);
  return make("section", {}, make("h3", {}, isolate(named("level", level))),
    make("p", {}, `${plain(cell.geometric_mean)}, 95 % interval ${plain(cell.low_95)} to ${plain(cell.high_95)}, from ${cell.runs ?? 0} runs. `, isolate(stacks.get(row.stack) || row.stack)),
    make("details", {}, make("summary", {}, `${runs.length} runs`), tableOf("runs", `Runs at ${level}`, [
      { name: "Run", value: (run) => `${run.session}.${run.run}` }, { name: "Role", value: (run) => run.role },
      { name: "Pass", kind: "n", value: (run) => run.pass }, { name: "Day", kind: "n", value: (run) => run.started_on },
      { name: "Value", kind: "n", value: (run) => run[`m:${row.metric}`] ?? null, show: (run) => plain(run[`m:${row.metric}`]) }], runs)));
}

function draw() {
  const state = readLink();
  showFilters(state);
  document.getElementById("unknown").textContent = state.unknown.length ? `This link asks for what the release doesn't hold: ${state.unknown.join(", ")}.` : "";
  const rows = tables.comparisons.filter((row) => fits(row, state));
  drawGrids(state, rows);
  drawComparisons(rows);
  drawSpread(state);
  drawCells(state);
  drawMine(state);
  drawMade(state);
}
function start() {
  buildFilters();
  view.hidden = false;
  for (const link of document.querySelectorAll("nav a")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      document.getElementById(link.getAttribute("href").slice(1)).scrollIntoView();
    });
  }
  dialog.addEventListener("close", () => writeLink({ made: "" }));
  document.getElementById("made-close").addEventListener("click", () => dialog.close());
  document.getElementById("absolute").addEventListener("toggle", () => drawCells(readLink()));
  window.addEventListener("hashchange", draw);
  draw();
}
start();
