// @ts-check
/** A workbook dropped anywhere on the page goes into the form that takes it, which is sent at once. */

const form = /** @type {HTMLFormElement | null} */ (document.querySelector("form[data-drop]"));
const field = /** @type {HTMLInputElement | null | undefined} */ (form?.querySelector("input[type=file]"));

if (form && field) {
  for (const hint of form.querySelectorAll(".drop-hint")) /** @type {HTMLElement} */ (hint).hidden = false;

  /** @param {DragEvent} event */
  const carriesFiles = (event) => event.dataTransfer?.types.includes("Files") ?? false;
  let depth = 0;
  /** @param {number} now */
  const over = (now) => {
    depth = Math.max(0, now);
    document.body.classList.toggle("dropping", depth > 0);
  };
  addEventListener("dragenter", (event) => {
    if (carriesFiles(event)) over(depth + 1);
  });
  addEventListener("dragleave", (event) => {
    if (carriesFiles(event)) over(depth - 1);
  });
  addEventListener("dragover", (event) => {
    if (carriesFiles(event)) event.preventDefault();
  });
  addEventListener("drop", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    over(0);
    const files = event.dataTransfer?.files;
    if (!files?.length) return;
    field.files = files;
    form.requestSubmit();
  });
}

// the first cell to correct is where one begins
/** @type {HTMLElement | null} */ (document.querySelector("[aria-invalid=true]"))?.focus();
