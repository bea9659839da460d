// @ts-check
/**
 * Drawings on the screen: moved, enlarged, walked through by keyboard, and the way to every part in them.
 *
 * An element with `data-drawing` holds one svg. Whatever in it carries `data-part="kind:id"` can be chosen.
 *   data-parts    where the sheets of parts are: what is chosen opens there
 *   data-marks    where the worst finding on each part is told (JSON: worst by id); marks follow the news
 *   data-marked   "no" where the rules were still looking when the page was made
 *   data-beside   id of the element into which a sheet comes, where there is room for it beside the drawing
 *   data-chosen   id of the part that is open
 *   data-from     "ground": a drawing that does not fit legibly is first seen from its lower left corner;
 *                 "head": one with small letters, from its upper left corner
 */

const SVG = "http://www.w3.org/2000/svg";
const CLOSEST_PX = 30; // so large is a millimetre of the drawing at the most
const LEGIBLE_PX = 2; // and so large at the least when it is first seen, or 3 mm letters could not be read
const LETTERS_PX = 3.1; // so large where letters of 2.4 mm are to be read at once
const STEP = 1.35;
const DRAG_PX = 5;
const WIDE = matchMedia("(min-width: 64rem)");
/** @type {Record<string, {path: string, letter: string, y: number}>} */
const MARKS = {
  error: { path: "M-1.9-1.9h3.800v3.800h-3.800z", letter: "E", y: 0.95 },
  warning: { path: "M0-2.500L2.700 1.900H-2.700z", letter: "W", y: 1.4 },
  note: { path: "M-1.900 0a1.900 1.900 0 1 0 3.800 0a1.900 1.900 0 1 0-3.800 0z", letter: "N", y: 0.95 },
};
/** @typedef {{x: number, y: number, width: number, height: number}} Box */
/** @typedef {{scale: number, left: number, top: number, chosen: string, focused: string}} Seen */

/** How each drawing was last seen: one that is fetched anew, as the book has changed, is seen as before.
 * @type {Map<string, Seen>}
 */
const lastSeen = new Map();

class Drawing {
  /** @param {HTMLElement} room */
  constructor(room) {
    this.room = room;
    this.svg = /** @type {SVGSVGElement} */ (room.querySelector("svg"));
    const whole = this.svg.viewBox.baseVal;
    /** @type {Box} */
    this.whole = { x: whole.x, y: whole.y, width: whole.width, height: whole.height };
    this.scale = 1; // pixels for a unit of the drawing
    this.left = 0;
    this.top = 0;
    /** @type {Map<number, {x: number, y: number}>} */
    this.pointers = new Map();
    this.dragged = false;
    /** @type {Map<SVGElement, Box>} */
    this.places = new Map();
    this.svg.setAttribute("width", "100%");
    this.svg.setAttribute("height", "100%");
    this.svg.removeAttribute("preserveAspectRatio");
    if (this.svg.getAttribute("role") === "img") this.svg.setAttribute("role", "group");
    room.classList.add("moved");
    this.parts = /** @type {SVGElement[]} */ ([...this.svg.querySelectorAll("[data-part]")]);
    this.key = room.dataset.marks ?? "";
    const before = this.key ? lastSeen.get(this.key) : undefined;
    if (before && !room.dataset.chosen) room.dataset.chosen = before.chosen;
    this.makeParts();
    this.makeButtons();
    this.listen();
    if (before) this.seeAgain(before);
    else this.first();
    if (room.dataset.chosen) this.choose(room.dataset.chosen);
    if (room.dataset.marked === "no") this.mark();
  }

  // parts

  makeParts() {
    for (const part of this.parts) {
      part.setAttribute("tabindex", "-1");
      if (part.localName !== "a") {
        part.setAttribute("role", "link");
        const title = [...part.children].find((child) => child.localName === "title");
        if (title?.textContent && !part.querySelector("text")) part.setAttribute("aria-label", title.textContent);
      }
    }
    const chosen = this.parts.find((part) => ident(part) === this.room.dataset.chosen);
    (chosen ?? this.parts[0])?.setAttribute("tabindex", "0");
  }

