// @ts-check
/** The building being asked: each row comes, or changes, as somebody answers. */

const ROWS_MOST = 200; // so many are shown at first by the server too
/** @typedef {{table: string, id: string, is_well: boolean | null, cells: string[]}} Row */
/** @typedef {{row?: Row, step: string, count: number, of_count: number, over?: boolean}} Asked */

/**
 * @param {Row} row
 * @param {number} tagged which cell is marked where not all is well
 */
function lineOf(row, tagged) {
  const line = document.createElement("tr");
  line.id = `${row.table}-${row.id}`;
  line.className = "fresh";
  row.cells.forEach((text, at) => {
    const cell = document.createElement(at ? "td" : "th");
    if (!at) cell.scope = "row";
    if (at === tagged && row.is_well !== true) {
      const tag = document.createElement("span");
      tag.className = row.is_well === false ? "tag error" : "tag warning";
      tag.textContent = text;
      cell.append(tag);
    } else cell.textContent = text;
    line.append(cell);
  });
  return line;
}

/** @param {Row} row */
function put(row) {
  const rows = document.getElementById(row.table);
  if (!rows) return;
  for (const fresh of rows.querySelectorAll(".fresh")) fresh.removeAttribute("class");
  document.getElementById(`${row.table}-${row.id}`)?.remove();
  rows.prepend(lineOf(row, Number(rows.dataset.tagged)));
  while (rows.children.length > ROWS_MOST) rows.lastElementChild?.remove();
}

/** @param {Asked} asked */
function show(asked) {
  if (asked.row) put(asked.row);
  const far = document.getElementById("how-far");
  if (far) far.textContent = asked.step;
  const progress = /** @type {HTMLProgressElement | null} */ (document.getElementById("progress"));
  if (progress) [progress.max, progress.value] = [asked.of_count, asked.count];
}

document.body.addEventListener("news:asked", (event) => {
  const asked = /** @type {Asked} */ (/** @type {CustomEvent} */ (event).detail);
  const running = document.querySelector('[data-verifying="running"]');
  if (!running) {
    const begun = document.getElementById("begun");
    if (begun) begun.hidden = Boolean(asked.over);
  } else if (asked.over) location.reload();
  else show(asked);
});

// what was heard between the drawing of the page and the opening of its stream, and whether it is over by now

function catchUp() {
  if (!document.querySelector('[data-verifying="running"]')) return;
  fetch(`${location.pathname}.json`)
    .then((answer) => answer.json())
    .then(({ run }) => {
      if (run.state !== "running") return location.reload();
      for (const { rows } of [run.heard, run.registered, run.switches]) for (const row of rows.slice().reverse()) put(row);
    });
}
document.body.addEventListener("news:open", catchUp);
if (document.body.dataset.listening) catchUp();

// moments as the clock on the wall says them

for (const one of /** @type {NodeListOf<HTMLTimeElement>} */ (document.querySelectorAll("main time[datetime]"))) {
  one.textContent = new Date(one.dateTime).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}

// what must be said before the real building is asked or rung, and not before the rehearsed one

for (const form of document.querySelectorAll("form.ask")) {
  const said = /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll('[name="permitted"], [name="may_ring"]'));
  const must = () => {
    const rehearsed = /** @type {HTMLInputElement | null} */ (form.querySelector('[name="building"][value="rehearsed"]'));
    for (const one of said) one.required = !rehearsed?.checked;
  };
  form.addEventListener("change", must);
  window.addEventListener("pageshow", must); // also where the browser kept what was chosen
  must();
}

// names are added one after the other

const one = /** @type {HTMLInputElement | null} */ (document.getElementById("one"));
const only = /** @type {HTMLTextAreaElement | null} */ (document.getElementById("only"));
function add() {
  if (!one || !only || !one.value.trim()) return;
  only.value = `${only.value.trimEnd()}\n${one.value.trim()}`.trimStart();
  one.value = "";
  one.focus();
}
document.getElementById("add-one")?.addEventListener("click", add);
one?.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault();
  add();
});
