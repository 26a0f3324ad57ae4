function draw() {
  const state = readLink();
  showFilters(state);
  document.getElementById("unknown").textContent = state.unknown.length ? `This link asks for what the release doesn't hold: ${state.unknown.join(", ")}.` : "";
  const rows = tables.comparisons.filter((row) => fits(row, state));
  drawGrids(state, rows);
  drawIntervals(rows);
  drawOverall(state);
  drawComparisons(rows);
  drawSpread(state);
  drawCells(state);
  drawShift(state);
  drawAgreement(state);
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
  for (const table of document.querySelectorAll("table[data-name]")) enhance(table);
  window.addEventListener("hashchange", draw);
  window.addEventListener("beforeprint", () => [...figures.keys()].forEach(drawFigure));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  draw();
}
start();
