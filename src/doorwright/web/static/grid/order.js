// @ts-check
/** The order of texts as people count ("Flat 2" before "Flat 10"), and whether a text has what is looked for. */

const COUNTING = new Intl.Collator("en", { numeric: true, sensitivity: "base" });

/**
 * Blank texts come last.
 * @param {string} one
 * @param {string} other
 */
export function byNature(one, other) {
  if (!one || !other) return one ? -1 : other ? 1 : 0;
  return COUNTING.compare(one, other);
}

/**
 * What a filter asks of a text: to have it in it; `=text` the whole, `!text` not in it, `=` blank, `!` filled.
 * @param {string} asked
 * @returns {((text: string) => boolean) | null}
 */
export function sieve(asked) {
  const wanted = asked.trim().toLowerCase();
  if (!wanted) return null;
  if (wanted === "=") return (text) => text === "";
  if (wanted === "!") return (text) => text !== "";
  const rest = wanted.slice(1);
  if (wanted.startsWith("=")) return (text) => text.toLowerCase() === rest;
  if (wanted.startsWith("!")) return (text) => !text.toLowerCase().includes(rest);
  return (text) => text.toLowerCase().includes(wanted);
}
