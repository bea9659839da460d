// @ts-check
/** Cells to and from the clipboard, as spreadsheet programs write them. */

import { format, parse } from "./tsv.js";

/**
 * @typedef {import("./rows.js").Rows} Rows
 * @typedef {import("./range.js").Range} Range
 * @typedef {import("./rows.js").Put} Put
 */

/**
 * The chosen cells as text.
 * @param {Rows} rows
 * @param {Range} range
 * @param {boolean} headed
 */
export function copied(rows, range, headed) {
  const { top, bottom, left, right } = range.box;
  const columns = rows.columnsShown.slice(left, right + 1);
  const lines = rows.shown
    .slice(top, bottom + 1)
    .filter((row) => row !== rows.blank || top === bottom)
    .map((row) => columns.map((column) => row.text(column)));
  return format(headed ? [columns.map((column) => rows.columns[column].heading), ...lines] : lines);
}

/**
 * Put a pasted text at the chosen cells: one cell fills them all, more are laid from the first on, again and again
 * where they fit several times. Rows are begun where the table ends.
 * @param {Rows} rows
 * @param {Range} range
 * @param {string} text
 * @returns {string[]} what is to be told
 */
export function paste(rows, range, text) {
  let lines = parse(text);
  const { top, bottom, left, right } = range.box;
  const shown = rows.columnsShown;
  const said = [];
  const isHeadings = (/** @type {string[]} */ line) =>
    line.length > 1 && line.every((cell, at) => rows.columns[shown[left + at]]?.heading === cell);
  if (lines.length > 1 && isHeadings(lines[0])) {
    lines = lines.slice(1);
    said.push("The line of headings was left out.");
  }
  const tall = lines.length;
  const wide = Math.max(...lines.map((line) => line.length));
  const high = (bottom - top + 1) % tall === 0 ? bottom - top + 1 : tall;
  const broad = (right - left + 1) % wide === 0 ? right - left + 1 : wide;
  const into = rows.run(top, high);
  /** @type {Put[]} */
  const puts = [];
  let beyond = Math.max(0, high - into.length) * wide;
  into.forEach((row, down) => {
    const line = lines[down % tall];
    for (let along = 0; along < broad; along += 1) {
      const to = line[along % wide];
      const column = shown[left + along];
      if (to === undefined) continue;
      if (column === undefined) beyond += 1;
      else puts.push({ row, column, to: to.trim() });
    }
  });
  const fixed = rows.put(puts);
  range.span({ row: top, column: left }, { row: top + into.length - 1, column: Math.min(left + broad, shown.length) - 1 });
  if (beyond) said.push(`${beyond} pasted ${beyond === 1 ? "cell lies" : "cells lie"} beyond the table and were left out.`);
  if (fixed) said.push(`${fixed} ${fixed === 1 ? "cell cannot" : "cells cannot"} be altered here.`);
  return said;
}
