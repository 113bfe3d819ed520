/** Names that are computed: entry ids, the chain of a lane, ids of records. */
import { sha1, sha256 } from './hash.js';

/** uuid5(NAMESPACE_URL, "fieldlog"): under it stand the ids that two phones make alike. RFC 9562. */
export const NAMESPACE = '7fdb38e3-e3b9-57fa-8257-a56d68996c27';

/** @param {string} text a line @returns {string} its entry id */
export const entryId = (text) => sha256(text).slice(0, 32);

/** @param {string} previous @param {string} link @returns {string} the next link of a lane's chain */
export const chain = (previous, link) => sha256(previous + link).slice(0, 32);

/** @param {string} digits 32 hex digits */
const dashed = (digits) => digits.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');

/** @param {string} name @returns {string} the same id on every phone for the same name */
export function madeUpId(name) {
  const space = NAMESPACE.replaceAll('-', '').match(/../g) ?? [];
  const bytes = Uint8Array.from([...space.map((pair) => parseInt(pair, 16)), ...new TextEncoder().encode(name)]);
  const digits = sha1(bytes);
  const variant = ((parseInt(digits[16], 16) & 3) | 8).toString(16);
  return dashed(`${digits.slice(0, 12)}5${digits.slice(13, 16)}${variant}${digits.slice(17, 32)}`);
}

/** @param {number} nowMs @param {(bits: number) => string} random hex digits of so many bits @returns {string} a UUIDv7 */
export function newId(nowMs, random) {
  const digits = random(80);
  const variant = ((parseInt(digits[3], 16) & 3) | 8).toString(16);
  return dashed(`${nowMs.toString(16).padStart(12, '0')}7${digits.slice(0, 3)}${variant}${digits.slice(4, 19)}`);
}

/** @param {number} bits a multiple of eight @returns {string} hex digits from the browser's own generator */
export const browserRandom = (bits) => Array.from(
  crypto.getRandomValues(new Uint8Array(bits / 8)), (byte) => byte.toString(16).padStart(2, '0'),
).join('');
