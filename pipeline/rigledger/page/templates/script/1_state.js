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
const counted = (number, one, more = `${one}s`) => `${number} ${number === 1 ? one : more}`;
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
  box.append(make("button", { type: "button", click: (event) => copyText(event.target, location.href) }, "Copy link"));
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

