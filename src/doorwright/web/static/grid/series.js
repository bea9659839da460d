// @ts-check
/** What stands below cells when they are drawn on: a number goes on counting, anything else comes again. */

const NUMBERED = /^(.*?)(-?\d+)$/s;

/**
 * The texts that follow some texts.
 * @param {string[]} given
 * @param {number} count
 * @returns {string[]}
 */
export function continued(given, count) {
  const next = counting(given);
  return Array.from({ length: count }, (_, at) => (next ? next(at) : given[at % given.length]));
}

/**
 * @param {string[]} given
 * @returns {((at: number) => string) | null}
 */
function counting(given) {
  if (given.length < 2) return null;
  const found = given.map((text) => NUMBERED.exec(text));
  const [first] = found;
  if (!first || found.some((one) => !one || one[1] !== first[1])) return null;
  const numbers = found.map((one) => Number(/** @type {RegExpExecArray} */ (one)[2]));
  const step = numbers[1] - numbers[0];
  if (step === 0 || numbers.some((number, at) => number !== numbers[0] + at * step)) return null;
  const width = first[2].startsWith("0") ? first[2].length : 0;
  const last = numbers[numbers.length - 1];
  return (at) => {
    const number = last + (at + 1) * step;
    return first[1] + (number < 0 ? String(number) : String(number).padStart(width, "0"));
  };
}
