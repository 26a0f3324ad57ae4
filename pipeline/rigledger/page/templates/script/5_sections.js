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
    { name: "Title", kind: "t", value: (row) => named("title", row.workload) },
    { name: "Resolution", kind: "n", value: (row) => row.resolution },
    { name: "Rig", kind: "t", value: (row) => row.rig, show: (row) => make("span", {}, isolate(rigName(row.rig)), make("small", {}, isolate(row.rig))) },
    { name: "Change", kind: "n", value: (row) => row.change_pct, show: mark },
    { name: "95 % low", kind: "n", value: (row) => row.low_95_pct, show: (row) => pct(row.low_95_pct) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95_pct, show: (row) => pct(row.high_95_pct) },
    { name: "Interval", kind: "p", picture: true, value: () => "", show: (row) => interval(row, scale) },
    { name: "What it says", kind: "t", value: (row) => row.says },
    { name: "From", kind: "n", value: (row) => row.from_value, show: (row) => plain(row.from_value) },
    { name: "To", kind: "n", value: (row) => row.to_value, show: (row) => plain(row.to_value) },
    { name: "Runs", kind: "n", value: (row) => row.from_runs + row.to_runs },
    { name: "Spread", kind: "n", value: (row) => row.moderated_spread_pct, show: (row) => share(row, "moderated_spread_pct") },
    { name: "Beside it", kind: "w", value: beside },
  ];
  const caption = `${counted(rows.length, "comparison")}; intervals are drawn from −${scale.toFixed(0)} % to +${scale.toFixed(0)} %, the band is ±${data.delta} %`;
  document.getElementById("table-comparisons").replaceChildren(tableOf("comparisons", caption, columns, rows));
}
function beside(row) {
  return [row.one_session ? "one session" : `${row.sessions} sessions`, row.stale ? "the rig's newest stack is another" : "",
    row.current ? "" : "older", row.confounded_by ? `also differs: ${row.confounded_by}` : ""].filter(Boolean).join("; ");
}
function drawSpread(state) {
  const rows = tables.repeatability.filter((row) => fits(row, state, ["metric", "title", "platform", "card"]));
  document.getElementById("table-spread").replaceChildren(tableOf("spread", `Spread of ${counted(rows.length, "pair")} of rig and title`, [
    { name: "Title", kind: "t", value: (row) => named("title", row.workload) }, { name: "Rig", kind: "t", value: (row) => row.rig },
    { name: "Run to run", kind: "n", value: (row) => row.run_spread_pct, show: (row) => share(row, "run_spread_pct") },
    { name: "Session to session", kind: "n", value: (row) => row.session_spread_pct, show: (row) => share(row, "session_spread_pct") },
    { name: "Runs", kind: "n", value: (row) => row.runs }, { name: "Sessions", kind: "n", value: (row) => row.sessions }], rows));
}
function drawCells(state) {
  const box = document.getElementById("absolute");
  if (!box.open) return;
  const rows = tables.cells.filter((row) => fits(row, state));
  document.getElementById("table-cells").replaceChildren(tableOf("cells", `${rows.length} cells, planned ones without runs too`, [
    { name: "Title", kind: "t", value: (row) => named("title", row.workload) }, { name: "Resolution", value: (row) => row.resolution, kind: "n" },
    { name: "Rig", kind: "t", value: (row) => row.rig }, { name: "Level", value: (row) => named("level", row.level) },
    { name: "Geometric mean", kind: "n", value: (row) => row.geometric_mean, show: (row) => plain(row.geometric_mean) },
    { name: "95 % low", kind: "n", value: (row) => row.low_95, show: (row) => plain(row.low_95) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95, show: (row) => plain(row.high_95) },
    { name: "Runs", kind: "n", value: (row) => row.runs }, { name: "Stack", kind: "w", value: (row) => stacks.get(row.stack) || row.stack }], rows));
}

