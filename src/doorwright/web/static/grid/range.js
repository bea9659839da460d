// @ts-check
/** Which cells are chosen: an active one, and a rectangle from it to another. Places count what is shown, from 0. */

/** @typedef {{row: number, column: number}} Place */

export class Range {
  /** @param {() => {rows: number, columns: number}} size */
  constructor(size) {
    this.size = size;
    /** @type {Place} */
    this.active = { row: 0, column: 0 };
    /** @type {Place} */
    this.other = { row: 0, column: 0 };
    /** The column in which a run of Tab began: Enter goes back to it. */
    this.began = 0;
  }

  /**
   * @param {Place} place
   * @returns {Place}
   */
  within(place) {
    const { rows, columns } = this.size();
    return {
      row: Math.max(0, Math.min(place.row, rows - 1)),
      column: Math.max(0, Math.min(place.column, columns - 1)),
    };
  }

  /**
   * Choose a cell; with `extends` the rectangle from the active cell to it.
   * @param {Place} place
   * @param {boolean} extending
   */
  go(place, extending = false) {
    this.other = this.within(place);
    if (!extending) this.active = this.other;
  }

  /**
   * @param {number} rows
   * @param {number} columns
   * @param {boolean} extending
   */
  step(rows, columns, extending = false) {
    const from = extending ? this.other : this.active;
    this.go({ row: from.row + rows, column: from.column + columns }, extending);
  }

  /** Choose the cell right (1) or left (-1), over the ends of rows; say whether there was one. */
  tab(/** @type {1 | -1} */ way) {
    const { rows, columns } = this.size();
    const at = this.active.row * columns + this.active.column + way;
    if (at < 0 || at >= rows * columns) return false;
    const began = this.began;
    this.go({ row: Math.floor(at / columns), column: at % columns });
    this.began = began;
    return true;
  }

  /** Choose from one place to another; the first becomes active. */
  span(/** @type {Place} */ from, /** @type {Place} */ to) {
    this.go(from);
    this.go(to, true);
  }

  /** The rectangle: its first and last rows and columns. */
  get box() {
    const [a, b] = [this.within(this.active), this.within(this.other)];
    return {
      top: Math.min(a.row, b.row),
      bottom: Math.max(a.row, b.row),
      left: Math.min(a.column, b.column),
      right: Math.max(a.column, b.column),
    };
  }

  get isOne() {
    const { top, bottom, left, right } = this.box;
    return top === bottom && left === right;
  }
}
