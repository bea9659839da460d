// @ts-check
/** The run sheet: records are kept on the phone first, shown as waiting, and sent when the server answers. */

import { shrunk } from "./photograph.js";
import { Sender, forget, freshId, keep, waitingOf } from "./waiting.js";

const root = /** @type {HTMLElement} */ (document.getElementById("run-sheet"));
const sheet = /** @type {string} */ (root.dataset.runSheet);
const person = root.dataset.person ?? "";
const link = /** @type {HTMLElement} */ (document.getElementById("link"));
const refusedList = /** @type {HTMLElement} */ (document.getElementById("refused"));

/**
 * @param {ParentNode} within
 * @param {string} selector
 * @returns {HTMLElement[]}
 */
const all = (within, selector) => [...within.querySelectorAll(selector)].map((one) => /** @type {HTMLElement} */ (one));

/**
 * Make an element with text in it.
 * @param {string} tag
 * @param {string} text
 * @param {string} [name]
 */
function made(tag, text, name = "") {
  const element = document.createElement(tag);
  element.textContent = text;
  if (name) element.className = name;
  return element;
}

/** @param {string} key */
const taskOf = (key) => all(root, ".task[data-key]").find((one) => one.dataset.key === key);

// moments as the clock on the wall says them

/** @param {ParentNode} within */
function tellMoments(within) {
  for (const one of all(within, "time[datetime]")) {
    const at = new Date(/** @type {HTMLTimeElement} */ (one).dateTime);
    const today = new Date().toDateString() === at.toDateString();
    one.textContent = at.toLocaleString([], today ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" });
  }
}

// what waits, and how the link stands

const sender = new Sender(sheet, person, { changed: showWaiting, sent: refresh });
let hadWaiting = false;

async function showWaiting() {
  const waiting = await waitingOf(sheet);
  const own = waiting.filter((one) => one.by === person && !one.refused);
  const others = waiting.filter((one) => one.by !== person);
  for (const task of all(root, ".task[data-key]")) {
    const list = /** @type {HTMLElement} */ (task.querySelector("[data-waiting]"));
    const here = waiting.filter((one) => one.task === task.dataset.key && !one.refused);
    list.replaceChildren(...here.map(waitingLine));
    list.hidden = !here.length;
    const last = here.filter((one) => one.deed === "done" || one.deed === "not done after all").at(-1);
    if (last) tick(task, last.deed === "done");
  }
  const texts = [];
  if (own.length) texts.push(`${own.length} waiting to be sent`);
  if (own.length && sender.why) texts.push(sender.why);
  if (others.length) texts.push(`${others.length} of ${[...new Set(others.map((one) => one.by))].join(", ")}: sent when they sign in here`);
  link.classList.toggle("all-sent", !texts.length);
  if (!texts.length && hadWaiting) texts.push("Everything is sent.");
  hadWaiting ||= own.length > 0;
  link.hidden = !texts.length;
  /** @type {HTMLElement} */ (link.querySelector(".said-of-link")).textContent = texts.join(" · ");
  /** @type {HTMLElement} */ (link.querySelector(".send")).hidden = !own.length;
  const refused = waiting.filter((one) => one.refused);
  refusedList.replaceChildren(...refused.map(refusedLine));
  refusedList.hidden = !refused.length;
}

/** @param {import("./waiting.js").Waiting} one */
function waitingLine(one) {
  const line = document.createElement("li");
  if (one.picture) {
    const image = document.createElement("img");
    image.src = URL.createObjectURL(new Blob([one.picture], { type: "image/jpeg" }));
    image.alt = "Photograph that waits to be sent";
    image.addEventListener("load", () => URL.revokeObjectURL(image.src));
    line.append(image);
  }
  line.append(made("span", "waiting to be sent", "tag warning"), made("span", words(one), "what"));
  return line;
}

/** @param {import("./waiting.js").Waiting} one */
function words(one) {
  if (one.deed === "time spent") return `${Math.ceil(Number(one.value) / 60)} min spent`;
  if (one.deed === "reading") return `${one.quantity}: ${one.value}`;
  return one.deed === "note" ? one.value : one.deed;
}

/** @param {import("./waiting.js").Waiting} one */
function refusedLine(one) {
  const line = document.createElement("li");
  const away = made("button", "Throw it away", "danger");
  away.addEventListener("click", async () => {
    await forget(one);
    await showWaiting();
  });
  line.append(made("p", `${one.name}: ${words(one)}. It could not be recorded: ${one.refused}`), away);
  return line;
}

// one task

/**
 * Show a task as done, or not.
 * @param {HTMLElement} task
 * @param {boolean} isDone
 */
function tick(task, isDone) {
  task.dataset.done = isDone ? "yes" : "no";
  const button = /** @type {HTMLButtonElement | null} */ (task.querySelector(".tick-big"));
  if (!button) return;
  button.value = isDone ? "not done after all" : "done";
  button.className = isDone ? "tick-big ticked" : "tick-big main";
  button.setAttribute("aria-label", `${isDone ? "Not done after all" : "Done"}: task ${task.dataset.number}`);
  const mark = made("span", "✓");
  mark.setAttribute("aria-hidden", "true");
  button.replaceChildren(...(isDone ? ["Not done"] : [mark, " Done"]));
}

/**
 * Show a task as the server has it now. What is being typed stays.
 * @param {{task: string}} record
 * @param {number | null} number
 */
async function refresh(record, number) {
  const task = number === null ? undefined : taskOf(record.task);
  if (task) await refreshTask(task);
}

/** @param {HTMLElement} task */
async function refreshTask(task) {
  const answer = await fetch(`${sheet}/tasks/${task.dataset.number}`, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const now = /** @type {HTMLElement | null} */ (fresh.querySelector(".task"));
  if (!now || now.dataset.key !== task.dataset.key) return planChanged();
  for (const name of ["state", "records"]) {
    const [old, replacement] = [task, now].map((one) => one.querySelector(`[data-part="${name}"]`));
    if (old && replacement) old.replaceWith(replacement);
  }
  tick(task, now.dataset.done === "yes");
  const far = fresh.getElementById("how-far");
  if (far) document.getElementById("how-far")?.replaceWith(far);
  prepare(task);
  await showWaiting();
}

function planChanged() {
  if (document.getElementById("plan-changed")) return;
  const note = made("p", "The plan was changed meanwhile. What you recorded is kept. ", "note warning");
  note.id = "plan-changed";
  const again = made("a", "Show the new run sheet");
  again.setAttribute("href", location.href);
  note.append(again);
  link.before(note);
}

/** @param {ParentNode} within */
function prepare(within) {
  tellMoments(within);
  for (const one of all(within, ".clock, .correct")) one.hidden = false;
}

// recording

/**
 * Keep a record on the phone and send it.
 * @param {HTMLElement} task
 * @param {{deed: string, value?: string, quantity?: string, picture?: ArrayBuffer | null}} what
 */
async function note(task, what) {
  const corrects = task.dataset.correctsDeed === what.deed ? task.dataset.corrects ?? "" : "";
  await keep({
    id: freshId(), sheet, by: person, task: task.dataset.key ?? "", name: task.dataset.name ?? "", deed: what.deed,
    value: what.value ?? "", quantity: what.quantity ?? "", corrects, doneAt: new Date().toISOString(),
    picture: what.picture ?? null, refused: "",
  });
  if (corrects) delete task.dataset.corrects;
  navigator.storage?.persist?.();
  await showWaiting();
  sender.send();
}

/**
 * @param {HTMLFormElement} form
 * @param {string} deed
 */
async function submitted(form, deed) {
  const task = /** @type {HTMLElement} */ (form.closest(".task"));
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
  const complain = (/** @type {HTMLInputElement} */ input, /** @type {string} */ why) => {
    input.setCustomValidity(why);
    input.reportValidity();
    input.addEventListener("input", () => input.setCustomValidity(""), { once: true });
  };
  if (deed === "done" || deed === "not done after all") {
    await note(task, { deed });
  } else if (deed === "note") {
    const text = field("note");
    if (!text.value.trim()) return complain(text, "Write something.");
    await note(task, { deed, value: text.value.trim() });
    text.value = "";
  } else if (deed === "time spent") {
    const minutes = field("minutes");
    if (!/^\s*\d{1,4}\s*$/.test(minutes.value) || !Number(minutes.value)) return complain(minutes, "Give whole minutes.");
    await note(task, { deed, value: String(Number(minutes.value) * 60) });
    minutes.value = "";
  } else if (deed === "reading") {
    const figure = field("figure");
    if (!/^\s*\d+([.,]\d+)?\s*$/.test(figure.value)) return complain(figure, "Give a figure, such as 12.1.");
    await note(task, { deed, value: figure.value.trim(), quantity: field("quantity").value });
    figure.value = "";
  } else if (deed === "photograph") {
    const chosen = field("picture");
    const file = chosen.files?.[0];
    if (!file) return complain(chosen, "Take a photograph, or choose one.");
    let picture;
    try {
      picture = await shrunk(file);
    } catch {
      return complain(chosen, "This cannot be read as a photograph.");
    }
    await note(task, { deed, picture });
    chosen.value = "";
  }
  for (const hint of all(task, ".correcting")) hint.hidden = true;
}

/** A second press of a finger that trembles is no second wish: so long a button just pressed is deaf. */
const DEAF_MS = 800;
/** @type {WeakMap<Element, number>} */
const pressedAt = new WeakMap();

/** @param {Element} button */
function isTrembling(button) {
  const last = pressedAt.get(button) ?? -Infinity;
  pressedAt.set(button, performance.now());
  return performance.now() - last < DEAF_MS;
}

root.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (!form.matches(".recording")) return;
  event.preventDefault();
  event.stopPropagation();
  const button = /** @type {HTMLButtonElement | null} */ (/** @type {SubmitEvent} */ (event).submitter);
  if (!button?.value || form.dataset.busy || (button.matches(".tick-big") && isTrembling(button))) return;
  form.dataset.busy = "yes";
  submitted(form, button.value)
    .catch((error) => cannotKeep(error))
    .finally(() => delete form.dataset.busy);
});

