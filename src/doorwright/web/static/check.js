// @ts-check
/**
 * Findings that stay up to date. While the rules are looking, the page waits for them. When they have looked again, it
 * shows what they find, unless somebody is filling something in: then it says so and leaves the page alone.
 */

const shown = () => /** @type {HTMLElement | null} */ (document.querySelector("[data-checked]"));

function show() {
  const { htmx } = /** @type {any} */ (window);
  // the address holds the filter as it is now
  htmx.ajax("GET", location.pathname + location.search, { target: "#checked", select: "#checked", swap: "outerHTML" });
}

/** @param {HTMLElement} region */
function isInUse(region) {
  if (region.contains(document.activeElement) && document.activeElement?.matches("input, select, textarea")) return true;
  if (region.querySelector(".accepting form, details.about[open]")) return true;
  const passphrase = /** @type {HTMLInputElement | null} */ (region.querySelector("input[type=password]"));
  return Boolean(passphrase?.value);
}

document.body.addEventListener("news:findings", () => {
  const region = shown();
  if (!region || !region.hasAttribute("data-live")) return;
  const stale = document.getElementById("stale");
  if (!region.hasAttribute("data-looking") && isInUse(region)) {
    if (stale) stale.hidden = false;
  } else show();
});
document.addEventListener("click", (event) => {
  if (/** @type {Element} */ (event.target).closest("[data-show]")) show();
});
// the rules may have ended before this page began to listen
if (shown()?.hasAttribute("data-looking")) setTimeout(() => shown()?.hasAttribute("data-looking") && show(), 1500);
