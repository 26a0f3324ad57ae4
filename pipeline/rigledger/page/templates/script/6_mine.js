/* My rig: what holds for one platform with one card, and what nobody has measured. */
const WORTH = {
  gain: "A gain of more than BAND is shown.", loss: "A loss of more than BAND is shown.",
  gain_open: "A gain is shown; whether it is more than BAND is not settled.",
  loss_open: "A loss is shown; whether it is more than BAND is not settled.",
  within: "Whatever the change is, it is within ±BAND.",
  open: "Neither gain nor loss is shown, nor that it stays within ±BAND.",
};
function inWords(row) {
  if (row.kind === "none") return `There is ${row.says}.`;
  const more = row.runs_needed ? ` About ${counted(row.runs_needed, "more run")} at each level${row.sessions_needed ? `, in ${counted(row.sessions_needed, "more session")},` : ""} would settle it.` : "";
  return WORTH[row.kind].replace("BAND", `${data.delta} %`) + more;
}
function drawMine(state) {
  const box = document.getElementById("mine");
  const [platform, card] = [state["my-platform"], state["my-card"]];
  if (!platform || !card) { box.replaceChildren(make("p", {}, "Choose both to see what was measured on such a rig, and what wasn't.")); return; }
  const asked = tables.comparisons.filter((row) => fits(row, state, ["metric", "contrast", "title", "resolution"]));
  const here = asked.filter((row) => row.platform === platform && row.card === card);
  const sought = data.names.title.filter((title) => !state.title || title.id === state.title);
  const missing = sought.filter((title) => !here.some((row) => row.workload === title.id));
  const pair = named("contrast", state.contrast);
  const what = `${pair.charAt(0).toUpperCase()}${pair.slice(1)}, ${named("metric", state.metric)}`;
  box.replaceChildren(...(here.length ? measuredHere(here, what) : []),
    ...(missing.length && here.length ? [make("p", {}, "Nobody has measured on this pair: ", isolate(missing.map((title) => title.name).join(", ")), ".")] : []),
    ...(here.length ? [] : [make("p", {}, "Nobody has measured this pair of platform and card.")]),
    ...(missing.length ? nearby(asked.filter((row) => missing.some((title) => title.id === row.workload)), platform, card) : []));
}
function measuredHere(here, what) {
  const rigsHere = [...new Set(here.map((row) => row.rig))], stacksHere = [...new Set(here.map((row) => stacks.get(row.stack) || row.stack))];
  const of = (...kinds) => here.filter((row) => kinds.includes(row.kind)).length;
  const scale = scaleOf(here);
  const place = (row) => data.names.title.findIndex((one) => one.id === row.workload);
  const rows = [...here].sort((a, b) => place(a) - place(b));
  const said = `${counted(of("gain"), "gain")} and ${counted(of("loss"), "loss", "losses")} of more than ${data.delta} %, ${of("within")} within ±${data.delta} %, ${of("gain_open", "loss_open", "open")} not settled, ${of("none")} without a verdict`;
  return [
    make("p", {}, isolate(what), `: ${counted(here.length, "comparison")} on ${counted(rigsHere.length, "rig")} of this pair. ${said}.`),
    tableOf("my-rig", `My rig: ${rigName(rigsHere[0])}`, [
      { name: "Title", kind: "t", value: (row) => named("title", row.workload) },
      { name: "Resolution", kind: "n", value: (row) => row.resolution },
      { name: "Change", kind: "n", value: (row) => row.change_pct, show: mark },
      { name: "In words", kind: "w", value: inWords },
      { name: "95 % low", kind: "n", value: (row) => row.low_95_pct, show: (row) => pct(row.low_95_pct) },
      { name: "95 % high", kind: "n", value: (row) => row.high_95_pct, show: (row) => pct(row.high_95_pct) },
      { name: "Interval", kind: "p", picture: true, value: () => "", show: (row) => interval(row, scale) },
      { name: "Rests on", kind: "w", value: (row) => [`${row.from_runs} + ${row.to_runs} runs on ${row.rig}`, beside(row)].join("; ") }], rows),
    make("p", {}, "Measured on other people's examples of these models, with ", isolate(stacksHere.join("; or with ")), ". Yours may differ in all of that."),
  ];
}
/* Where a pair was not measured: what its neighbours say, and that they may not speak for it. */
function nearby(asked, platform, card) {
  const near = asked.filter((row) => (row.platform === platform) !== (row.card === card) && row.change_pct !== null);
  const range = (rows) => `${pct(Math.min(...rows.map((row) => row.change_pct)))} to ${pct(Math.max(...rows.map((row) => row.change_pct)))}`;
  const line = (title) => {
    const own = near.filter((row) => row.workload === title.id);
    const parts = [["with this card on other platforms", own.filter((row) => row.card === card)], ["on this platform with other cards", own.filter((row) => row.platform === platform)]];
    const said = parts.filter(([, rows]) => rows.length).map(([where, rows]) => `${where} ${range(rows)} (${counted(rows.length, "comparison")})`);
    const depends = tables.effects.some((row) => row.workload === title.id && row.depends && row.metric === own[0].metric && row.contrast === own[0].contrast);
    return make("li", {}, isolate(title.name), `: ${said.join("; ")}.${depends ? " Here the change depends on the hardware, so they may not speak for yours." : ""}`);
  };
  const titles = data.names.title.filter((title) => near.some((row) => row.workload === title.id));
  return titles.length ? [make("p", {}, "What its neighbours show, which share the card or the platform:"), make("ul", {}, ...titles.map(line))] : [];
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
    make("p", {}, `95 % interval ${pct(row.low_95_pct)} to ${pct(row.high_95_pct)}; ${beside(row)}; metric: ${named("metric", row.metric)}.`), ...cells,
    make("section", {}, make("h3", {}, "To quote it"), make("p", { id: "quote" }, isolate(quoteOf(row))),
      make("p", { class: "tools" }, make("button", { type: "button", click: (event) => copyText(event.target, quoteOf(row)) }, "Copy"))));
  if (!dialog.open) dialog.showModal();
}
function quoteOf(row) {
  return `${named("title", row.workload)}, ${row.resolution}, ${rigName(row.rig)} (${row.rig}): ${named("contrast", row.contrast)}, ${named("metric", row.metric)} ${pct(row.change_pct)}`
    + ` (95 % interval ${pct(row.low_95_pct)} to ${pct(row.high_95_pct)}), ${row.says}. ${document.getElementById("cite-text").textContent}`;
}
function madeCell(row, level) {
  const same = (one) => ["rig", "stack", "workload", "title_build", "resolution"].every((field) => one[field] === row[field]) && one.level === level;
  const cell = tables.cells.find((one) => same(one) && one.metric === row.metric) || {};
  const runs = tables.runs.filter(same);
  const latest = data.latest_runs && runs.length >= data.latest_runs ? make("p", {}, `The latest ${data.latest_runs} of them; derived/runs_wide.csv has all.`) : null;
  return make("section", {}, make("h3", {}, isolate(named("level", level))),
    make("p", {}, `${plain(cell.geometric_mean)}, 95 % interval ${plain(cell.low_95)} to ${plain(cell.high_95)}, from ${counted(cell.runs ?? 0, "run")}, on `, isolate(stacks.get(row.stack) || row.stack), "."),
    make("details", {}, make("summary", {}, counted(runs.length, "run")), latest, tableOf("runs", `Runs at ${level}`, [
      { name: "Run", value: (run) => `${run.session}.${run.run}` }, { name: "Role", value: (run) => run.role },
      { name: "Pass", kind: "n", value: (run) => run.pass }, { name: "Day", kind: "n", value: (run) => run.started_on },
      { name: "Value", kind: "n", value: (run) => run[`m:${row.metric}`] ?? null, show: (run) => plain(run[`m:${row.metric}`]) }], runs)));
}

