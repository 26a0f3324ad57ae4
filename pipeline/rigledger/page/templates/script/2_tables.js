/* Tables that sort, copy and download. */
function csvCell(value) {
  const text = String(value ?? "");
  const safe = typeof value === "string" && /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\n\r]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
function asCsv(all, rows) {
  const columns = all.filter((column) => !column.picture);
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
    if (column.picture) return make("th", { scope: "col", class: column.kind }, column.name);
    const sort = order.column !== place ? "none" : order.down ? "descending" : "ascending";
    const turn = () => { order.down = order.column === place && !order.down; order.column = place; draw(); };
    return make("th", { scope: "col", class: column.kind || null, "aria-sort": sort },
      make("button", { type: "button", click: turn }, column.name, sort === "none" ? "" : order.down ? " ↓" : " ↑"));
  })));
}
function scroller(caption, head, rows, columns, order) {
  const shown = order.all ? rows : rows.slice(0, FIRST_ROWS);
  const body = make("tbody", {}, ...shown.map((row) => make("tr", {}, ...columns.map((column) =>
    make("td", { class: column.kind || null, "data-label": column.name }, column.show ? column.show(row) : isolate(column.value(row)))))));
  return make("div", {}, make("p", { class: "caption" }, caption),
    make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption }, make("table", { "aria-label": caption }, head, body)));
}
/* Tables that stand in the page as text sort, copy and download too. */
function enhance(table) {
  const heads = [...table.tHead.rows[0].cells];
  const rows = [...table.tBodies[0].rows];
  const text = (cell) => cell.dataset.value ?? cell.textContent;
  const columns = heads.map((head, place) => ({ name: head.textContent, value: (row) => {
    const held = text(row.cells[place]);
    return head.classList.contains("n") && held !== "" && !Number.isNaN(Number(held)) ? Number(held) : held;
  } }));
  const order = { column: -1, down: false };
  heads.forEach((head, place) => {
    const label = head.textContent;
    const turn = () => {
      order.down = order.column === place && !order.down;
      order.column = place;
      rows.sort((a, b) => (order.down ? -1 : 1) * compare(columns[place].value(a), columns[place].value(b)));
      table.tBodies[0].append(...rows);
      heads.forEach((one, at) => one.setAttribute("aria-sort", at !== place ? "none" : order.down ? "descending" : "ascending"));
    };
    head.replaceChildren(make("button", { type: "button", click: turn }, label));
    head.setAttribute("aria-sort", "none");
  });
  table.closest(".scroll").before(tools(table.dataset.name, columns, rows));
}