/**
 * Say that the phone itself could not keep a record: what was typed is still in its field.
 * @param {unknown} error
 */
function cannotKeep(error) {
  link.hidden = false;
  link.classList.remove("all-sent");
  /** @type {HTMLElement} */ (link.querySelector(".said-of-link")).textContent =
    `This phone could not keep it, so it is not recorded (${error instanceof Error ? error.message : error}). Free some room on it and try again.`;
}

// Enter in a field keeps that field, not the tick that stands first in the form
root.addEventListener("keydown", (event) => {
  const field = /** @type {HTMLElement} */ (event.target);
  if (event.key !== "Enter" || !field.matches("input:not([type=file])")) return;
  const button = field.closest(".field")?.querySelector("button[name=deed]");
  if (!button) return;
  event.preventDefault();
  /** @type {HTMLElement} */ (button).click();
});

root.addEventListener("click", (event) => {
  const target = /** @type {HTMLElement} */ (event.target);
  const task = /** @type {HTMLElement | null} */ (target.closest(".task"));
  const correct = /** @type {HTMLElement | null} */ (target.closest(".correct"));
  if (task && correct) correctInstead(task, correct);
  const clock = target.closest(".clock");
  if (task && clock && !isTrembling(clock)) pressClock(task);
  if (target.closest(".send")) sender.send();
  if (target.closest("#next-open")) toNextOpen(event);
});

