// @ts-check
/** A table's page: fetches the rows, and joins what shows, edits and saves them. */

import { copied, paste } from "./clipboard.js";
import { Drawing, made } from "./drawing.js";
import { Editor } from "./editor.js";
import { listen } from "./keys.js";
import { point } from "./pointing.js";
import { show } from "./problems.js";
import { Range } from "./range.js";
import { Rows } from "./rows.js";
import { Saving, fetched } from "./saving.js";
import { continued } from "./series.js";

/** @typedef {import("./rows.js").Put} Put */

/**
 * @template {HTMLElement} T
 * @param {string} id
 * @returns {T}
 */
const at = (id) => /** @type {T} */ (document.getElementById(id));
const frame = at("frame");
const grid = at("grid");
const wanted = /** @type {HTMLInputElement} */ (at("wanted"));
const address = /** @type {string} */ (frame.dataset.address);
const hiddenKey = `hidden columns of ${address.split("/").pop()}`;

const value = await (await fetch(`${address}.json`)).json();
const rows = new Rows(value.columns, value.rows, { revision: value.revision, mayEdit: value.may_edit, adds: value.adds });
const range = new Range(() => ({ rows: rows.shown.length, columns: rows.columnsShown.length }));
const drawing = new Drawing(frame, grid, rows, range);
const saving = new Saving(address, rows);
const editor = new Editor(drawing, lookUp, typed);
let extending = false;
/**
 * The row of the active cell, wherever it comes to stand.
 * @type {import("./rows.js").Row | undefined}
 */
let activeRow;
/**
 * The cell being typed.
 * @type {{row: import("./rows.js").Row, column: number}}
 */
let typing;

/**
 * @param {string} field
 * @param {string} text
 * @returns {Promise<string[]>}
 */
async function lookUp(field, text) {
  const asked = new URLSearchParams({ field, for: text });
  return (await fetched(`${address}/choices.json?${asked}`)) ?? [];
}

// editing

/** @param {string} [text] what was typed over the cell */
function edit(text) {
  const place = range.within(range.active);
  const row = rows.shown[place.row];
  const column = rows.columnsShown[place.column];
  if (!row || column === undefined) return;
  if (rows.isFixed(row, column)) return tell(["This cell cannot be altered here."]);
  drawing.reveal(place);
  range.go(place);
  const name = row.isNew ? "New row" : `Row ${row.number}`;
  typing = { row, column };
  editor.open(place, text ?? row.text(column), `${name}, ${rows.columns[column].heading}`, text !== undefined);
}

/**
 * @param {string} text
 * @param {import("./editor.js").After} after
 */
function typed(text, after) {
  const place = range.within(range.active);
  if (typing.row.isNew) saving.held = typing.row; // it goes when somebody leaves it
  put([{ ...typing, to: text.trim() }]);
  if (after === "right" || after === "left") range.tab(after === "right" ? 1 : -1);
  else if (after !== "stay") range.go({ row: place.row + (after === "up" ? -1 : 1), column: range.began });
  if (after !== "stay") grid.focus({ preventScroll: true });
  drawing.reveal(range.within(range.active));
  chosen();
}

/** @param {Put[]} puts */
function put(puts) {
  const fixed = rows.put(puts);
  if (fixed) tell([`${fixed} ${fixed === 1 ? "cell cannot" : "cells cannot"} be altered here.`]);
  saving.soon();
}

/**
 * The chosen cells.
 * @returns {{row: import("./rows.js").Row, column: number}[]}
 */
function cells() {
  const { top, bottom, left, right } = range.box;
  const columns = rows.columnsShown.slice(left, right + 1);
  return rows.shown.slice(top, bottom + 1).flatMap((row) => columns.map((column) => ({ row, column })));
}

function clear() {
  put(cells().filter(({ row }) => row !== rows.blank).map(({ row, column }) => ({ row, column, to: "" })));
}

function fillDown() {
  const { top, bottom, left, right } = range.box;
  const first = top === bottom ? top - 1 : top;
  const source = rows.shown[first];
  if (!source) return;
  const below = rows.run(first + 1, Math.max(1, bottom - first));
  put(below.flatMap((row) => rows.columnsShown.slice(left, right + 1).map((column) => ({ row, column, to: source.text(column) }))));
}

/**
 * Draw the chosen cells on, down or up to a row.
 * @param {import("./range.js").Place} to
 */
function drawOn(to) {
  const { top, bottom, left, right } = range.box;
  const isUp = to.row < top;
  const count = isUp ? top - to.row : to.row - bottom;
  if (count <= 0) return;
  const from = rows.shown.slice(top, bottom + 1);
  const into = isUp ? rows.shown.slice(to.row, top).reverse() : rows.run(bottom + 1, count);
  /** @type {Put[]} */
  const puts = [];
  for (const column of rows.columnsShown.slice(left, right + 1)) {
    const given = from.map((row) => row.text(column));
    const texts = continued(isUp ? given.reverse() : given, into.length);
    into.forEach((row, down) => puts.push({ row, column, to: texts[down] }));
  }
  put(puts);
  range.span({ row: isUp ? to.row : top, column: left }, { row: isUp ? bottom : to.row, column: right });
  chosen();
}

