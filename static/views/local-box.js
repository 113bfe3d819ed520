/** The browser's box for a day and a time, on the site's clock. */

/** @type {Map<string, Intl.DateTimeFormat>} by zone: one is slow to make */
const formats = new Map();

/**
 * A moment as a box for day and time has it.
 * @param {number} ms @param {string} zone @returns {string} 2026-11-26T14:04
 */
export function localText(ms, zone) {
  const format = formats.get(zone) ?? new Intl.DateTimeFormat('en-CA', {
    timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit',
    hourCycle: 'h23',
  });
  formats.set(zone, format);
  const parts = format.formatToParts(ms);
  const part = (/** @type {string} */ type) => parts.find((part) => part.type === type)?.value ?? '';
  return `${part('year')}-${part('month')}-${part('day')}T${part('hour')}:${part('minute')}`;
}

/**
 * The moment that such a box means at the site; of the hour that a clock shows twice, the first.
 * @param {string} text @param {string} zone @returns {number|null}
 */
export function msOfLocal(text, zone) {
  const shown = Date.parse(`${text}Z`);
  if (Number.isNaN(shown)) return null;
  const ahead = (/** @type {number} */ ms) => Date.parse(`${localText(ms, zone)}Z`) - Math.floor(ms / 60_000) * 60_000;
  const first = shown - Math.max(ahead(shown - 86_400_000), ahead(shown + 86_400_000));
  return localText(first, zone) === text.slice(0, 16) ? first : shown - ahead(first);
}
