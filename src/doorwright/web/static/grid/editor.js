// @ts-check
/** The field in which one cell is typed. It lies over the cell, and offers what usually stands there. */

import { made } from "./drawing.js";

/** @typedef {"down" | "up" | "right" | "left" | "stay"} After */

export class Editor {
  /**
   * @param {import("./drawing.js").Drawing} drawing
   * @param {(field: string, text: string) => Promise<string[]>} lookUp
   * @param {(text: string, after: After) => void} done called with what was typed, and where to go then
   */
  constructor(drawing, lookUp, done) {
    this.drawing = drawing;
    this.lookUp = lookUp;
    this.done = done;
    /** @type {HTMLInputElement | HTMLTextAreaElement | null} */
    this.field = null;
    this.list = made("datalist", { id: "grid-choices" });
    drawing.frame.append(this.list);
    this.asked = 0;
  }

  get isOpen() {
    return this.field !== null;
  }

  /**
   * Open over a cell.
   * @param {import("./range.js").Place} place
   * @param {string} text what stands in it at first
   * @param {string} label
   * @param {boolean} fresh whether what was in the cell is typed over
   */
  open(place, text, label, fresh) {
    this.close();
    const column = this.drawing.rows.columns[this.drawing.rows.columnsShown[place.column]];
    const long = text.includes("\n");
    const field = /** @type {HTMLInputElement | HTMLTextAreaElement} */ (
      made(long ? "textarea" : "input", { class: "grid-field", "aria-label": label, autocomplete: "off", spellcheck: "false" })
    );
    field.value = text;
    if (!long && (column.choices.length || column.looks_up)) this.offer(field, column);
    this.list.replaceChildren(...column.choices.map((choice) => made("option", { value: choice })));
    this.field = field;
    this.lay(place);
    this.drawing.frame.append(field);
    field.focus({ preventScroll: true });
    if (fresh) field.setSelectionRange(text.length, text.length);
    else field.select();
    field.addEventListener("keydown", (event) => this.key(/** @type {KeyboardEvent} */ (event), long, fresh));
    field.addEventListener("blur", () => this.finish("stay"));
  }

  /**
   * Lay the field over a cell.
   * @param {import("./range.js").Place} place
   */
  lay(place) {
    if (!this.field) return;
    const box = this.drawing.boxOf(place);
    Object.assign(this.field.style, {
      left: `${box.left}px`,
      top: `${box.top}px`,
      width: `${Math.max(box.width, 120)}px`,
      height: this.field instanceof HTMLTextAreaElement ? "8rem" : `${box.height}px`,
    });
  }

  /**
   * @param {HTMLElement} field
   * @param {import("./rows.js").Column} column
   */
  offer(field, column) {
    field.setAttribute("list", this.list.id);
    if (!column.looks_up) return;
    const ask = async () => {
      const asked = (this.asked += 1);
      const typed = /** @type {HTMLInputElement} */ (field).value;
      const last = typed.split(/[,;]\s*/).pop() ?? "";
      const names = await this.lookUp(column.field, last);
      if (asked !== this.asked) return;
      const before = typed.slice(0, typed.length - last.length);
      this.list.replaceChildren(...names.map((name) => made("option", { value: before + name })));
    };
    field.addEventListener("input", ask);
    ask();
  }

  /**
   * @param {KeyboardEvent} event
   * @param {boolean} long
   * @param {boolean} fresh
   */
  key(event, long, fresh) {
    event.stopPropagation();
    if (event.isComposing) return;
    if (event.key === "Escape") this.cancel();
    else if (event.key === "Tab") this.finish(event.shiftKey ? "left" : "right");
    else if (event.key === "Enter" && !(long && event.altKey)) this.finish(event.shiftKey ? "up" : "down");
    else if (fresh && !this.list.children.length && event.key === "ArrowRight") this.finish("right");
    else return;
    event.preventDefault();
  }

  /** @param {After} after */
  finish(after) {
    const { field } = this;
    if (!field) return;
    const text = field.value;
    this.close();
    this.done(text, after);
  }

  cancel() {
    this.close();
    this.drawing.grid.focus({ preventScroll: true });
  }

  close() {
    const { field } = this;
    this.field = null;
    this.asked += 1;
    field?.remove();
  }
}
