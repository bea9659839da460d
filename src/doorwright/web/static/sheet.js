// @ts-check
/** A sheet that can be printed: the button appears only where a script can print. */

for (const button of /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("[data-print]"))) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}

// on paper stands the whole sheet, whatever part of it is on the screen

const svg = /** @type {SVGSVGElement | null} */ (document.querySelector("[data-drawing] svg"));
const whole = /** @type {HTMLElement | null} */ (svg?.closest("[data-drawing]"))?.dataset.whole;
let seen = "";
addEventListener("beforeprint", () => {
  if (!svg || !whole) return;
  seen = svg.getAttribute("viewBox") ?? "";
  svg.setAttribute("viewBox", whole);
});
addEventListener("afterprint", () => {
  if (svg && seen) svg.setAttribute("viewBox", seen);
});