/* Means over titles, what a new stack moved, and how contributors agree. */
const share = (row, name) => pct(row[name]).replace("+", "");
function section(name, rows) {
  document.getElementById(`section-${name}`).hidden = tables[name].length === 0;
  return rows;
}
function drawOverall(state) {
  const rows = section("overall", tables.overall.filter((row) => fits(row, state, ["metric", "contrast", "resolution", "platform", "card"])));
  const scale = scaleOf(rows.map((row) => ({ low_95_pct: row.these_low_95_pct, high_95_pct: row.these_high_95_pct })));
  const drawn = (row) => interval({ ...row, kind: "within", low_95_pct: row.these_low_95_pct, high_95_pct: row.these_high_95_pct }, scale);
  document.getElementById("table-overall").replaceChildren(tableOf("overall", `${counted(rows.length, "mean change")} over titles; intervals are drawn from −${scale.toFixed(0)} % to +${scale.toFixed(0)} %`, [
    { name: "Rig", kind: "t", value: (row) => row.rig, show: (row) => make("span", {}, isolate(rigName(row.rig)), make("small", {}, isolate(row.rig))) },
    { name: "Resolution", kind: "n", value: (row) => row.resolution }, { name: "Titles", value: (row) => `${row.title_set}: ${row.titles}${row.titles_missing ? `, ${row.titles_missing} missing` : ""}` },
    { name: "Change", kind: "n", value: (row) => row.change_pct, show: (row) => pct(row.change_pct) },
    { name: "95 % low", kind: "n", value: (row) => row.these_low_95_pct, show: (row) => pct(row.these_low_95_pct) },
    { name: "95 % high", kind: "n", value: (row) => row.these_high_95_pct, show: (row) => pct(row.these_high_95_pct) },
    { name: "Interval", kind: "p", picture: true, value: () => "", show: drawn }], rows));
}
function drawShift(state) {
  const rows = section("stack_shift", tables.stack_shift.filter((row) => fits(row, state, ["metric", "title", "resolution", "platform", "card"])));
  rows.sort((a, b) => Number(b.moved === true) - Number(a.moved === true));
  const scale = scaleOf(rows);
  const moved = rows.filter((row) => row.moved).length;
  const what = (row) => row.level !== "effect" ? `frame rate at ${named("level", row.level)}` : `effect of ${named("contrast", row.contrast)}`;
  document.getElementById("table-shift").replaceChildren(tableOf("shift", `${counted(moved, "row")} of ${rows.length} moved; intervals are drawn from −${scale.toFixed(0)} % to +${scale.toFixed(0)} %`, [
    { name: "Title", kind: "t", value: (row) => named("title", row.workload) }, { name: "Resolution", kind: "n", value: (row) => row.resolution },
    { name: "Rig", kind: "t", value: (row) => row.rig }, { name: "Of what", value: what }, { name: "What changed", value: (row) => row.changed },
    { name: "Shift", kind: "n", value: (row) => row.shift_pct, show: (row) => pct(row.shift_pct) },
    { name: "95 % low", kind: "n", value: (row) => row.low_95_pct, show: (row) => pct(row.low_95_pct) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95_pct, show: (row) => pct(row.high_95_pct) },
    { name: "Interval", kind: "p", picture: true, value: () => "", show: (row) => interval({ ...row, change_pct: row.shift_pct }, scale) },
    { name: "Moved", value: (row) => row.moved === true ? "moved" : row.moved === false ? "not shown" : "no verdict" }], rows));
}
function drawAgreement(state) {
  const rows = section("agreement", tables.agreement.filter((row) => fits(row, state, ["metric", "contrast", "title", "resolution", "platform", "card"])));
  document.getElementById("table-agreement").replaceChildren(tableOf("agreement", `${counted(rows.length, "row")}: how contributors' changes compare`, [
    { name: "Title", kind: "t", value: (row) => named("title", row.workload) }, { name: "Resolution", kind: "n", value: (row) => row.resolution },
    { name: "Rig", kind: "t", value: (row) => row.rig }, { name: "Held against", value: (row) => row.against }, { name: "How", value: (row) => String(row.method).replaceAll("_", " ") },
    { name: "Change", kind: "n", value: (row) => row.change_pct, show: (row) => pct(row.change_pct) },
    { name: "Difference", kind: "n", value: (row) => row.difference_pct, show: (row) => pct(row.difference_pct) },
    { name: "95 % low", kind: "n", value: (row) => row.low_95_pct, show: (row) => pct(row.low_95_pct) },
    { name: "95 % high", kind: "n", value: (row) => row.high_95_pct, show: (row) => pct(row.high_95_pct) },
    { name: "Stands out", value: (row) => row.flagged === true ? "yes" : row.flagged === false ? "no" : "–" }], rows));
}
