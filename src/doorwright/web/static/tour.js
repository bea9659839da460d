// @ts-check
/**
 * The tour of a book. Its panel stands in the flow above the page and takes nothing away; each stop is a page.
 *
 * What is remembered in this browser under "tour": the stop that was reached, or "left" once somebody has left it.
 * An address that ends with #tour begins the tour, or goes on with it.
 */

const KEPT = "tour";
const LEFT = "left";

const panel = document.getElementById("tour");
if (panel) begin(panel);

/** @param {HTMLElement} panel */
function begin(panel) {
  const offer = /** @type {HTMLElement} */ (panel.querySelector("[data-tour=offer]"));
  const stops = /** @type {HTMLElement[]} */ ([...panel.querySelectorAll("[data-step]")]);
  const home = panel.dataset.home ?? "";
  const step = location.pathname.slice(home.length + 1).split("/")[0];
  const here = stops.findIndex((stop) => stop.dataset.step === decodeURIComponent(step));
  const isStop = here > 0 || location.pathname === home;

  panel.addEventListener("click", (event) => {
    if (/** @type {HTMLElement} */ (event.target).closest("[data-leave]")) leave();
  });
  panel.addEventListener("keydown", (event) => {
    if (event.key === "Escape") leave();
  });
  addEventListener("hashchange", show);
  show();

  function show() {
    const asked = location.hash === "#tour";
    const kept = localStorage.getItem(KEPT);
    if (asked) keep(isStop ? here : 0);
    else if (kept === LEFT) return;
    else if (kept === null) {
      if (panel.dataset.offer === undefined || location.pathname !== home) return;
      open(offer);
      return;
    } else if (isStop) keep(here);
    const stop = stops[isStop ? here : Number(localStorage.getItem(KEPT))] ?? stops[0];
    for (const one of stop.querySelectorAll("[data-here], [data-look]")) /** @type {HTMLElement} */ (one).hidden = !isStop;
    for (const one of stop.querySelectorAll("[data-return]")) /** @type {HTMLElement} */ (one).hidden = isStop;
    open(stop);
    if (isStop) point(stop.dataset.points ?? "");
    if (asked) panel.focus();
  }

  /** @param {HTMLElement} shown */
  function open(shown) {
    for (const one of [offer, ...stops]) one.hidden = one !== shown;
    panel.hidden = false;
  }

  /** @param {number} stop */
  function keep(stop) {
    localStorage.setItem(KEPT, String(stop));
  }

  function leave() {
    const focused = panel.contains(document.activeElement);
    localStorage.setItem(KEPT, LEFT);
    panel.hidden = true;
    document.querySelector(".pointed")?.classList.remove("pointed");
    if (location.hash === "#tour") history.replaceState(history.state, "", location.pathname + location.search);
    if (focused) document.getElementById("main")?.focus();
  }
}

/** @param {string} selector */
function point(selector) {
  document.querySelector(".pointed")?.classList.remove("pointed");
  const shown = document.querySelector(selector);
  shown?.classList.add("pointed");
  if (shown?.closest(".phases")) shown.scrollIntoView({ block: "nearest", inline: "center" });
}

export {};
