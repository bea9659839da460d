// @ts-check
/** The list of cells that are not saved as they are: mistakes with what to do, conflicts with both texts. */

import { made } from "./drawing.js";

const MOST = 100;

/**
 * @param {HTMLElement} panel
 * @param {import("./rows.js").Rows} rows
 * @param {{go: (row: import("./rows.js").Row, column: number) => void, again: () => void}} does
 */
export function show(panel, rows, does) {
  const troubles = rows.troubles();
  panel.hidden = !troubles.length;
  const collided = troubles.filter(({ own }) => own.state === "conflict");
  const title = made("h2", {}, `Not saved: ${troubles.length} ${troubles.length === 1 ? "cell" : "cells"}`);
  const list = made("ol", { class: "grid-troubles" });
  for (const { row, column, own } of troubles.slice(0, MOST)) {
    const where = `${row.isNew ? "New row" : `Row ${row.number}`}, ${rows.columns[column].heading}`;
    const line = made("li", { class: own.state });
    const go = button(where, () => does.go(row, column));
    go.classList.add("plain");
    line.append(go, made("span", {}, own.state === "conflict" ? own.said : `${own.to ? `"${own.to}": ` : ""}${own.said}`));
    if (own.state === "conflict") {
      line.append(
        button("Take theirs", () => rows.giveUp(row, column)),
        button("Put mine again", () => again([{ row, column, own }])),
      );
    } else line.append(button("Take back", () => rows.giveUp(row, column)));
    list.append(line);
  }
  const bar = made("div", { class: "bar" });
  if (collided.length > 1) {
    bar.append(
      button("Take theirs everywhere", () => collided.forEach(({ row, column }) => rows.giveUp(row, column))),
      button("Put mine again everywhere", () => again(collided)),
    );
  }
  const wrong = troubles.filter(({ own }) => own.state === "wrong");
  if (wrong.length) bar.append(button("Try again", () => again(wrong)));
  if (wrong.length > 1) bar.append(button("Take all back", () => wrong.forEach(({ row, column }) => rows.giveUp(row, column))));
  panel.replaceChildren(title, list);
  if (troubles.length > MOST) panel.append(made("p", { class: "quiet" }, `And ${troubles.length - MOST} more.`));
  panel.append(bar);

  /** @param {{row: import("./rows.js").Row, column: number, own: import("./rows.js").Own}[]} those */
  function again(those) {
    for (const { row, column, own } of those) {
      row.said = "";
      if (!own.to && row.isNew) row.own.delete(column);
      else Object.assign(own, { was: row.base[column] ?? "", state: "waiting", said: "" });
    }
    rows.changed();
    does.again();
  }
}

/**
 * @param {string} text
 * @param {() => void} press
 */
function button(text, press) {
  const element = made("button", { type: "button" }, text);
  element.addEventListener("click", press);
  return element;
}