  /**
   * @param {SVGElement} part
   * @returns {Box}
   */
  place(part) {
    let box = this.places.get(part);
    if (!box) {
      const shape = /** @type {SVGGraphicsElement | null} */ (part.localName === "a" ? part.querySelector("rect") : part) ?? part;
      box = /** @type {SVGGraphicsElement} */ (shape).getBBox();
      this.places.set(part, box);
    }
    return box;
  }

  /** @param {SVGElement} part */
  stand(part) {
    this.svg.querySelector("[data-part][tabindex='0']")?.setAttribute("tabindex", "-1");
    part.setAttribute("tabindex", "0");
    this.show(this.place(part));
    part.focus({ preventScroll: true });
  }

  /** The next part in a direction: near, and more ahead than aside.
   * @param {SVGElement} from
   * @param {number} dx
   * @param {number} dy
   */
  next(from, dx, dy) {
    const here = middle(this.place(from));
    let best = null;
    let least = Infinity;
    for (const part of this.parts) {
      if (part === from) continue;
      const there = middle(this.place(part));
      const ahead = (there.x - here.x) * dx + (there.y - here.y) * dy;
      const aside = Math.abs((there.x - here.x) * dy) + Math.abs((there.y - here.y) * dx);
      if (ahead <= 0.5) continue;
      const cost = ahead + 2.5 * aside;
      if (cost < least) [best, least] = [part, cost];
    }
    return best;
  }

  /** @param {SVGElement} part */
  open(part) {
    const address = this.room.dataset.parts;
    if (!address) return;
    const url = address + encodeURIComponent(ident(part));
    const beside = this.room.dataset.beside && document.getElementById(this.room.dataset.beside);
    const htmx = /** @type {any} */ (window).htmx;
    if (!beside || !htmx || !WIDE.matches) {
      location.assign(url);
      return;
    }
    this.choose(ident(part));
    htmx.ajax("GET", url, { source: this.room, target: beside, swap: "innerHTML show:none", push: "true" });
  }

  /** @param {string} id */
  choose(id) {
    this.room.dataset.chosen = id;
    for (const part of this.parts) {
      if (ident(part) === id) part.setAttribute("aria-current", "true");
      else part.removeAttribute("aria-current");
    }
    this.remember();
  }

  // what is seen

  size() {
    return { width: this.room.clientWidth || 1, height: this.room.clientHeight || 1 };
  }

  fitting() {
    const { width, height } = this.size();
    return Math.min(width / this.whole.width, height / this.whole.height);
  }

  fit() {
    const { width, height } = this.size();
    this.scale = this.fitting();
    this.left = this.whole.x - (width / this.scale - this.whole.width) / 2;
    this.top = this.whole.y - (height / this.scale - this.whole.height) / 2;
    this.draw();
  }

  first() {
    this.fit();
    if (this.scale < LEGIBLE_PX && this.room.dataset.from === "ground") {
      const { width, height } = this.size();
      this.scale = LEGIBLE_PX;
      const spareWide = width / this.scale - this.whole.width;
      const spareHigh = height / this.scale - this.whole.height;
      this.left = this.whole.x - Math.max(0, spareWide / 2);
      this.top = this.whole.y - (spareHigh > 0 ? spareHigh / 2 : spareHigh);
      this.draw();
    }
    if (this.scale < LETTERS_PX && this.room.dataset.from === "head") {
      this.scale = LETTERS_PX;
      this.left = this.whole.x + Math.max(0, Math.min(20, this.whole.width - this.size().width / this.scale));
      this.top = this.whole.y + 9;
      this.draw();
    }
    const chosen = this.parts.find((part) => ident(part) === this.room.dataset.chosen);
    if (chosen) this.show(this.place(chosen));
  }

  /** @param {Seen} before */
  seeAgain(before) {
    [this.scale, this.left, this.top] = [before.scale, before.left, before.top];
    this.draw();
    const focused = this.parts.find((part) => ident(part) === before.focused);
    if (focused && document.activeElement === document.body) this.stand(focused);
  }

  draw() {
    const { width, height } = this.size();
    const wide = width / this.scale;
    const high = height / this.scale;
    // the drawing never leaves its room altogether
    const edge = 0.7;
    this.left = clamp(this.left, this.whole.x - wide * edge, this.whole.x + this.whole.width - wide * (1 - edge));
    this.top = clamp(this.top, this.whole.y - high * edge, this.whole.y + this.whole.height - high * (1 - edge));
    this.svg.setAttribute("viewBox", `${this.left} ${this.top} ${wide} ${high}`);
    this.remember();
  }

