// @ts-check
/** The keyboard, as in the grid pattern of WAI-ARIA and in spreadsheet programs. */

/**
 * @typedef {{edit: (text?: string) => void, clear: () => void, fillDown: () => void, undo: () => void,
 *   redo: () => void}} Does
 */

/**
 * @param {import("./drawing.js").Drawing} drawing
 * @param {import("./range.js").Range} range
 * @param {Does} does
 * @param {() => void} chosen
 */
export function listen(drawing, range, does, chosen) {
  const { grid, frame } = drawing;
  let leaving = false;

  grid.addEventListener("keydown", (event) => {
    if (event.target !== grid || event.isComposing) return;
    const wasLeaving = leaving;
    leaving = event.key === "Escape" || (leaving && event.key === "Shift");
    if (event.key === "Tab" && wasLeaving) return;
    const done = event.ctrlKey || event.metaKey ? withControl(event) : plain(event);
    if (done) event.preventDefault();
  });

  /** @param {KeyboardEvent} event */
  function withControl(event) {
    const { rows, columns } = range.size();
    const { row, column } = event.shiftKey ? range.other : range.active;
    /** @type {Record<string, () => void>} */
    const ways = {
      ArrowDown: () => range.go({ row: rows - 1, column }, event.shiftKey),
      ArrowUp: () => range.go({ row: 0, column }, event.shiftKey),
      ArrowRight: () => range.go({ row, column: columns - 1 }, event.shiftKey),
      ArrowLeft: () => range.go({ row, column: 0 }, event.shiftKey),
      Home: () => range.go({ row: 0, column: 0 }, event.shiftKey),
      End: () => range.go({ row: rows - 1, column: columns - 1 }, event.shiftKey),
      " ": () => range.span({ row: 0, column: range.active.column }, { row: rows - 1, column: range.other.column }),
      a: () => range.span({ row: 0, column: 0 }, { row: rows - 1, column: columns - 1 }),
      d: does.fillDown,
      z: event.shiftKey ? does.redo : does.undo,
      y: does.redo,
    };
    const way = ways[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!way || event.altKey) return false;
    way();
    if (!["z", "y"].includes(event.key.toLowerCase())) {
      if (event.key !== "a") drawing.reveal(range.within(event.shiftKey ? range.other : range.active));
      chosen();
    }
    return true;
  }

  /** @param {KeyboardEvent} event */
  function plain(event) {
    const { rows, columns } = range.size();
    const page = Math.max(1, Math.floor(frame.clientHeight / drawing.height) - 2);
    const held = event.shiftKey;
    const { row, column } = held ? range.other : range.active;
    /** @type {Record<string, () => boolean | void>} */
    const ways = {
      ArrowDown: () => range.step(1, 0, held),
      ArrowUp: () => range.step(-1, 0, held),
      ArrowRight: () => range.step(0, 1, held),
      ArrowLeft: () => range.step(0, -1, held),
      PageDown: () => range.step(page, 0, held),
      PageUp: () => range.step(-page, 0, held),
      Home: () => range.go({ row, column: 0 }, held),
      End: () => range.go({ row, column: columns - 1 }, held),
      Tab: () => range.tab(held ? -1 : 1),
      Enter: () => range.go({ row: range.active.row + (held ? -1 : 1), column: range.began }),
      Escape: () => range.go(range.active),
      F2: () => does.edit(),
      Delete: () => does.clear(),
      Backspace: () => does.clear(),
    };
    if (event.key === " " && held) range.span({ row: range.active.row, column: 0 }, { row: range.other.row, column: columns - 1 });
    else if (event.key.length === 1 && !event.altKey) {
      does.edit(event.key);
      return true;
    } else {
      const way = ways[event.key];
      if (!way || event.altKey || !rows) return false;
      if (way() === false) return false;
      if (event.key === "F2") return true;
      if (!["Tab", "Enter"].includes(event.key)) range.began = range.active.column;
    }
    drawing.reveal(range.within(held && !["Tab", "Enter"].includes(event.key) ? range.other : range.active));
    chosen();
    return true;
  }
}