/**
 * The next record of the same kind corrects an old one; a photograph is corrected by a note.
 * @param {HTMLElement} task
 * @param {HTMLElement} button
 */
function correctInstead(task, button) {
  task.dataset.corrects = button.dataset.correct;
  const deed = button.dataset.deed === "photograph" ? "note" : button.dataset.deed ?? "";
  task.dataset.correctsDeed = deed;
  const more = /** @type {HTMLDetailsElement} */ (task.querySelector("details.more"));
  const hint = /** @type {HTMLElement} */ (more.querySelector(".correcting"));
  const old = button.closest("li")?.querySelector(".what")?.textContent?.trim();
  hint.textContent = `The ${deed} that you keep next corrects: ${old || "the photograph"}`;
  hint.hidden = false;
  more.open = true;
  const names = { note: "note", "time spent": "minutes", reading: "figure" };
  const name = names[/** @type {keyof typeof names} */ (deed)];
  /** @type {HTMLElement | null} */ (more.querySelector(`[name="${name}"]`))?.focus();
}

// the clock: when work on a task began is kept on the phone until it is stopped

const CLOCKS = `clocks ${sheet} ${person}`;
/** @returns {Record<string, string>} */
const clocks = () => JSON.parse(localStorage.getItem(CLOCKS) ?? "{}");

