// @ts-check
/** What every page does: news of the book, progress of a job, light or dark. */


// light, dark, or as the system

const LIGHTS = /** @type {const} */ (["system", "light", "dark"]);
const NAMES = { system: "Light: as system", light: "Light: day", dark: "Light: night" };

/** @param {string} light */
function shine(light) {
  if (light === "system") delete document.documentElement.dataset.light;
  else document.documentElement.dataset.light = light;
  const button = document.getElementById("light");
  if (button) button.textContent = NAMES[/** @type {keyof typeof NAMES} */ (light)] ?? NAMES.system;
}

let light = localStorage.getItem("light") ?? "system";
shine(light);
document.getElementById("light")?.addEventListener("click", () => {
  light = LIGHTS[(LIGHTS.indexOf(/** @type {any} */ (light)) + 1) % LIGHTS.length];
  localStorage.setItem("light", light);
  shine(light);
});

// news: each event of the stream becomes an event of the same name on the body, for htmx and for other modules

/**
 * @param {string} address
 * @param {string[]} names
 */
function listen(address, names) {
  const source = new EventSource(address);
  for (const name of names) {
    source.addEventListener(name, (event) => {
      const detail = JSON.parse(/** @type {MessageEvent} */ (event).data);
      document.body.dispatchEvent(new CustomEvent(`news:${name}`, { detail }));
    });
  }
  addEventListener("pagehide", () => source.close());
  return source;
}

const news = document.body.dataset.news;
if (news) {
  // what the rules found before the stream was open is asked for where the page was drawn without it
  const looking = document.querySelector("#tally [data-looking]") ? "?looking=yes" : "";
  const source = listen(news + looking, ["revision", "findings", "work", "asked"]);
  source.addEventListener("open", () => {
    document.body.dataset.listening = "yes"; // from now on nothing is missed
    document.body.dispatchEvent(new CustomEvent("news:open"));
  });
  document.body.addEventListener("news:revision", (event) => {
    const { revision } = /** @type {CustomEvent} */ (event).detail;
    const shown = document.getElementById("revision");
    if (shown) shown.textContent = String(revision);
  });
  document.body.addEventListener("news:findings", (event) => {
    const { counts } = /** @type {CustomEvent} */ (event).detail;
    const tally = document.getElementById("tally");
    if (!tally) return;
    const tags = Object.entries(counts).filter(([, count]) => count);
    tally.replaceChildren(
      ...(tags.length ? tags : [["fine", null]]).map(([severity, count]) => {
        const tag = document.createElement("span");
        tag.className = `tag ${severity}`;
        tag.textContent = count === null ? "no findings" : String(count);
        if (count !== null) {
          const word = document.createElement("span");
          word.className = "word";
          word.textContent = ` ${severity}${count === 1 ? "" : "s"}`;
          tag.append(word);
        }
        return tag;
      }),
    );
  });
}

// a job's page follows the job, and shows what it gave when it ends

const job = /** @type {HTMLElement | null} */ (document.querySelector("[data-job]"));
if (job && ["waiting", "running"].includes(job.dataset.state ?? "")) {
  const address = /** @type {string} */ (job.dataset.job);
  const source = listen(`${address}/news`, ["job"]);
  /** @param {{state: string, step: string}} now */
  const follow = ({ state, step }) => {
    const shown = document.getElementById("step");
    if (shown && step) shown.textContent = step;
    if (!["waiting", "running"].includes(state)) {
      source.close();
      location.replace(address);
    }
  };
  document.body.addEventListener("news:job", (event) => follow(/** @type {CustomEvent} */ (event).detail));
  // what was told before the stream was open
  source.addEventListener("open", () => fetch(`${address}.json`).then((answer) => answer.json()).then(follow));
}

// what could not be done is tried again where it was asked for

const back = /** @type {HTMLAnchorElement | null} */ (document.querySelector("a[data-back]"));
const asked = `asked ${location.pathname}`;
if (back && document.referrer.startsWith(`${location.origin}/`) && document.referrer !== location.href) {
  sessionStorage.setItem(asked, document.referrer);
}
const askedAt = back && sessionStorage.getItem(asked); // the page of a job loads itself again when the job has ended
if (back && askedAt) {
  back.href = askedAt;
  back.hidden = ["waiting", "running"].includes(job?.dataset.state ?? "");
}

// a form that was sent cannot be sent twice by a second press; one that gives a file out leaves the page as it is

document.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (form.method.toLowerCase() !== "post" || form.hasAttribute("hx-post") || "download" in form.dataset) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
});
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => form.removeAttribute("data-sent")));

// on a narrow screen the row of ways begins at the first: the present one is brought into sight

const ways = document.querySelector(".phases");
const here = ways?.querySelector("[aria-current]");
if (ways && here && ways.scrollWidth > ways.clientWidth) {
  ways.scrollLeft = here.getBoundingClientRect().left - ways.getBoundingClientRect().left - ways.clientWidth / 3;
}
