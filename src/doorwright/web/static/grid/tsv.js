// @ts-check
/** Cells as text that spreadsheet programs copy and paste: tabs between cells, a row a line, quotes where needed. */

/**
 * The rows of a pasted text. A cell in quotes may hold tabs, new lines and doubled quotes.
 * @param {string} text
 * @returns {string[][]}
 */
export function parse(text) {
  const source = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
  /** @type {string[][]} */
  const rows = [[]];
  let at = 0;
  while (at <= source.length) {
    const row = rows[rows.length - 1];
    const quoted = source[at] === '"' ? quotedAt(source, at) : null;
    let cell;
    if (quoted) {
      cell = quoted.text;
      at = quoted.end;
    } else {
      const end = source.slice(at).search(/[\t\n]/);
      cell = end < 0 ? source.slice(at) : source.slice(at, at + end);
      at += cell.length;
    }
    row.push(cell);
    if (at >= source.length) break;
    if (source[at] === "\n") rows.push([]);
    at += 1;
    if (at === source.length) {
      rows[rows.length - 1].push("");
      break;
    }
  }
  return rows;
}

/**
 * The cell whose opening quote stands at a place, or null where the quotes are not a cell's own.
 * @param {string} source
 * @param {number} at
 */
function quotedAt(source, at) {
  const found = /"((?:[^"]|"")*)"(?=[\t\n]|$)/y;
  found.lastIndex = at;
  const match = found.exec(source);
  return match && { text: match[1].replace(/""/g, '"'), end: at + match[0].length };
}

/**
 * The text of rows.
 * @param {string[][]} rows
 */
export function format(rows) {
  return rows.map((row) => row.map(quoted).join("\t")).join("\n");
}

/** @param {string} cell */
function quoted(cell) {
  return /[\t\n\r]|^"/.test(cell) ? `"${cell.replace(/"/g, '""')}"` : cell;
}
