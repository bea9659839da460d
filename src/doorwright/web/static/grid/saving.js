// @ts-check
/** What was typed goes to the book in batches, one at a time, while the page goes on; undo and redo of what went. */

/**
 * @typedef {import("./rows.js").Rows} Rows
 * @typedef {import("./rows.js").Row} Row
 * @typedef {import("./rows.js").Since} Since
 * @typedef {{row: string, field: string, where: string, read: string, problem: string, remedy: string}} CellMistake
 * @typedef {{row: string, field: string, where: string, was: string, mine: string, theirs: string | null, by: string,
 *   revision: number, at: string | null}} Conflict
 * @typedef {{revision: number, saved: number | null, message: string, mistakes: CellMistake[], conflicts: Conflict[],
 *   remarks: string[], made: Record<string, string[]>}} Edited
 * @typedef {{row: Row, column: number, to: string}} Sent
 */

const GATHER_MS = 700;
const AGAIN_MS = 3000;

/** Tells `state` when what is to be said of saving is otherwise, `lines` with what is to be told. */
export class Saving extends EventTarget {
  /**
   * @param {string} address of the table
   * @param {Rows} rows
   */
  constructor(address, rows) {
    super();
    this.address = address;
    this.rows = rows;
    this.busy = false;
    this.away = false;
    /**
     * A new row in which somebody is still typing: it waits.
     * @type {Row | null}
     */
    this.held = null;
    /** @type {number[]} */
    this.done = [];
    /** @type {number[]} */
    this.undone = [];
    /** @type {("undo" | "redo")[]} */
    this.asked = [];
    this.timer = 0;
    /** The newest revision that was heard of. */
    this.heard = rows.revision;
  }

  /** @param {string[]} lines */
  tell(lines) {
    if (lines.length) this.dispatchEvent(new CustomEvent("lines", { detail: lines }));
  }

  state() {
    this.dispatchEvent(new Event("state"));
  }

