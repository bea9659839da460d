// @ts-check
/** The table on the screen: headings, and of the rows only those in sight. Follows the grid pattern of WAI-ARIA. */

/**
 * @typedef {import("./rows.js").Rows} Rows
 * @typedef {import("./rows.js").Row} Row
 * @typedef {import("./range.js").Range} Range
 * @typedef {[string, string, string]} Mark
 */

const AROUND = 6;
const SAMPLE = 200;
const LETTER_PX = 8;
const NUMBER_PX = 76;

const WORST = ["error", "warning", "note", "missing"];

export class Drawing {
  /**
   * @param {HTMLElement} frame what scrolls
   * @param {HTMLElement} grid
   * @param {Rows} rows
   * @param {Range} range
   */
  constructor(frame, grid, rows, range) {
    this.frame = frame;
    this.grid = grid;
    this.rows = rows;
    this.range = range;
    /** @type {Map<string, Mark[]>} */
    this.marks = new Map();
    this.head = made("div", { role: "rowgroup", class: "grid-head" });
    this.body = made("div", { role: "rowgroup", class: "grid-body" });
    grid.replaceChildren(this.head, this.body);
    /** @type {Map<number, HTMLElement>} */
    this.drawn = new Map();
    this.pending = 0;
    this.showsFilters = false;
    /** @type {number[]} */
    this.widths = [];
    frame.addEventListener("scroll", () => this.soon(), { passive: true });
    new ResizeObserver(() => this.redraw()).observe(frame);
    this.headings();
  }

  get height() {
    return parseFloat(getComputedStyle(this.grid).getPropertyValue("--row-px")) || 32;
  }

  /** Draw at the next moment; several changes are drawn once. */
  soon() {
    this.pending ||= requestAnimationFrame(() => {
      this.pending = 0;
      this.draw();
    });
  }

  redraw() {
    this.drawn.forEach((line) => line.remove());
    this.drawn.clear();
    this.grid.removeAttribute("aria-activedescendant"); // until its cell is drawn again
    this.soon();
  }

  /** Measure the columns, and draw their headings and filters. */
  headings() {
    const { rows } = this;
    this.widths = rows.columns.map((column, at) => {
      const longest = rows.all.slice(0, SAMPLE).reduce((most, row) => Math.max(most, row.text(at).length), 0);
      const heading = (column.heading.length + 3) * LETTER_PX;
      return Math.round(Math.max(56, Math.min(longest * LETTER_PX + 24, 320), Math.min(heading + 18, 200)));
    });
    const shown = rows.columnsShown;
    const widths = [NUMBER_PX, ...shown.map((at) => this.widths[at])];
    this.grid.style.setProperty("--columns", widths.map((width) => `${width}px`).join(" "));
    this.grid.style.setProperty("--width", `${widths.reduce((sum, width) => sum + width, 0)}px`);
    this.grid.setAttribute("aria-colcount", String(shown.length + 1));
    const line = made("div", { role: "row", class: "grid-row", "aria-rowindex": "1" });
    line.append(made("div", { role: "columnheader", "aria-colindex": "1", class: "grid-corner" }, "Row"));
    shown.forEach((at, place) => line.append(this.heading(at, place)));
    this.head.replaceChildren(line);
    if (this.showsFilters) this.head.append(this.filters());
    this.redraw();
  }

  /**
   * @param {number} at
   * @param {number} place
   */
  heading(at, place) {
    const column = this.rows.columns[at];
    const { sorted } = this.rows;
    const way = sorted?.column === at ? (sorted.down ? "descending" : "ascending") : "none";
    const told = [column.note, column.wanted && `Wanted: ${column.wanted}.`].filter(Boolean).join(" ");
    const cell = made("div", { role: "columnheader", "aria-colindex": String(place + 2), "aria-sort": way, title: told });
    const button = made("button", { type: "button", class: "grid-sort", "data-column": String(at), tabindex: "-1" });
    button.append(made("span", { class: column.required ? "grid-needed" : "" }, column.heading));
    button.append(made("span", { "aria-hidden": "true" }, { ascending: " ▲", descending: " ▼", none: "" }[way]));
    cell.append(button);
    return cell;
  }

  filters() {
    const line = made("div", { role: "row", class: "grid-row grid-filters", "aria-rowindex": "2" });
    line.append(made("div", { role: "gridcell", "aria-colindex": "1" }));
    this.rows.columnsShown.forEach((at, place) => {
      const cell = made("div", { role: "gridcell", "aria-colindex": String(place + 2) });
      const label = `Filter ${this.rows.columns[at].heading}`;
      const field = made("input", { type: "text", "aria-label": label, "data-filter": String(at), autocomplete: "off" });
      /** @type {HTMLInputElement} */ (field).value = this.rows.filters[at];
      cell.append(field);
      line.append(cell);
    });
    return line;
  }

  /** Draw the rows in sight, and the active one wherever it is. */
  draw() {
    const { rows, frame, height } = this;
    const count = rows.shown.length;
    this.body.style.height = `${count * height}px`;
    this.grid.setAttribute("aria-rowcount", String(count + this.headCount));
    const top = Math.max(0, Math.floor(frame.scrollTop / height) - AROUND);
    const bottom = Math.min(count, Math.ceil((frame.scrollTop + frame.clientHeight) / height) + AROUND);
    const active = this.range.within(this.range.active).row;
    for (const [at, line] of this.drawn) {
      if ((at < top || at >= bottom) && at !== active) {
        line.remove();
        this.drawn.delete(at);
      }
    }
    for (let at = top; at < bottom; at += 1) this.line(at);
    if (active < count) this.line(active);
    this.grid.setAttribute("aria-activedescendant", this.idOf(active, this.range.within(this.range.active).column));
  }

