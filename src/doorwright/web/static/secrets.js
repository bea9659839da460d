// @ts-check
/** Secrets that were asked for leave the page by themselves, and passphrases leave their fields once they were used. */

const place = /** @type {HTMLElement | null} */ (document.getElementById("revealed"));
/** @type {ReturnType<typeof setInterval> | undefined} */
let ticking;

function vanish() {
  clearInterval(ticking);
  if (place?.childElementCount) {
    const gone = document.createElement("p");
    gone.className = "quiet";
    gone.textContent = "The secrets are hidden again.";
    place.replaceChildren(gone);
  }
}

function emptyPassphrases() {
  for (const field of document.querySelectorAll("input[type=password]")) /** @type {HTMLInputElement} */ (field).value = "";
}

document.body.addEventListener("htmx:afterSwap", (event) => {
  if (event.target !== place || !place) return;
  emptyPassphrases();
  const shown = /** @type {HTMLElement | null} */ (place.querySelector("[data-vanish-s]"));
  if (!shown) return;
  clearInterval(ticking);
  const end = Date.now() + Number(shown.dataset.vanishS) * 1000;
  const hide = /** @type {HTMLElement | null} */ (shown.querySelector(".vanish"));
  if (hide) {
    hide.hidden = false;
    hide.addEventListener("click", vanish);
  }
  ticking = setInterval(() => {
    const leftS = Math.ceil((end - Date.now()) / 1000);
    const left = shown.querySelector(".left");
    if (left) left.textContent = String(Math.max(leftS, 0));
    if (leftS <= 0) vanish();
  }, 250);
});

// a page that is left, or kept by the browser for the way back, holds nothing
addEventListener("pagehide", () => {
  vanish();
  emptyPassphrases();
});