  remember() {
    if (!this.key || !this.room.isConnected) return;
    const part = partOf(document.activeElement);
    const focused = part && this.svg.contains(part) ? ident(part) : "";
    lastSeen.set(this.key, { scale: this.scale, left: this.left, top: this.top, chosen: this.room.dataset.chosen ?? "", focused });
  }

  /** Enlarge around a point of the room, which stays where it is.
   * @param {number} by
   * @param {number} [x]
   * @param {number} [y]
   */
  zoom(by, x = this.size().width / 2, y = this.size().height / 2) {
    const before = this.scale;
    this.scale = clamp(before * by, this.fitting() * 0.8, Math.max(CLOSEST_PX, this.fitting()));
    this.left += x / before - x / this.scale;
    this.top += y / before - y / this.scale;
    this.draw();
  }

  /**
   * @param {number} x
   * @param {number} y
   */
  move(x, y) {
    this.left -= x / this.scale;
    this.top -= y / this.scale;
    this.draw();
  }

  /** Bring a box into view if it is not.
   * @param {Box} box
   */
  show(box) {
    const { width, height } = this.size();
    const wide = width / this.scale;
    const high = height / this.scale;
    const air = 8 / this.scale;
    if (box.x - air < this.left || box.x + box.width + air > this.left + wide) this.left = box.x + box.width / 2 - wide / 2;
    if (box.y - air < this.top || box.y + box.height + air > this.top + high) this.top = box.y + box.height / 2 - high / 2;
    this.draw();
  }

  // what people do

  makeButtons() {
    const bar = document.createElement("div");
    bar.className = "drawing-bar print-no";
    /** @type {[string, string, () => void][]} */
    const buttons = [
      ["+", "Enlarge", () => this.zoom(STEP)],
      ["−", "Make smaller", () => this.zoom(1 / STEP)],
      ["Fit", "Fit: show all of it", () => this.fit()],
    ];
    for (const [face, title, act] of buttons) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = face;
      button.title = title;
      button.setAttribute("aria-label", title);
      button.addEventListener("click", act);
      bar.append(button);
    }
    this.room.append(bar);
  }

  listen() {
    const { svg } = this;
    svg.addEventListener("wheel", (event) => {
      event.preventDefault();
      const { x, y } = this.at(event);
      if (event.shiftKey && !event.ctrlKey) this.move(-event.deltaY, 0);
      else this.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : event.ctrlKey ? 0.01 : 0.0015)), x, y);
    }, { passive: false });
    svg.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      if (!this.pointers.size) this.dragged = false;
      this.pointers.set(event.pointerId, this.at(event));
    });
    svg.addEventListener("pointermove", (event) => this.drag(event));
    for (const name of /** @type {const} */ (["pointerup", "pointercancel", "pointerleave"])) {
      svg.addEventListener(name, (event) => this.pointers.delete(event.pointerId));
    }
    svg.addEventListener("click", (event) => {
      const part = partOf(event.target);
      if (this.dragged) event.preventDefault();
      if (this.dragged || !part || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.svg.querySelector("[data-part][tabindex='0']")?.setAttribute("tabindex", "-1");
      part.setAttribute("tabindex", "0");
      this.open(part);
    });
    svg.addEventListener("dragstart", (event) => event.preventDefault());
    svg.addEventListener("focusin", (event) => {
      const part = partOf(event.target);
      if (part && part.matches(":focus-visible")) this.show(this.place(part));
    });
    svg.addEventListener("focusin", () => this.remember());
    this.room.addEventListener("keydown", (event) => this.pressed(event));
    new ResizeObserver(() => this.draw()).observe(this.room);
  }

  /** @param {MouseEvent} event */
  at(event) {
    const box = this.room.getBoundingClientRect();
    return { x: event.clientX - box.left - this.room.clientLeft, y: event.clientY - box.top - this.room.clientTop };
  }

  /** @param {PointerEvent} event */
  drag(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = this.at(event);
    if (!this.dragged) {
      if (Math.hypot(now.x - before.x, now.y - before.y) < DRAG_PX && this.pointers.size === 1) return;
      this.dragged = true;
      this.svg.setPointerCapture(event.pointerId);
    }
    const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1];
    this.pointers.set(event.pointerId, now);
    if (!other) {
      this.move(now.x - before.x, now.y - before.y);
      return;
    }
    const apart = Math.hypot(now.x - other.x, now.y - other.y) / (Math.hypot(before.x - other.x, before.y - other.y) || 1);
    this.move((now.x - before.x) / 2, (now.y - before.y) / 2);
    this.zoom(apart, (now.x + other.x) / 2, (now.y + other.y) / 2);
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const part = partOf(event.target);
    /** @type {Record<string, [number, number]>} */
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const way = ways[event.key];
    if (way && part && !event.shiftKey) {
      const next = this.next(part, ...way);
      if (next) this.stand(next);
    } else if (way) this.move(-way[0] * 80, -way[1] * 80);
    else if (event.key === "+" || event.key === "=") this.zoom(STEP);
    else if (event.key === "-") this.zoom(1 / STEP);
    else if (event.key === "0") this.fit();
    else if (event.key === "Home" && this.parts[0]) this.stand(this.parts[0]);
    else if (event.key === "End" && this.parts.length) this.stand(this.parts[this.parts.length - 1]);
    else if ((event.key === "Enter" || event.key === " ") && part) this.open(part);
    else return;
    event.preventDefault();
  }

  // marks

  async mark() {
    const address = this.room.dataset.marks;
    if (!address) return;
    const answer = await fetch(address, { headers: { Accept: "application/json" } });
    if (!answer.ok) return;
    const { worst } = await answer.json();
    for (const part of this.parts) {
      const severity = worst[ident(part)];
      if (part.dataset.worst === severity) continue;
      [...part.children].find((child) => child.classList.contains("mark"))?.remove();
      const title = [...part.children].find((child) => child.localName === "title");
      const words = (title?.textContent ?? "").replace(/\. Worst finding: \w+$/, "");
      if (severity) {
        part.dataset.worst = severity;
        part.append(markOf(severity, this.place(part)));
      } else delete part.dataset.worst;
      if (title) title.textContent = severity ? `${words}. Worst finding: ${severity}` : words;
      if (part.hasAttribute("aria-label")) part.setAttribute("aria-label", title?.textContent ?? "");
    }
  }
}