  get headCount() {
    return this.showsFilters ? 2 : 1;
  }

  /**
   * @param {number} row
   * @param {number} column
   */
  idOf(row, column) {
    return `cell-${row}-${column}`;
  }

  /** @param {number} at */
  line(at) {
    const row = this.rows.shown[at];
    let line = this.drawn.get(at);
    if (!line) {
      line = made("div", { role: "row", class: "grid-row", "aria-rowindex": String(at + 1 + this.headCount) });
      line.style.transform = `translateY(${at * this.height}px)`;
      line.dataset.row = String(at);
      line.append(made("div", { role: "rowheader", "aria-colindex": "1", class: "grid-number" }));
      this.rows.columnsShown.forEach((_, place) => {
        const id = this.idOf(at, place);
        const cell = made("div", { role: "gridcell", id, "aria-colindex": String(place + 2) });
        cell.dataset.place = String(place);
        line?.append(cell);
      });
      this.body.append(line);
      this.drawn.set(at, line);
    }
    this.fill(line, row, at);
  }

  /**
   * @param {HTMLElement} line
   * @param {Row} row
   * @param {number} at
   */
  fill(line, row, at) {
    const { rows, range } = this;
    const box = range.box;
    const marks = this.marks.get(row.id) ?? [];
    const [header, ...cells] = /** @type {HTMLElement[]} */ ([...line.children]);
    this.number(header, row, marks);
    line.classList.toggle("going", row.isGoing);
    line.classList.toggle("new", row.isNew);
    const inRows = at >= box.top && at <= box.bottom;
    header.classList.toggle("chosen", inRows);
    cells.forEach((cell, place) => {
      const column = rows.columnsShown[place];
      const own = row.own.get(column);
      const chosen = inRows && place >= box.left && place <= box.right;
      const text = row.text(column);
      if (cell.textContent !== text) cell.textContent = text;
      const missing = marks.some(([severity, , field]) => severity === "missing" && field === rows.columns[column].field);
      const classes = [
        chosen && "chosen",
        at === range.active.row && place === range.active.column && "active",
        chosen && at === box.bottom && place === box.right && "last",
        own && own.state,
        missing && !text && "missing",
        rows.isFixed(row, column) && "fixed",
        rows.columns[column].number && "number",
      ];
      cell.className = classes.filter(Boolean).join(" ");
      cell.setAttribute("aria-selected", String(chosen));
      if (own?.state === "wrong") cell.setAttribute("aria-invalid", "true");
      else cell.removeAttribute("aria-invalid");
      if (rows.isFixed(row, column)) cell.setAttribute("aria-readonly", "true");
      else cell.removeAttribute("aria-readonly");
      cell.title = own?.said || (text.length * LETTER_PX > this.widths[column] ? text : "");
    });
  }

  /**
   * @param {HTMLElement} header
   * @param {Row} row
   * @param {Mark[]} marks
   */
  number(header, row, marks) {
    const name = row.isNew ? (row === this.rows.blank ? "new" : "new, not saved") : String(row.number);
    const worst = row.said ? "error" : WORST.find((severity) => marks.some(([found]) => found === severity));
    const sign = { error: "!!", warning: "!", note: "i", missing: "?" }[worst ?? ""] ?? "";
    const told = [row.said, ...marks.map(([, what]) => what)].filter(Boolean).join("\n");
    if (header.dataset.said !== `${name} ${sign}`) {
      header.dataset.said = `${name} ${sign}`;
      header.textContent = name;
      if (sign && worst) {
        header.append(made("span", { class: `grid-mark ${worst}`, "aria-hidden": "true" }, sign));
        header.append(made("span", { class: "unseen" }, ` ${worst === "missing" ? "facts missing" : worst}`));
      }
    }
    header.title = told;
  }

  /** Bring a cell into sight. */
  reveal(/** @type {import("./range.js").Place} */ place) {
    const { frame, height } = this;
    const headPx = this.head.offsetHeight;
    const top = place.row * height;
    if (top < frame.scrollTop) frame.scrollTop = top;
    else if (top + height > frame.scrollTop + frame.clientHeight - headPx) {
      frame.scrollTop = top + height - frame.clientHeight + headPx;
    }
    const box = this.boxOf(place);
    if (box.left - NUMBER_PX < frame.scrollLeft) frame.scrollLeft = box.left - NUMBER_PX;
    else if (box.left + box.width > frame.scrollLeft + frame.clientWidth) {
      frame.scrollLeft = box.left + box.width - frame.clientWidth;
    }
    this.soon();
  }

  /**
   * Where a cell lies in what scrolls, in pixels.
   * @param {import("./range.js").Place} place
   */
  boxOf(place) {
    const widths = this.rows.columnsShown.map((at) => this.widths[at]);
    const left = widths.slice(0, place.column).reduce((sum, width) => sum + width, NUMBER_PX);
    const { height } = this;
    return { left, top: this.head.offsetHeight + place.row * height, width: widths[place.column] ?? 0, height };
  }
}

/**
 * An element with attributes and a text.
 * @param {string} tag
 * @param {Record<string, string>} attributes
 * @param {string} text
 */
export function made(tag, attributes = {}, text = "") {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (text) element.textContent = text;
  return element;
}
