/** What stands on the shore now, read from the phone: the site, its visit, the people out, flags, tide and windows. */
import { openTide } from '../tides/predict.js';
import { nextWindow, shorten, turnBackState } from '../tides/windows.js';
import { clock, length, localDay, msOf } from './words.js';

/** A visit nobody ended is taken as over after this long. */
const VISIT_MS = 16 * 3_600_000;
/** How long before its opening a visit may start on a low water. */
const EARLY_MS = 2 * 3_600_000;
/** Curves are drawn this far to both sides of now. */
const EDGE_MS = 24 * 3_600_000;

/**
 * @typedef {import('../tides/windows.js').Window} Window
 * @typedef {{site: any, visit: any|null, out: {signIn: any, person: any}[], flags: any[], tide: any, windows: Window[],
 *   shiftM: number}} Shore
 */

/**
 * The zone of the site that this phone works on; picks the first site where none is chosen yet.
 * @param {any} phone @returns {Promise<string|null>} null while the site's data have not come
 */
export async function zoneOf(phone) {
  if (!phone.me) return null;
  if (!phone.me.site_id) {
    const [first] = await phone.rows('site', {});
    if (!first) return null;
    await phone.setSite(first.record_id);
  }
  return (await phone.row('site', phone.me.site_id))?.zone ?? null;
}

/** An instant that is there, as milliseconds. @param {string} instant */
const timeOf = (instant) => msOf(instant) ?? 0;

/** @param {any} phone @returns {Promise<any|null>} the visit that runs now, the newest where two run */
export async function runningVisit(phone) {
  const visits = await phone.rows('visit', { siteId: phone.me.site_id });
  const earliest = phone.now() - VISIT_MS;
  return (
    visits
      .filter((/** @type {any} */ visit) => visit.started_at && !visit.ended_at && !visit.joined_to && timeOf(visit.started_at) > earliest)
      .sort((/** @type {any} */ one, /** @type {any} */ other) => timeOf(other.started_at) - timeOf(one.started_at))[0] ?? null
  );
}

/** @param {any} phone @returns {Promise<{signIn: any, person: any}[]>} who is out now, first in first */
export async function peopleOut(phone) {
  const [signIns, people] = await Promise.all([
    phone.rows('sign_in', { siteId: phone.me.site_id }),
    phone.rows('person', { siteId: phone.me.site_id }),
  ]);
  const byId = new Map(people.map((/** @type {any} */ person) => [person.record_id, person]));
  const earliest = phone.now() - VISIT_MS;
  return signIns
    .filter((/** @type {any} */ signIn) => !signIn.out_at && !signIn.no_out_reason && timeOf(signIn.in_at) > earliest)
    .sort((/** @type {any} */ one, /** @type {any} */ other) => timeOf(one.in_at) - timeOf(other.in_at))
    .map((/** @type {any} */ signIn) => ({ signIn, person: byId.get(signIn.person_id) ?? { display_name: 'A person not on this phone yet' } }));
}

/** @param {any} phone @returns {any[]} flags of the site that stand open, act before look */
export function openFlags(phone) {
  /** @type {Record<string, number>} */ const weight = { stop: 0, act: 1, look: 2 };
  return siteFlags(phone)
    .filter((flag) => flag.state === 'open' || flag.state === 'reopened')
    .sort((one, other) => (weight[one.severity] ?? 3) - (weight[other.severity] ?? 3));
}

/** @param {any} phone @returns {any[]} open flags and those settled in the last 30 days */
export const siteFlags = (phone) =>
  (phone.pack()?.sites?.[phone.me.site_id]?.flags ?? []).map((/** @type {any} */ flag) => ({ ...flag, unitId: flag.subject.kind === 'unit' ? flag.subject.id : null }));

/** @param {any} phone @returns {Promise<Shore>} */
export async function readShore(phone) {
  const siteId = phone.me.site_id;
  const [site, visit, out] = await Promise.all([phone.row('site', siteId), runningVisit(phone), peopleOut(phone)]);
  const tide = tideOf(phone);
  return { site, visit, out, flags: openFlags(phone), tide, windows: phone.windows(siteId, null), shiftM: shiftOf(visit, tide) };
}

