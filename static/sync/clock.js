/**
 * The stamp that orders entries, as the server's sync/clock.py: 12 hex digits of milliseconds since 1970 UTC, 4 of a
 * counter up to 7fff. Stamps compare as text.
 */

const COUNTER_MAX = 0x7fff;
export const START = '0'.repeat(16);

/** @param {number} ms @param {number} counter */
export const pack = (ms, counter) => ms.toString(16).padStart(12, '0') + counter.toString(16).padStart(4, '0');

/** @param {string} stamp @returns {[number, number]} milliseconds since 1970 UTC, and the counter */
export const unpack = (stamp) => [parseInt(stamp.slice(0, 12), 16), parseInt(stamp.slice(12), 16)];

/** @param {string} stamp @returns {number} milliseconds since 1970 UTC */
export const msOfStamp = (stamp) => unpack(stamp)[0];

/** The next stamp after `last`; a full counter carries into the millisecond. @param {number} nowMs @param {string} last */
export function tick(nowMs, last) {
  const [ms, counter] = unpack(last);
  if (nowMs > ms) return pack(nowMs, 0);
  return counter < COUNTER_MAX ? pack(ms, counter + 1) : pack(ms + 1, 0);
}