/** @param {number} column */
function sort(column) {
  const now = rows.sorted;
  if (now?.column !== column) rows.sorted = { column, down: false };
  else rows.sorted = now.down ? null : { column, down: true };
  rearrange();
  tell([rows.sorted ? `Sorted by ${rows.columns[column].heading}, ${rows.sorted.down ? "downwards" : "upwards"}.` : "In the order of the book."]);
}

/** Show the rows anew, and stay at the same one. */
function rearrange() {
  rows.arrange();
  range.go(range.active);
  drawing.headings();
  drawing.reveal(range.within(range.active));
  chosen();
}

function showAll() {
  rows.filters.fill("");
  rows.wanted = wanted.value = "";
  rows.arrange();
  drawing.headings();
}

// what is said

/** @param {string[]} lines */
function tell(lines) {
  const log = at("told");
  log.replaceChildren(...lines.slice(0, 6).map((line) => made("p", {}, line)));
  if (lines.length > 6) log.append(made("p", { class: "quiet" }, `And ${lines.length - 6} more.`));
}

function chosen() {
  activeRow = rows.shown[range.active.row];
  if (saving.held && saving.held !== rows.shown[range.active.row]) {
    saving.held = null;
    saving.soon();
  }
  drawing.soon();
  requestAnimationFrame(tally);
}

function tally() {
  const place = range.within(range.active);
  const row = rows.shown[place.row];
  const column = rows.columnsShown[place.column];
  if (!row || column === undefined) return;
  const { top, bottom, left, right } = range.box;
  const count = (bottom - top + 1) * (right - left + 1);
  const parts = [count === 1 ? "1 cell" : `${count} cells in ${bottom - top + 1} ${bottom === top ? "row" : "rows"}`];
  if (count > 1) {
    const numbers = cells().map((one) => one.row.text(one.column)).filter((text) => text && Number.isFinite(Number(text)));
    if (numbers.length) parts.push(`sum ${Number(numbers.reduce((sum, text) => sum + Number(text), 0).toFixed(6))}`);
  }
  const of = rows.all.length;
  const shownCount = rows.shown.length - (rows.adds ? 1 : 0);
  parts.push(shownCount === of ? `${of} ${of === 1 ? "row" : "rows"}` : `${shownCount} of ${of} rows`);
  at("tally-of-cells").textContent = parts.join(" · ");
  const marks = (drawing.marks.get(row.id) ?? []).filter(([, , field]) => !field || field === rows.columns[column].field);
  const about = [row.own.get(column)?.said, row.said, ...marks.map(([severity, what]) => `${severity}: ${what}`)].filter(Boolean);
  at("about").textContent = about.join("  ");
}

function state() {
  const { waiting, wrong } = saving.counts;
  const parts = [];
  if (saving.away) parts.push("The server does not answer; trying again");
  else if (saving.busy) parts.push("Saving …");
  else if (waiting) parts.push(`${waiting} to save`);
  else if (!wrong) parts.push(rows.mayEdit ? "All saved" : "For reading");
  if (wrong) parts.push(`${wrong} not saved`);
  const shown = at("state");
  if (shown.textContent !== parts.join(", ")) shown.textContent = parts.join(", ");
  shown.dataset.state = wrong ? "wrong" : waiting || saving.busy ? "waiting" : "saved";
}

/** Stay at the same row where others came or went above it. */
function follow() {
  const now = rows.shown[range.active.row];
  const at = now === activeRow || !activeRow ? -1 : rows.shown.indexOf(activeRow);
  if (at >= 0) {
    const by = at - range.active.row;
    range.span({ ...range.active, row: at }, { ...range.other, row: range.other.row + by });
  } else activeRow = now;
  editor.lay(range.within(range.active));
}

rows.addEventListener("change", () => {
  follow();
  drawing.soon();
  show(at("problems"), rows, {
    go: (row, column) => {
      if (!rows.shown.includes(row)) showAll();
      range.go({ row: rows.shown.indexOf(row), column: rows.columnsShown.indexOf(column) });
      drawing.reveal(range.within(range.active));
      grid.focus();
      chosen();
    },
    again: () => saving.soon(),
  });
  state();
  requestAnimationFrame(tally);
});
saving.addEventListener("state", state);
saving.addEventListener("lines", (event) => tell(/** @type {CustomEvent} */ (event).detail));

// findings, and what others save

let marksAsked = 0;
async function mark() {
  const asked = (marksAsked += 1);
  const marks = await fetched(`${address}/marks.json`);
  if (asked !== marksAsked || marks?.revision == null) return; // news tell when they are there
  drawing.marks = new Map(Object.entries(marks.rows));
  drawing.soon();
  tally();
}
document.body.addEventListener("news:findings", mark);
document.body.addEventListener("news:revision", (event) => {
  saving.news(/** @type {CustomEvent} */ (event).detail.revision);
});

// hands on it

listen(drawing, range, { edit, clear, fillDown, undo: () => saving.undo(), redo: () => saving.redo() }, chosen);
point(drawing, range, { edit: () => edit(), sort, chosen, drawOn, isExtending: () => extending });