  /** Send what waits once nothing was typed for a moment. */
  soon() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.go(), GATHER_MS);
    this.state();
  }

  /** Send what waits, and carry out what was asked, until nothing is left. */
  async go() {
    clearTimeout(this.timer);
    if (this.busy) return;
    this.busy = true;
    try {
      while (await this.next()) this.state();
      this.away = false;
    } catch (error) {
      if (!(error instanceof TypeError)) throw error; // fetch says so where no server answers
      this.away = true;
      this.timer = setTimeout(() => this.go(), AGAIN_MS);
    } finally {
      this.busy = false;
      this.state();
      if (this.heard > this.rows.revision) this.news(this.heard);
    }
  }

  /** @returns {Promise<boolean>} whether there may be more to do */
  async next() {
    const batch = this.batch();
    if (batch) return this.send(batch);
    const asked = this.asked.shift();
    if (asked) return this.step(asked);
    return false;
  }

  /** What waits: cells and new rows, or else rows to take out. */
  batch() {
    const { rows } = this;
    /** @type {Sent[]} */
    const sent = [];
    /** @type {Row[]} */
    const added = [];
    for (const row of rows.altered) {
      if (row.isNew && (row === this.held || row.said || [...row.own.values()].some((own) => own.state === "wrong"))) continue;
      if (row.isNew && row.own.size) added.push(row);
      for (const [column, own] of row.own) {
        if (own.state === "waiting") sent.push({ row, column, to: own.to });
      }
    }
    if (sent.length) return { sent, added, going: [] };
    const going = [...rows.altered].filter((row) => row.isGoing);
    return going.length ? { sent, added, going } : null;
  }

  /** @param {{sent: Sent[], added: Row[], going: Row[]}} batch */
  async send({ sent, added, going }) {
    const { rows } = this;
    const field = (/** @type {number} */ column) => rows.columns[column].field;
    const edits = sent
      .filter(({ row }) => !row.isNew)
      .map(({ row, column, to }) => ({ id: row.id, field: field(column), was: row.own.get(column)?.was ?? "", to }));
    const body = {
      revision: rows.revision,
      edits,
      added: added.map((row) => ({
        key: row.id,
        cells: Object.fromEntries([...row.own].map(([column, own]) => [field(column), own.to])),
      })),
      removed: going.map((row) => ({
        id: row.id,
        was: Object.fromEntries(row.base.flatMap((text, at) => (rows.columns[at].fixed ? [] : [[field(at), text ?? ""]]))),
      })),
    };
    for (const { row, column } of sent) {
      const own = row.own.get(column);
      if (own) own.state = "sent";
    }
    rows.unsent = [];
    this.state();
    /** @type {{edited: Edited, since: Since} | null} */
    let answer = null;
    try {
      answer = await this.ask("edit", body);
    } catch (error) {
      for (const { row, column } of sent) {
        const own = row.own.get(column);
        if (own?.state === "sent") own.state = "waiting";
      }
      if (error instanceof Refusal) this.refuse(sent, going, error.message);
      else throw error;
    }
    if (answer) this.settle(sent, added, going, answer);
    rows.changed();
    return true;
  }

  /**
   * @param {Sent[]} sent
   * @param {Row[]} added
   * @param {Row[]} going
   * @param {{edited: Edited, since: Since}} answer
   */
  settle(sent, added, going, { edited, since }) {
    const { rows } = this;
    const wasRefused = edited.mistakes.length > 0;
    const collided = new Set(edited.conflicts.map((one) => `${one.row} ${one.field}`));
    for (const { row, column, to } of sent) {
      const own = row.own.get(column);
      if (!own) continue;
      if (wasRefused || collided.has(`${row.id} ${rows.columns[column].field}`)) {
        if (own.state === "sent") own.state = "waiting";
      } else if (own.to === to) row.own.delete(column);
    }
    if (!wasRefused) {
      rows.drop(added.filter((row) => edited.made[row.id]));
      if (edited.saved !== null) {
        this.done.push(edited.saved);
        this.undone = [];
      }
    }
    this.blame(edited.mistakes, sent, going);
    if (!rows.refresh(since)) location.reload();
    for (const { row, column } of sent) {
      const own = row.own.get(column);
      if (own?.state === "waiting" && !row.isNew && !wasRefused) own.was = row.base[column] ?? "";
    }
    this.collide(edited.conflicts);
    for (const row of rows.altered) {
      if (!row.own.size && !row.isGoing && !row.isNew) rows.altered.delete(row);
    }
    this.tell(edited.remarks);
  }

  /**
   * Mark what is wrong; the rest goes again.
   * @param {CellMistake[]} mistakes
   * @param {Sent[]} sent
   * @param {Row[]} going
   */
  blame(mistakes, sent, going) {
    const { rows } = this;
    const sentRows = new Map(sent.map(({ row }) => [row.id, row]));
    let placed = false;
    for (const one of mistakes) {
      const said = `${one.problem}. ${one.remedy}`;
      const row = sentRows.get(one.row);
      if (!row) continue;
      placed = true;
      const column = rows.columns.findIndex((column) => column.field === one.field);
      const own = row.own.get(column);
      if (own) Object.assign(own, { state: "wrong", said });
      else if (row.isNew && column >= 0) {
        row.own.set(column, { was: "", to: "", state: "wrong", said, theirs: null, by: "" });
      } else {
        row.said = said;
        row.own.forEach((cell) => Object.assign(cell, { state: "wrong", said }));
      }
    }
    if (!mistakes.length || placed) return;
    this.refuse(sent, going, mistakes.map((one) => `${one.where}: ${one.problem}. ${one.remedy}`).join(" "));
  }

  /**
   * Nothing of a batch can be saved, and no cell of it is to blame.
   * @param {Sent[]} sent
   * @param {Row[]} going
   * @param {string} said
   */
  refuse(sent, going, said) {
    for (const { row, column } of sent) {
      const own = row.own.get(column);
      if (own) Object.assign(own, { state: "wrong", said });
    }
    for (const row of going) {
      row.isGoing = false;
      this.rows.altered.delete(row);
    }
    this.tell([said]);
  }

  /** @param {Conflict[]} conflicts */
  collide(conflicts) {
    const { rows } = this;
    const told = [];
    for (const one of conflicts) {
      const row = rows.byId.get(one.row);
      const column = rows.columns.findIndex((column) => column.field === one.field);
      const by = one.by || "somebody";
      if (row && column >= 0 && one.theirs !== null) {
        const said = `${by} wrote "${one.theirs}" meanwhile (revision ${one.revision}); yours: "${one.mine}"`;
        row.own.set(column, { was: one.theirs, to: one.mine, state: "conflict", said, theirs: one.theirs, by });
        rows.altered.add(row);
      } else {
        if (row) row.isGoing = false;
        const what = one.theirs === null ? "is gone" : `was altered (${one.theirs || "otherwise"})`;
        told.push(`${one.where}: ${what}, by ${by} in revision ${one.revision}; yours was not saved`);
      }
    }
    this.tell(told);
  }

  undo() {
    if (this.rows.takeBack()) this.soon();
    else {
      this.asked.push("undo");
      this.go();
    }
  }

  redo() {
    this.asked.push("redo");
    this.go();
  }

  /**
   * Undo a saved batch, or do it again.
   * @param {"undo" | "redo"} way
   */
  async step(way) {
    const [from, to] = way === "undo" ? [this.done, this.undone] : [this.undone, this.done];
    const revision = from.pop();
    if (revision === undefined) {
      this.tell([way === "undo" ? "Nothing of yours is left to undo here." : "Nothing is left to do again."]);
      return true;
    }
    try {
      const { edited, since } = await this.ask("undo", { undo: revision, revision: this.rows.revision });
      if (edited.saved !== null) to.push(edited.saved);
      if (!this.rows.refresh(since)) location.reload();
      this.collide(edited.conflicts);
      this.tell([edited.message ? `Done: ${edited.message}.` : "That was so already."]);
    } catch (error) {
      if (!(error instanceof Refusal)) {
        from.push(revision);
        this.asked.unshift(way);
        throw error;
      }
      this.tell([error.message]);
    }
    return true;
  }

  /**
   * Fetch what others saved.
   * @param {number} revision the newest that was heard of
   */
  async news(revision) {
    this.heard = Math.max(this.heard, revision);
    if (this.busy || this.heard <= this.rows.revision) return;
    const since = await fetched(`${this.address}.json?since=${this.rows.revision}`);
    if (since && !this.busy && !this.rows.refresh(since)) location.reload();
  }

  /**
   * @param {string} what
   * @param {object} body
   * @returns {Promise<{edited: Edited, since: Since}>}
   */
  async ask(what, body) {
    const answer = await fetch(`${this.address}/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json" },
      body: JSON.stringify(body),
    });
    const said = await answer.json();
    if (said.edited) return said;
    const mistakes = (said.mistakes ?? []).map((/** @type {CellMistake} */ one) => `${one.where}: ${one.problem}.`);
    throw new Refusal([said.detail, said.remedy, ...mistakes].filter(Boolean).join(" "));
  }

  /** How many cells and rows wait, and how many cannot be saved as they are. */
  get counts() {
    let waiting = 0;
    let wrong = 0;
    for (const row of this.rows.altered) {
      const cells = [...row.own.values()];
      const bad = cells.filter((own) => own.state === "wrong" || own.state === "conflict").length;
      wrong += bad;
      if (row.isGoing) waiting += 1;
      if (!row.isNew || !bad) waiting += cells.length - bad;
    }
    return { waiting, wrong };
  }
}

/**
 * What the server gives at an address, or null where it does not answer: the next news ask again.
 * @param {string} address
 */
export async function fetched(address) {
  try {
    const answer = await fetch(address);
    return answer.ok ? await answer.json() : null;
  } catch (error) {
    if (error instanceof TypeError) return null;
    throw error;
  }
}

/** The server says no, and why. */
class Refusal extends Error {}
