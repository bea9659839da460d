// @ts-check
/** The building's page: the sheet that comes beside the drawing is told, and named in the window's title. */

const htmx = /** @type {any} */ (window).htmx;
if (htmx) {
  // a sheet is a piece of a page: to go back to one is to load its page
  htmx.config.historyCacheSize = 0;
  htmx.config.refreshOnHistoryMiss = true;
}
const site = document.title;

document.body.addEventListener("htmx:afterSwap", (event) => {
  const beside = /** @type {HTMLElement} */ (event.target);
  if (beside.id !== "beside") return;
  const name = beside.querySelector("h1, h2")?.textContent?.trim();
  if (!name) return;
  document.title = `${name} · ${site}`;
  beside.setAttribute("aria-label", name);
  beside.scrollTop = 0;
});
