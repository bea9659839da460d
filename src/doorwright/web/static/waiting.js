// @ts-check
/**
 * Records made on site that wait to be sent. They lie in the browser's own database, so they outlive the page, and are
 * sent in order. Each has an identifier of its own, by which the server knows what it has already: sending again after
 * a lost answer records nothing twice.
 */

/**
 * @typedef {object} Waiting
 * @property {number} [order] given by the database
 * @property {string} id
 * @property {string} sheet address of the run sheet that it belongs to
 * @property {string} by who recorded it
 * @property {string} task
 * @property {string} name what the task is called, for people
 * @property {string} deed
 * @property {string} value
 * @property {string} quantity
 * @property {string} corrects
 * @property {string} doneAt
 * @property {ArrayBuffer | null} picture
 * @property {string} refused why the server will not have it; empty while it waits
 */

const FIRST_PAUSE_MS = 1000;
const LONGEST_PAUSE_MS = 30_000;
const ANSWER_WITHIN_MS = 20_000;
const PICTURE_WITHIN_MS = 120_000;

/**
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
const answered = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** @type {Promise<IDBDatabase> | null} */
let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("doorwright", 1);
    request.onupgradeneeded = () =>
      request.result.createObjectStore("waiting", { keyPath: "order", autoIncrement: true }).createIndex("id", "id", { unique: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

/**
 * Do something in one transaction; it is on the disk when this returns.
 * @template T
 * @param {IDBTransactionMode} mode
 * @param {(store: IDBObjectStore) => IDBRequest<T>} what
 * @returns {Promise<T>}
 */
async function within(mode, what) {
  const transaction = (await database()).transaction("waiting", mode, { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(null);
    transaction.onabort = () => reject(transaction.error);
  });
  const result = await answered(what(transaction.objectStore("waiting")));
  await done;
  return result;
}

/** @param {Waiting} record */
export const keep = (record) => within("readwrite", (store) => store.add(record));

/** @param {Waiting} record */
export const forget = (record) => within("readwrite", (store) => store.delete(/** @type {number} */ (record.order)));

/**
 * Return what waits of one run sheet, in order.
 * @param {string} sheet
 * @returns {Promise<Waiting[]>}
 */
export async function waitingOf(sheet) {
  const all = await within("readonly", (store) => /** @type {IDBRequest<Waiting[]>} */ (store.getAll()));
  return all.filter((record) => record.sheet === sheet);
}

/** Return an identifier that no other phone makes: 128 random bits. */
export function freshId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Try once to have the server record something.
 * @param {Waiting} record
 * @returns {Promise<{state: "sent", number: number | null} | {state: "refused", why: string} | {state: "later", why: string}>}
 */
async function sendOnce(record) {
  const form = new FormData();
  const { id, task, deed, value, quantity, corrects, by } = record;
  for (const [name, text] of Object.entries({ id, task, deed, value, quantity, corrects, by })) form.append(name, text);
  form.append("done_at", record.doneAt);
  if (record.picture) form.append("picture", new Blob([record.picture], { type: "image/jpeg" }), "photograph.jpg");
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), record.picture ? PICTURE_WITHIN_MS : ANSWER_WITHIN_MS);
  try {
    const answer = await fetch(`${record.sheet}/records`, {
      method: "POST", body: form, headers: { Accept: "application/json" }, signal: stop.signal, redirect: "error",
    });
    const said = await answer.json().catch(() => null);
    if (answer.ok && said?.id === id) return { state: "sent", number: said.number };
    const mistakes = (said?.mistakes ?? []).map((/** @type {{problem: string, remedy: string}} */ one) => `${one.problem}. ${one.remedy}`);
    const why = mistakes.join(" ") || [said?.detail, said?.remedy].filter(Boolean).join(". ");
    if ([400, 413, 415, 422].includes(answer.status)) return { state: "refused", why };
    return { state: "later", why: why || `the server answered ${answer.status}` };
  } catch {
    return { state: "later", why: "" };
  } finally {
    clearTimeout(timer);
  }
}

/** Sends what waits, in order, and tries again with growing pauses while the server does not answer. */
export class Sender {
  /**
   * @param {string} sheet
   * @param {string} person only what this person recorded is sent: the server writes down who is signed in
   * @param {{changed: () => Promise<void>, sent: (record: Waiting, number: number | null) => Promise<void>}} tell
   */
  constructor(sheet, person, tell) {
    this.sheet = sheet;
    this.person = person;
    this.tell = tell;
    this.why = "";
    this.isSending = false;
    this.isAsked = false;
    this.pauseMs = FIRST_PAUSE_MS;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  /** Try now, whatever pause was meant to be kept. */
  async send() {
    clearTimeout(this.timer);
    this.isAsked = true;
    if (this.isSending) return;
    this.isSending = true;
    try {
      while (this.isAsked) {
        this.isAsked = false;
        if (!(await this.round())) {
          this.timer = setTimeout(() => this.send(), this.pauseMs);
          this.pauseMs = Math.min(this.pauseMs * 2, LONGEST_PAUSE_MS);
          this.isAsked = false;
        }
      }
    } finally {
      this.isSending = false;
    }
  }

  /** Send everything once; return false where the server does not answer. */
  async round() {
    for (const record of await waitingOf(this.sheet)) {
      if (record.refused || record.by !== this.person) continue;
      const result = await sendOnce(record);
      if (result.state === "later") {
        this.why = result.why;
        await this.tell.changed();
        return false;
      }
      this.why = "";
      this.pauseMs = FIRST_PAUSE_MS;
      if (result.state === "refused") await within("readwrite", (store) => store.put({ ...record, refused: result.why || "refused" }));
      else {
        await forget(record);
        await this.tell.sent(record, result.number);
      }
      await this.tell.changed();
    }
    return true;
  }
}
