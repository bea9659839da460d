// @ts-check
/** The rows of a table: what the server says stands in them, what was typed here and is not saved yet, which are shown. */

import { byNature, sieve } from "./order.js";

/**
 * @typedef {{field: string, heading: string, note: string, wanted: string, width: number, number: boolean,
 *   required: boolean, fixed: boolean, looks_up: boolean, choices: string[]}} Column
 * @typedef {"waiting" | "sent" | "wrong" | "conflict"} State
 * @typedef {{was: string, to: string, state: State, said: string, theirs: string | null, by: string}} Own
 * @typedef {[string, (string | null)[]]} Given
 * @typedef {{revision: number, columns: string[], rows: Given[], order: string[] | null, whole: boolean}} Since
 * @typedef {{row: Row, column: number, to: string}} Put
 */

/** One row. A new one has a key of the page's own until it is saved. */
export class Row {
  /**
   * @param {string} id
   * @param {(string | null)[]} base
   * @param {boolean} isNew
   */
  constructor(id, base, isNew = false) {
    this.id = id;
    this.base = base;
    this.isNew = isNew;
    this.number = 0;
    /** @type {Map<number, Own>} */
    this.own = new Map();
    /** What is wrong with the row as a whole. */
    this.said = "";
    this.isGoing = false;
  }

  /** @param {number} column */
  text(column) {
    return this.own.get(column)?.to ?? this.base[column] ?? "";
  }
}

/** All rows of a table. Tells `change` when what is shown may look otherwise. */
export class Rows extends EventTarget {
  /**
   * @param {Column[]} columns
   * @param {Given[]} given
   * @param {{revision: number, mayEdit: boolean, adds: boolean}} facts
   */
  constructor(columns, given, facts) {
    super();
    this.columns = columns;
    this.revision = facts.revision;
    this.mayEdit = facts.mayEdit;
    this.adds = facts.adds && facts.mayEdit;
    /** @type {Map<string, Row>} */
    this.byId = new Map(given.map(([id, base]) => [id, new Row(id, base)]));
    /** @type {Row[]} */
    this.all = [...this.byId.values()];
    /** @type {Set<Row>} */
    this.altered = new Set();
    /** @type {(() => void)[][]} */
    this.unsent = [];
    /** @type {{column: number, down: boolean} | null} */
    this.sorted = null;
    /** @type {string[]} */
    this.filters = columns.map(() => "");
    this.wanted = "";
    /** @type {Set<number>} */
    this.hidden = new Set();
    /** @type {number[]} */
    this.columnsShown = columns.map((_, at) => at);
    /** @type {Row[]} */
    this.shown = [];
    this.made = 0;
    this.blank = this.newRow();
    this.number();
    this.arrange();
  }

  changed() {
    this.dispatchEvent(new Event("change"));
  }

  newRow() {
    this.made += 1;
    return new Row(`new-${this.made}`, this.columns.map(() => ""), true);
  }

  /** Count the rows as the book does. */
  number() {
    this.all.forEach((row, at) => (row.number = row.isNew ? 0 : at + 1));
  }

  /** Show what the filters let through, in the chosen order; a row to begin stands last. */
  arrange() {
    const sieves = this.filters.map(sieve);
    const wanted = sieve(this.wanted);
    const shown = this.all.filter(
      (row) =>
        row.isNew ||
        (sieves.every((one, at) => !one || one(row.text(at))) &&
          (!wanted || this.columnsShown.some((at) => wanted(row.text(at))))),
    );
    if (this.sorted) {
      const { column, down } = this.sorted;
      const keys = new Map(shown.map((row) => [row, row.text(column)]));
      shown.sort((one, other) => {
        const [a, b] = [keys.get(one) ?? "", keys.get(other) ?? ""];
        return down && a && b ? byNature(b, a) : byNature(a, b);
      });
    }
    if (this.adds) shown.push(this.blank);
    this.shown = shown;
    this.changed();
  }

  /** Show all columns but some. */
  arrangeColumns() {
    this.columnsShown = this.columns.map((_, at) => at).filter((at) => !this.hidden.has(at));
    this.arrange();
  }

  get isFiltered() {
    return Boolean(this.wanted.trim()) || this.filters.some((one) => one.trim());
  }

  /**
   * @param {Row} row
   * @param {number} column
   */
  isFixed(row, column) {
    return !this.mayEdit || row.isGoing || this.columns[column].fixed || row.base[column] === null;
  }

  /**
   * Put texts into cells, as one step that can be undone; return how many could not be altered.
   * @param {Put[]} puts
   */
  put(puts) {
    /** @type {(() => void)[]} */
    const back = [];
    let fixed = 0;
    for (const { row, column, to } of puts) {
      if (this.isFixed(row, column)) fixed += 1;
      else if (row.text(column) !== to) back.push(this.set(row, column, to));
    }
    if (back.length) {
      this.unsent.push(back);
      this.changed();
    }
    return fixed;
  }