grid.addEventListener("copy", (event) => {
  if (event.target instanceof HTMLInputElement) return;
  event.clipboardData?.setData("text/plain", copied(rows, range, false));
  event.preventDefault();
});
grid.addEventListener("cut", (event) => {
  if (event.target instanceof HTMLInputElement) return;
  event.clipboardData?.setData("text/plain", copied(rows, range, false));
  clear();
  event.preventDefault();
});
grid.addEventListener("paste", (event) => {
  if (event.target instanceof HTMLInputElement) return;
  take(event.clipboardData?.getData("text/plain") ?? "");
  event.preventDefault();
});

/** @param {string} text */
function take(text) {
  if (!text || !rows.mayEdit) return;
  tell(paste(rows, range, text));
  saving.soon();
  chosen();
}

/** @param {boolean} headed */
async function copy(headed) {
  const text = copied(rows, range, headed);
  try {
    await navigator.clipboard.writeText(text);
    tell([headed ? "Copied with headings." : "Copied."]);
  } catch {
    openHandover(text, "Copy this text");
  }
}

async function pasteByButton() {
  try {
    take(await navigator.clipboard.readText());
  } catch {
    openHandover("", "Paste cells here");
  }
}

/** Where the browser does not let a page at the clipboard, a field takes its place. */
function openHandover(/** @type {string} */ text, /** @type {string} */ title) {
  const field = /** @type {HTMLTextAreaElement} */ (at("handover-text"));
  at("handover-title").textContent = title;
  at("handover-take").hidden = Boolean(text);
  field.value = text;
  /** @type {HTMLDialogElement} */ (at("handover")).showModal();
  field.select();
}
at("handover-take")?.addEventListener("click", () => take(/** @type {HTMLTextAreaElement} */ (at("handover-text")).value));

/** @type {Record<string, () => void>} */
const presses = {
  copy: () => copy(false),
  headed: () => copy(true),
  paste: pasteByButton,
  fill: fillDown,
  clear,
  undo: () => saving.undo(),
  redo: () => saving.redo(),
  edit: () => edit(),
  extend: () => {
    extending = !extending;
    document.querySelector('[data-press="extend"]')?.setAttribute("aria-pressed", String(extending));
  },
  add: () => {
    range.go({ row: rows.shown.length - 1, column: 0 });
    drawing.reveal(range.within(range.active));
    chosen();
    edit();
  },
  remove: () => {
    const { top, bottom } = range.box;
    rows.remove(rows.shown.slice(top, bottom + 1));
    saving.soon();
  },
  filters: () => {
    drawing.showsFilters = !drawing.showsFilters;
    document.querySelector('[data-press="filters"]')?.setAttribute("aria-pressed", String(drawing.showsFilters));
    if (!drawing.showsFilters) rows.filters.fill("");
    rearrange();
  },
};
for (const button of document.querySelectorAll("[data-press]")) {
  const name = /** @type {HTMLElement} */ (button).dataset.press ?? "";
  button.addEventListener("click", () => {
    presses[name]();
    if (!["edit", "add"].includes(name) && !editor.isOpen && name !== "paste" && name !== "copy") grid.focus({ preventScroll: true });
  });
}

wanted.addEventListener("input", () => {
  rows.wanted = wanted.value;
  rearrange();
});
grid.addEventListener("input", (event) => {
  const field = /** @type {HTMLInputElement} */ (event.target);
  if (field.dataset.filter === undefined) return;
  rows.filters[Number(field.dataset.filter)] = field.value;
  rows.arrange();
  range.go(range.active);
  drawing.redraw();
  chosen();
});

frame.addEventListener("focusout", (event) => {
  if (!saving.held || frame.contains(/** @type {Node | null} */ (event.relatedTarget))) return;
  saving.held = null;
  saving.soon();
});

const choice = at("columns");
const known = new Set(JSON.parse(localStorage.getItem(hiddenKey) ?? "[]"));
rows.columns.forEach((column, index) => {
  if (known.has(column.field)) rows.hidden.add(index);
  const label = made("label", { class: "tick" });
  const box = /** @type {HTMLInputElement} */ (made("input", { type: "checkbox" }));
  box.checked = !rows.hidden.has(index);
  box.addEventListener("change", () => {
    if (box.checked) rows.hidden.delete(index);
    else if (rows.hidden.size < rows.columns.length - 1) rows.hidden.add(index);
    else box.checked = true;
    localStorage.setItem(hiddenKey, JSON.stringify([...rows.hidden].map((one) => rows.columns[one].field)));
    rows.arrangeColumns();
    rearrange();
  });
  label.append(box, column.heading);
  choice.append(label);
});

addEventListener("beforeunload", (event) => {
  const { waiting, wrong } = saving.counts;
  if (!waiting && !wrong && !editor.isOpen) return;
  event.preventDefault();
  event.returnValue = "";
});

rows.arrangeColumns();
drawing.headings();
chosen();
frame.dataset.ready = "yes";
state();
tally();
mark();