/**
 * How much higher the water stood than predicted when somebody read it. It may only shorten a window, so never below 0.
 * @param {any} visit @param {any} tide @returns {number} metres
 */
export function shiftOf(visit, tide) {
  if (!tide || visit?.observed_level_m === null || visit?.observed_level_m === undefined || !visit.observed_at) return 0;
  return Math.max(0, visit.observed_level_m - tide.levelAt(Date.parse(visit.observed_at)));
}

/** @param {Shore} shore @param {number} ms @returns {number|null} metres, the allowance and what was read included */
export const waterAt = (shore, ms) =>
  shore.tide && ms >= shore.tide.fromMs && ms <= shore.tide.toMs ? shore.tide.levelAt(ms) + (shore.site.allowance_m ?? 0.2) + shore.shiftM : null;

/** @param {string} zone @param {number} nowMs @param {any[]} signIns @param {string} personId how often somebody came today, this time included */
export const turnOf = (zone, nowMs, signIns, personId) =>
  1 + signIns.filter((one) => one.person_id === personId && localDay(msOf(one.in_at) ?? 0, zone) === localDay(nowMs, zone)).length;

/** @type {WeakMap<object, any>} opened once: the yearly numbers are many */
const opened = new WeakMap();

/** @param {any} phone @returns {any|null} the site's tide; null before the pack came, or once it is too old to know today */
export function tideOf(phone) {
  const numbers = phone.tides(phone.me.site_id);
  if (!numbers) return null;
  if (!opened.has(numbers)) opened.set(numbers, openTide(numbers));
  const tide = opened.get(numbers);
  return phone.now() > tide.fromMs + EDGE_MS && phone.now() < tide.toMs - EDGE_MS ? tide : null;
}

/** @param {Shore} shore @param {number} nowMs @returns {Window|null} the window that is open or opens next */
export const windowFor = (shore, nowMs) => nextWindow(shore.windows, nowMs);

/** The low water that the running visit is on, shorter where the water was read higher than predicted. @param {Shore} shore @returns {Window|null} */
export function visitWindow({ visit, windows, tide, site, shiftM }) {
  const started = msOf(visit?.started_at);
  if (started === null) return null;
  const window = windows.find((one) => one.id !== null && one.id === visit.window_id)
    ?? windows.find((one) => (one.opensMs ?? one.lowMs) - EARLY_MS < started && (one.closesMs ?? one.lowMs) > started);
  return window ? shorten(window, shiftM, tide, site) : null;
}

/**
 * When the running visit must turn back. A low that is no time to be out (too short, dark) still has its times.
 * @param {Shore} shore @param {number} nowMs @returns {{atMs: number}|null}
 */
export function turnBack(shore, nowMs) {
  const window = visitWindow(shore);
  if (!window) return null;
  const atMs = turnBackState(window, nowMs, shore.site.zone).atMs ?? window.backMs ?? window.closesMs;
  return atMs === null ? null : { atMs };
}

/** When each row's ground floods in the low water of now. @param {any} phone @param {string[]} rowIds @param {number} nowMs */
export function floodsAt(phone, rowIds, nowMs) {
  return new Map([...new Set(rowIds)].map((rowId) => {
    const window = phone.windows(phone.me.site_id, rowId).find((/** @type {Window} */ one) => one.closesMs !== null && one.closesMs > nowMs);
    return [rowId, window?.closesMs ?? null];
  }));
}

/** Under every figure that safety hangs on. @param {Shore} shore @param {import('./router.js').Stage} stage @returns {string[]} */
export function whereFrom(shore, { zone, settings }) {
  const { feet } = settings;
  const allowance = shore.site.allowance_m ?? 0.2;
  const read = shore.shiftM > 0 ? `, plus ${length(shore.shiftM, feet)} as read at ${clock(Date.parse(shore.visit.observed_at), zone)}` : '';
  return [
    `Predicted for ${shore.tide?.station.name ?? shore.site.tide_station}, plus ${length(allowance, feet)} allowance${read}.`,
    'Wind, waves, pressure and rain can bring the water sooner: trust what you see, and turn back early.',
  ];
}