  /**
   * @param {Row} row
   * @param {number} column
   * @param {string} to
   */
  set(row, column, to) {
    const before = row.own.get(column);
    const base = row.base[column] ?? "";
    if (row === this.blank) this.begin();
    this.reopen(row);
    if (to === base && before?.state !== "sent") row.own.delete(column);
    else row.own.set(column, { was: base, to, state: "waiting", said: "", theirs: null, by: "" });
    this.altered.add(row);
    return () => {
      if (before) row.own.set(column, { ...before, state: before.state === "sent" ? "waiting" : before.state });
      else row.own.delete(column);
      this.altered.add(row);
    };
  }

  /**
   * Let a row be tried again whose mistake was no single cell's, or that is new.
   * @param {Row} row
   */
  reopen(row) {
    if (!row.isNew && !row.said) return;
    row.said = "";
    for (const [column, own] of row.own) {
      if (own.state === "wrong" && !own.to) row.own.delete(column);
      else if (own.state === "wrong") Object.assign(own, { state: "waiting", said: "" });
    }
  }

  /** Make the blank row a row of its own, and put another blank one below. */
  begin() {
    this.all.push(this.blank);
    this.blank = this.newRow();
    this.shown.push(this.blank);
  }

  /**
   * Forget rows.
   * @param {Iterable<Row>} rows
   */
  drop(rows) {
    const gone = new Set(rows);
    if (!gone.size) return;
    this.all = this.all.filter((row) => !gone.has(row));
    this.shown = this.shown.filter((row) => !gone.has(row));
    for (const row of gone) {
      this.byId.delete(row.id);
      this.altered.delete(row);
    }
  }

  /** Forget new rows in which nothing stands any more. */
  dropEmpty() {
    this.drop([...this.altered].filter((row) => row.isNew && !row.own.size));
  }

  /**
   * Rows to paste into, from one that is shown on; where the table ends, new ones are begun.
   * @param {number} first
   * @param {number} count
   */
  run(first, count) {
    const rows = this.shown.slice(first, first + count);
    const sheet = this.adds && rows.includes(this.blank);
    while (sheet && rows.length < count) {
      this.begin();
      rows.push(this.blank);
    }
    return rows;
  }

  /**
   * Ask for rows to be taken out; new ones that were never saved go at once.
   * @param {Row[]} rows
   */
  remove(rows) {
    for (const row of rows) {
      if (row === this.blank || row.isNew) continue;
      row.isGoing = true;
      row.own.clear();
      this.altered.add(row);
    }
    this.drop(rows.filter((row) => row.isNew && row !== this.blank));
    this.changed();
  }

  /** Take the last step that was not sent yet back; say whether there was one. */
  takeBack() {
    const back = this.unsent.pop();
    if (!back) return false;
    for (const one of back.reverse()) one();
    this.dropEmpty();
    this.changed();
    return true;
  }

  /**
   * Give up what was typed into a cell.
   * @param {Row} row
   * @param {number} column
   */
  giveUp(row, column) {
    row.own.delete(column);
    row.said = "";
    this.dropEmpty();
    this.changed();
  }

  /**
   * Take in what the server says is otherwise; return whether the columns are still the same.
   * @param {Since} since
   */
  refresh(since) {
    if (since.revision < this.revision) return true;
    const fields = this.columns.filter((one) => !one.fixed).map((one) => one.field);
    if (fields.join("\n") !== since.columns.join("\n")) return false;
    for (const [id, base] of since.rows) {
      const row = this.byId.get(id);
      if (row) row.base = base;
      else this.byId.set(id, new Row(id, base));
    }
    this.revision = since.revision;
    if (since.order) {
      const fresh = this.all.filter((row) => row.isNew);
      const order = since.order.map((id) => this.byId.get(id)).filter((row) => row !== undefined);
      this.all = [.../** @type {Row[]} */ (order), ...fresh];
      const kept = new Set(this.all);
      this.altered.forEach((row) => kept.has(row) || this.altered.delete(row));
      this.byId = new Map(this.all.filter((row) => !row.isNew).map((row) => [row.id, row]));
      this.number();
      this.arrange();
    }
    this.changed();
    return true;
  }

  /** Every cell that is wrong or collides, in the order of the rows. */
  troubles() {
    /** @type {{row: Row, column: number, own: Own}[]} */
    const found = [];
    for (const row of this.altered) {
      for (const [column, own] of row.own) {
        if (own.state === "wrong" || own.state === "conflict") found.push({ row, column, own });
      }
    }
    return found.sort((one, other) => one.row.number - other.row.number || one.column - other.column);
  }
}