/**
 * @param {string} severity
 * @param {Box} box
 */
function markOf(severity, box) {
  const { path, letter, y } = MARKS[severity] ?? MARKS.note;
  const mark = document.createElementNS(SVG, "g");
  mark.setAttribute("class", `mark ${severity}`);
  mark.setAttribute("transform", `translate(${box.x + box.width - 0.5} ${box.y + 0.4}) scale(0.8)`);
  const shape = document.createElementNS(SVG, "path");
  shape.setAttribute("d", path);
  const text = document.createElementNS(SVG, "text");
  text.setAttribute("y", String(y));
  text.textContent = letter;
  mark.append(shape, text);
  return mark;
}

/** @param {SVGElement} part */
function ident(part) {
  return (part.dataset.part ?? "").replace(/^[^:]*:/, "");
}

/** @param {EventTarget | null} target */
function partOf(target) {
  return target instanceof Element ? /** @type {SVGElement | null} */ (target.closest("[data-part]")) : null;
}

/** @param {Box} box */
function middle(box) {
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
}

/**
 * @param {number} value
 * @param {number} least
 * @param {number} most
 */
function clamp(value, least, most) {
  return Math.min(Math.max(value, Math.min(least, most)), Math.max(least, most));
}

/** @type {WeakMap<Element, Drawing>} */
const drawings = new WeakMap();

/** Begin with every drawing that is on the page and not begun with yet. */
function begin() {
  for (const room of document.querySelectorAll("[data-drawing]")) {
    if (!drawings.has(room) && room.querySelector("svg")) drawings.set(room, new Drawing(/** @type {HTMLElement} */ (room)));
  }
}

begin();
document.body.addEventListener("htmx:afterSettle", begin); // at once, as the frame sets no delay: nobody sees it as it came
document.body.addEventListener("news:findings", () => {
  for (const room of document.querySelectorAll("[data-drawing][data-marks]")) drawings.get(room)?.mark();
});
