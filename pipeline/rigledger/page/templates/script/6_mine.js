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

