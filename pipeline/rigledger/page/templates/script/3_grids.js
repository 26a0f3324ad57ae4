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