/** @param {HTMLElement} task */
async function pressClock(task) {
  const running = clocks();
  const key = task.dataset.key ?? "";
  const began = running[key];
  if (began) {
    delete running[key]; // first of all, or a second press would count the time twice
    localStorage.setItem(CLOCKS, JSON.stringify(running));
    const spentS = Math.max(1, Math.round((Date.now() - Date.parse(began)) / 1000));
    try {
      await note(task, { deed: "time spent", value: String(Math.min(spentS, 86_400)) });
    } catch (error) {
      localStorage.setItem(CLOCKS, JSON.stringify({ ...clocks(), [key]: began }));
      cannotKeep(error);
    }
  } else localStorage.setItem(CLOCKS, JSON.stringify({ ...running, [key]: new Date().toISOString() }));
  showClocks();
}

function showClocks() {
  const running = clocks();
  for (const task of all(root, ".task[data-key]")) {
    const button = /** @type {HTMLElement | null} */ (task.querySelector(".clock"));
    const began = running[task.dataset.key ?? ""];
    if (!button || (!began && button.getAttribute("aria-pressed") === "false")) continue;
    button.setAttribute("aria-pressed", String(Boolean(began)));
    button.textContent = began ? `Stop: ${Math.floor((Date.now() - Date.parse(began)) / 60_000)} min` : "Start the clock";
  }
}

// the way to the next open task

/** @param {Event} event */
function toNextOpen(event) {
  const tasks = all(root, ".task[data-key]");
  const here = /** @type {HTMLElement | null} */ (document.activeElement?.closest(".task"));
  const start = here ? tasks.indexOf(here) + 1 : 0;
  const next = [...tasks.slice(start), ...tasks.slice(0, start)].find((one) => one.dataset.done === "no");
  if (!next) return; // the link leads to the next page
  event.preventDefault();
  next.scrollIntoView({ block: "start" });
  /** @type {HTMLElement | null} */ (next.querySelector(".tick-big"))?.focus({ preventScroll: true });
}

// begin

prepare(root);
showClocks();
setInterval(showClocks, 10_000);
addEventListener("online", () => sender.send());
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && sender.send());
document.body.addEventListener("news:work", (event) => {
  const task = document.getElementById(`task-${/** @type {CustomEvent} */ (event).detail.number}`);
  if (task) refreshTask(task);
});
document.body.addEventListener("news:revision", (event) => {
  if (String(/** @type {CustomEvent} */ (event).detail.revision) !== root.dataset.revision) planChanged();
});
await showWaiting();
root.dataset.ready = "yes";
sender.send();

// a service worker lets the page itself be opened again without the server; browsers have it on this machine and over TLS
const worker = root.dataset.worker;
if (worker && navigator.serviceWorker) {
  await navigator.serviceWorker.register(worker, { scope: sheet }).catch(() => null);
  const registration = await navigator.serviceWorker.ready;
  const needed = all(document, "link[href], script[src]").map((one) => one.getAttribute("href") ?? one.getAttribute("src"));
  const modules = ["/static/waiting.js", "/static/photograph.js"];
  const heard = new MessageChannel();
  heard.port1.onmessage = () => (root.dataset.offline = "yes");
  registration.active?.postMessage({ keep: [location.href, ...needed, ...modules] }, [heard.port2]);
}
