/**
 * Instants as text, 2026-11-25T06:12:00.000Z: one form, as fieldlog/instants.py has it, so that texts are equal where
 * moments are, and sort as moments do.
 */

/** @param {number} ms since 1970 UTC @returns {string} in the form that rows have */
export const instant = (ms) => new Date(ms).toISOString();

const WITHOUT_MS = '2026-11-25T06:12:00Z'.length;

/**
 * A field's value as its record has it: the check takes an instant with milliseconds and without, a row has it with
 * them. The names of all fields that are instants end in `_at`, and of no others.
 * @param {string} name @param {any} value
 */
export function normal(name, value) {
  const isShort = name.endsWith('_at') && typeof value === 'string' && value.length === WITHOUT_MS;
  return isShort ? `${value.slice(0, -1)}.000Z` : value;
}
