/* Opening a number leaves the page as it is, so that the focus finds its way back. */
let drawn = "";
function draw() {
  const state = readLink();
  const rest = JSON.stringify({ ...state, made: "" });
  if (rest !== drawn) drawAll(state);
  drawn = rest;
  drawMade(state);
}
function drawAll(state) {
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
}
/* A heading that a link leads to stays clear of the filters, which stay in sight. */
function keepClear() {
  const filters = document.getElementById("filters");
  const high = getComputedStyle(filters).position === "sticky" ? filters.offsetHeight : 0;
  document.documentElement.style.scrollPaddingTop = `${high + 8}px`;
}
function start() {
  buildFilters();
  view.hidden = false;
  for (const link of document.querySelectorAll("nav a, .top, .inner")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      const head = document.getElementById(link.getAttribute("href").slice(1));
      head.tabIndex = -1;
      head.focus({ preventScroll: true });
      head.scrollIntoView();
    });
  }
  dialog.addEventListener("close", () => writeLink({ made: "" }));
  document.getElementById("made-close").addEventListener("click", () => dialog.close());
  const cite = document.getElementById("cite-copy");
  cite.addEventListener("click", () => copyText(cite, document.getElementById("cite-text").textContent));
  new ResizeObserver(keepClear).observe(document.getElementById("filters"));
  document.getElementById("absolute").addEventListener("toggle", () => drawCells(readLink()));
  for (const table of document.querySelectorAll("table[data-name]")) enhance(table);
  window.addEventListener("hashchange", draw);
  window.addEventListener("beforeprint", () => [...figures.keys()].forEach(drawFigure));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { drawn = ""; draw(); });
  draw();
}
start();
