// @ts-check
/** Mouse and touch: choose cells, rows and columns, draw on from the corner, open a cell, sort by a heading. */

/**
 * @typedef {import("./range.js").Place} Place
 * @typedef {{edit: () => void, sort: (column: number) => void, chosen: () => void, drawOn: (to: Place) => void,
 *   isExtending: () => boolean}} Does
 */

/**
 * @param {import("./drawing.js").Drawing} drawing
 * @param {import("./range.js").Range} range
 * @param {Does} does
 */
export function point(drawing, range, does) {
  const { grid, frame } = drawing;
  /** @type {"choose" | "draw on" | null} */
  let dragging = null;
  let wasActive = false;

  /**
   * @param {EventTarget | null} target
   * @returns {Place | null}
   */
  const placeOf = (target) => {
    const cell = target instanceof Element ? /** @type {HTMLElement | null} */ (target.closest("[data-place]")) : null;
    const line = /** @type {HTMLElement | null} */ (cell?.closest("[data-row]"));
    return cell && line ? { row: Number(line.dataset.row), column: Number(cell.dataset.place) } : null;
  };

  grid.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    const target = /** @type {Element} */ (event.target);
    if (target.closest("input, .grid-sort")) return;
    const place = placeOf(target);
    const { columns } = range.size();
    const extending = event.shiftKey || does.isExtending();
    const line = /** @type {HTMLElement | null} */ (target.closest("[data-row]"));
    if (place) {
      wasActive = !extending && place.row === range.active.row && place.column === range.active.column;
      const cell = /** @type {HTMLElement} */ (target.closest("[data-place]"));
      const box = cell.getBoundingClientRect();
      const atCorner = cell.classList.contains("last") && box.right - event.clientX < 12 && box.bottom - event.clientY < 12;
      if (event.pointerType !== "touch") dragging = atCorner ? "draw on" : "choose";
      if (!atCorner) range.go(place, extending);
    } else if (line) {
      const row = Number(line.dataset.row);
      range.span({ row: extending ? range.active.row : row, column: 0 }, { row, column: columns - 1 });
    } else if (target.closest(".grid-corner")) range.span({ row: 0, column: 0 }, { row: range.size().rows - 1, column: columns - 1 });
    else return;
    if (event.pointerType !== "touch") event.preventDefault();
    grid.focus({ preventScroll: true });
    range.began = range.active.column;
    does.chosen();
  });

  grid.addEventListener("pointermove", (event) => {
    if (!dragging || !(event.buttons & 1)) return;
    const place = placeOf(document.elementFromPoint(event.clientX, event.clientY));
    if (!place) return;
    if (dragging === "choose") range.go(place, true);
    else frame.dataset.drawOn = String(place.row);
    does.chosen();
  });

  addEventListener("pointerup", (event) => {
    if (dragging === "draw on") {
      const place = placeOf(document.elementFromPoint(event.clientX, event.clientY));
      delete frame.dataset.drawOn;
      if (place) does.drawOn(place);
    }
    dragging = null;
  });

  grid.addEventListener("dblclick", (event) => placeOf(event.target) && does.edit());
  // a second tap on the same cell opens it
  grid.addEventListener("click", (event) => {
    const isTouch = /** @type {PointerEvent} */ (event).pointerType === "touch";
    if (isTouch && wasActive && placeOf(event.target)) does.edit();
    const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest(".grid-sort"));
    if (button) does.sort(Number(button.dataset.column));
  });
}
