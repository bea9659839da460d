// @ts-check
/**
 * The service worker of the run sheet: it lets the page be opened again while the server does not answer.
 *
 * The server always comes first; what it last gave is shown only where it gives nothing. Records are none of its
 * business: they wait in the page's own database.
 */

const worker = /** @type {any} */ (self);
const KEPT = "run-sheet-1";
const ANSWER_WITHIN_MS = 5000;

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));

/** @param {Response} answer */
const isGood = (answer) => answer.ok && !answer.redirected && answer.type === "basic";

worker.addEventListener("message", (/** @type {any} */ event) => {
  const keepAll = async () => {
    const kept = await caches.open(KEPT);
    for (const address of event.data.keep) {
      const answer = await fetch(address).catch(() => null);
      if (answer && isGood(answer)) await kept.put(address, answer);
    }
    event.ports[0]?.postMessage("kept");
  };
  event.waitUntil(keepAll());
});

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  /** @type {Request} */
  const request = event.request;
  const address = new URL(request.url);
  const isPage = request.mode === "navigate" && address.pathname.endsWith("/run-sheet");
  const isOurs = address.origin === worker.location.origin && address.pathname.startsWith("/static/");
  if (request.method === "GET" && (isPage || isOurs)) event.respondWith(serverFirst(request, isPage));
});

/**
 * @param {Request} request
 * @param {boolean} isPage
 */
async function serverFirst(request, isPage) {
  const kept = await caches.open(KEPT);
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ANSWER_WITHIN_MS);
  try {
    const answer = await fetch(request, { signal: stop.signal });
    if (isGood(answer)) await kept.put(request.url.split("#")[0], answer.clone());
    return answer;
  } catch (error) {
    const old = (await kept.match(request.url)) ?? (isPage ? await kept.match(request.url, { ignoreSearch: true }) : undefined);
    if (old) return old;
    throw error;
  } finally {
    clearTimeout(timer);
  }
}
