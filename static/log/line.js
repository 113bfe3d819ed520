/**
 * The line: JSON text that a phone writes once and nobody re-serialises. Its members stand in a fixed order, since its
 * bytes are its name.
 *
 * @typedef {{lane: string, number: number, stamp: string, person: string|null, kind: string, record: string,
 *   site: string|null, visit: string|null, fields: Record<string, any>, bases: Record<string, string[]>,
 *   offset: [number, string, number]|null, random?: string, fixes?: string|null, reopens?: string|null}} Said
 */
import { sha1, sha256 } from './hash.js';

/*
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

/**
 * The next stamp after `last`; a full counter carries into the millisecond.
 * @param {number} nowMs @param {string} last
 */
export function tick(nowMs, last) {
  const [ms, counter] = unpack(last);
  if (nowMs > ms) return pack(nowMs, 0);
  return counter < COUNTER_MAX ? pack(ms, counter + 1) : pack(ms + 1, 0);
}

/* Names that are computed: entry ids, the chain of a lane, ids of records. */

/** uuid5(NAMESPACE_URL, "fieldlog"): under it stand the ids that two phones make alike. RFC 9562. */
export const NAMESPACE = '7fdb38e3-e3b9-57fa-8257-a56d68996c27';

/** @param {string} text a line @returns {string} its entry id */
export const entryId = (text) => sha256(text).slice(0, 32);

/** @param {string} previous @param {string} link @returns {string} the next link of a lane's chain */
export const chain = (previous, link) => sha256(previous + link).slice(0, 32);

/**
 * A lane is named by its key, which stays between this phone and the server: whoever shows the key wrote the lane.
 * @param {string} key 32 hex digits @returns {string}
 */
export const laneName = (key) => `k-${sha256(`fieldlog lane ${key}`).slice(0, 32)}`;

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

/**
 * @param {number} nowMs @param {(bits: number) => string} random hex digits of so many bits @returns {string} a UUIDv7
 */
export function newId(nowMs, random) {
  const digits = random(80);
  const variant = ((parseInt(digits[3], 16) & 3) | 8).toString(16);
  return dashed(`${nowMs.toString(16).padStart(12, '0')}7${digits.slice(0, 3)}${variant}${digits.slice(4, 19)}`);
}

/**
 * A name that says of which site its record is: version 8 of RFC 9562, its last 32 bits a check over the site. What
 * stands before the check is the older name's, but for its version.
 * @param {string} id of version 5 or 7 @param {string|null} site @returns {string}
 */
export function nameOfSite(id, site) {
  const digits = id.replaceAll('-', '');
  const rest = `${digits.slice(0, 12)}8${digits.slice(13, 24)}`;
  return dashed(rest + siteCheck(site, rest));
}

/** @param {string|null} site @param {string} rest the first 24 hex digits of a name */
const siteCheck = (site, rest) => sha256(`${site ?? ''}|${rest}`).slice(0, 8);

/**
 * Whether a record of this name may be of this site; older names may be of any.
 * @param {string} id @param {string|null} site
 */
export function nameFits(id, site) {
  const digits = id.replaceAll('-', '');
  return digits.length !== 32 || digits[12] !== '8' || digits.slice(24) === siteCheck(site, digits.slice(0, 24));
}

/** @param {number} bits a multiple of eight @returns {string} hex digits from the browser's own generator */
export const browserRandom = (bits) => Array.from(
  crypto.getRandomValues(new Uint8Array(bits / 8)), (byte) => byte.toString(16).padStart(2, '0'),
).join('');

/** @param {Said} said @returns {string} */
export function lineOf(said) {
  /** @type {Record<string, any>} */ const line = {
    v: 1, d: said.lane, n: said.number, s: said.stamp, u: said.person, t: said.kind, r: said.record, g: said.site,
    y: said.visit, f: said.fields, b: said.bases, o: said.offset,
  };
  if (said.random) line.k = said.random;
  if (said.fixes) line.fixes = said.fixes;
  if (said.reopens) line.reopens = said.reopens;
  return JSON.stringify(line);
}

/** @param {string} text @returns {any} what a line says, null where it is no entry */
export function parsed(text) {
  try {
    const said = JSON.parse(text);
    const isEntry = said && typeof said === 'object' && said.f && typeof said.f === 'object' && !Array.isArray(said.f);
    return isEntry ? said : null;
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

/**
 * Whether only leads read what a line says. A person's line carries random bits too, so that nobody guesses the name in
 * it from the line's own.
 * @param {any} said as `parsed` gave it
 */
export const isPrivate = (said) => Boolean(said?.k) && said.t !== 'person';

/**
 * The same entry under another lane and number.
 * @param {any} said as `parsed` gave it @param {string} id its old id @param {string} lane @param {number} number
 * @param {Map<string, string>} renamed old ids to new ones, of entries that were moved before it
 */
export function moved(said, id, lane, number, renamed) {
  said.d = lane;
  said.n = number;
  said.was = id;
  said.b = Object.fromEntries(Object.entries(said.b ?? {}).map(
    ([name, ids]) => [name, /** @type {string[]} */ (ids).map((base) => renamed.get(base) ?? base)],
  ));
  for (const name of ['fixes', 'reopens']) if (said[name]) said[name] = renamed.get(said[name]) ?? said[name];
  return JSON.stringify(said);
}

/** @param {string} kind @param {string} record @returns {string} one text for both */
export const recordKey = (kind, record) => `${kind}|${record}`;
