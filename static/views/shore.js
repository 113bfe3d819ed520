/** What stands on the shore now, read from the phone: the site, its visit, the people out, flags, tide and windows. */
import { knows, openTide } from '../tides/predict.js';
import { constantsOf, rulesOf } from '../tides/constants.js';
import { backReason, down, turnBackState, walkMs } from '../tides/turning.js';
import { accessWindows, allowanceOf, isComplete, lightOf, nextWindow, shorten } from '../tides/windows.js';
import { basisOf } from './allowance.js';
import { partedOut, partyOf, peopleOut } from './heads.js';
import { isLeft, leftFlags } from './left-out.js';
import { named, rowName } from './names.js';
import { flagCounts, openFlags } from './open-flags.js';
import { asRead, endedOf, idsOf, onItsLow, readVisits, runningOf } from './visits.js';
import { clock, counted, day, knownZone, length, localDay, msOf } from './words.js';

/** How long before its opening a visit may start on a low water. */
const EARLY_MS = 2 * 3_600_000;
/** A visit is started on one of the lows of the next thirty hours. */
const NEAR_MS = 36 * 3_600_000;
/** Curves are drawn this far to both sides of now. */
const EDGE_MS = 24 * 3_600_000;

/**
 * @typedef {import('../tides/windows.js').Window} Window
 * @typedef {import('./heads.js').Out} Out
 * @typedef {import('../tides/windows.js').Tide} Tide
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {import('./shore-known.js').Shore} Shore
 * @typedef {{atMs: number, reason: string|null, readMin: number, slowerMin: number, crowdMin: number}} Back
 *   readMin, slowerMin, crowdMin: how much it came forward
 */

/**
 * The zone of the site that this phone works on; picks the first site where none is chosen yet.
 * @param {import('./router.js').AnyPhone} phone
 * @returns {Promise<string|null>} null while the site's data have not come, or name no zone that this phone knows
 */
export async function zoneOf(phone) {
  if (!phone.me) return null;
  if (!phone.me.site_id) {
    const [first] = await phone.rows('site', {});
    if (!first) return null;
    await phone.setSite(first.record_id);
  }
  return knownZone((await phone.row('site', phone.me.site_id))?.zone);
}

const timeOf = (/** @type {string|null|undefined} */ instant) => msOf(instant) ?? 0;

/**
 * @param {import('./router.js').Phone} phone
 * @returns {Promise<Visit|null>} the visit that runs now, the newest where two run
 */
export const runningVisit = async (phone) => runningOf(phone, await readVisits(phone));

/**
 * The visit that the turn-back alarm is of: the one that runs, else one that was ended while somebody of it is still
 * out.
 * @param {import('./router.js').Phone} phone @returns {Promise<Visit|null>}
 */
export async function alarmVisit(phone) {
  const known = await readVisits(phone);
  const running = runningOf(phone, known);
  if (running) return running;
  const out = await peopleOut(phone);
  return endedOf(phone, known).find((visit) => partyOf(visit, known.visits, out).length) ?? null;
}

/**
 * The rows whose ground is known, metres above chart datum.
 * @param {import('./router.js').Phone} phone @returns {Promise<{name: string, bedM: number}[]>}
 */
export async function rowLevels(phone) {
  const levels = phone.pack()?.sites?.[phone.me.site_id ?? '']?.windows?.levels ?? {};
  const rows = await phone.rows('row', { siteId: phone.me.site_id });
  return rows.map((row) => ({ name: rowName(row), bedM: levels[row.record_id]?.bed_level_m }))
    .flatMap(({ name, bedM }) => (typeof bedM === 'number' ? [{ name, bedM }] : []));
}

/**
 * @param {import('./router.js').Phone} phone @param {Visit|null} [of] the visit, where it is not the one that runs
 * @returns {Promise<Shore>}
 */
export async function readShore(phone, of) {
  const siteId = phone.me.site_id;
  const [record, known, everyone, words] = await Promise.all([
    phone.row('site', siteId), readVisits(phone), peopleOut(phone), phone.rows('level_word', { siteId }),
  ]);
  const [windows, tide] = [phone.windows(siteId, null), tideOf(phone)];
  const visit = onItsLow(asRead(of ?? runningOf(phone, known), known.visits), known.visits, windows);
  const packed = phone.pack()?.sites?.[siteId ?? ''];
  const site = record ? rulesOf(record, packed) : null;
  const ids = visit ? idsOf(visit, known.visits) : new Set();
  const [seenM, allowsM] = [seenOf(visit, tide), allowedOf(words, visit, ids)];
  // A walk of another day stands in no time that was planned with: it moves no time of today.
  const timed = known.visits.filter((visit) => ids.has(visit.record_id))
    .map((visit) => visit.walk_timed_min).filter((window) => typeof window === 'number');
  const forgotten = everyone.filter((stay) => isLeft(stay, phone.now()));
  const flags = [...leftFlags(phone, forgotten, knownZone(record?.zone) ?? 'UTC'), ...openFlags(phone)];
  return {
    site, visit, ...partedOut(visit, known, everyone, phone.now()), flags,
    openCount: (flagCounts(phone).open ?? openFlags(phone).length) + flags.length - openFlags(phone).length, tide,
    windows, light: packed?.sun ? lightOf(packed.sun) : [],
    seenM, allowsM, shiftM: shiftOf(seenM, allowsM, allowanceOf(site ?? {})),
    slowestMin: timed.length ? Math.max(...timed) : null,
  };
}

/**
 * The last reading of a visit less the prediction for its moment.
 * @param {Visit|null} visit @param {Tide|null} tide
 * @returns {number|null} metres; null where nobody read, or on a datum that the tide does not speak
 */
export function seenOf(visit, tide) {
  if (!tide || visit?.observed_level_m === null || visit?.observed_level_m === undefined || !visit.observed_at)
    return null;
  if (visit.level_datum && visit.level_datum !== tide.station.chart_datum) return null;
  const atMs = Date.parse(visit.observed_at);
  return knows(tide, atMs, atMs) ? visit.observed_level_m - tide.levelAt(atMs) : null;
}

/**
 * How much lower water a lead lets count on a visit: the newest word, and only one said after the reading.
 * @param {import('../records/rows.js').LevelWord[]} words @param {Visit|null} visit
 * @param {Set<string|null|undefined>} [ids] of the visits that are one with it @returns {number} metres
 */
export function allowedOf(words, visit, ids = new Set([visit?.record_id])) {
  const counting = words.filter((word) => visit && ids.has(word.of_visit_id)
    && (msOf(word.said_at) ?? 0) >= (msOf(visit.observed_at) ?? Infinity));
  return counting.sort((one, other) => timeOf(other.said_at) - timeOf(one.said_at))[0]?.allows_m ?? 0;
}

/**
 * What of a reading counts: higher water always, lower water only as far as a lead says, and never more than the
 * allowance.
 * @param {number|null} seenM @param {number} allowsM @param {number} allowanceM @returns {number} metres
 */
export const shiftOf = (seenM, allowsM, allowanceM) => (seenM === null ? 0
  : Math.max(seenM, -Math.min(allowsM, allowanceM)) || 0);

/**
 * The water as it stands, no allowance in it: predicted, and as much higher or lower as it was read on this visit.
 * @param {Shore} shore @param {number} ms @returns {number|null} metres
 */
export const waterAt = (shore, ms) => (knows(shore.tide, ms, ms)
  ? shore.tide.levelAt(ms) + (shore.seenM ?? 0) : null);

/**
 * The water now, and how that is known: "predicted 0.49 m at 08:12", or "read 1.00 m at 08:00, about 0.92 m now".
 * @param {Shore} shore @param {number} nowMs @param {{zone: string, settings: {feet: boolean}}} stage
 * @returns {{level: string, how: string, sentence: string}}
 */
export function waterNow(shore, nowMs, { zone, settings }) {
  const level = waterAt(shore, nowMs);
  if (level === null) return { level: 'not known', how: '', sentence: 'not known' };
  const levelWord = length(level, settings.feet);
  const { visit, seenM } = shore;
  if (seenM === null || typeof visit?.observed_level_m !== 'number') return { level: levelWord, how: 'predicted',
    sentence: `predicted ${levelWord} at ${clock(nowMs, zone)}` };
  const read = `read ${length(visit.observed_level_m, settings.feet)} at `
    + `${clock(timeOf(visit.observed_at), zone)}`;
  return { level: levelWord, how: read, sentence: `${read}, about ${levelWord} now` };
}

/**
 * @param {string} zone @param {number} nowMs @param {import('../records/rows.js').SignIn[]} signIns
 * @param {string} personId how often somebody came today, this time included
 */
export const turnOf = (zone, nowMs, signIns, personId) =>
  1 + signIns.filter((signIn) => signIn.person_id === personId
    && localDay(msOf(signIn.in_at) ?? 0, zone) === localDay(nowMs, zone)).length;

/** @type {WeakMap<object, Tide>} opened once: the yearly numbers are many */
const opened = new WeakMap();

/**
 * @param {import('./router.js').Phone} phone
 * @returns {Tide|null} the site's tide; null before the pack came, or once it is too old to know today
 */
export function tideOf(phone) {
  const numbers = phone.tides(phone.me.site_id);
  if (!numbers) return null;
  const tide = opened.get(numbers) ?? openTide(numbers);
  opened.set(numbers, tide);
  return knows(tide, phone.now() - EDGE_MS, phone.now() + EDGE_MS) ? tide : null;
}

/** @param {Shore} shore @param {number} nowMs @returns {Window|null} the window that is open or opens next */
export const windowFor = (shore, nowMs) => nextWindow(shore.windows, nowMs);

/** The low water that the running visit is on, as it was predicted. @param {Shore} shore @returns {Window|null} */
export function plannedWindow({ visit, windows }) {
  const started = msOf(visit?.started_at);
  if (!visit || started === null) return null;
  const isIts = (/** @type {Window} */ window) => window.id !== null && window.id === visit.window_id;
  // To name a low takes time: those near the start first, all only for one that lies elsewhere.
  const near = windows.filter((window) => Math.abs(window.lowMs - started) < NEAR_MS);
  return (visit.window_id ? near.find(isIts) ?? windows.find(isIts) : null)
    ?? windows.find(({ opensMs, closesMs, lowMs }) => (opensMs ?? lowMs) - EARLY_MS < started
      && (closesMs ?? lowMs) > started)
      ?? null;
}

/**
 * The low water that the running visit is on, shorter where the water was read higher than predicted.
 * @param {Shore} shore @returns {Window|null}
 */
export function visitWindow(shore) {
  const { tide, site, shiftM, light } = shore;
  const window = plannedWindow(shore);
  if (!window || !isComplete(site)) return null;
  if (!tide) return window; // no reading is held against what is not predicted
  if (shiftM >= 0) return shorten(window, shiftM, tide, site);
  const lower = { ...site, allowance_m: allowanceOf(site) + shiftM };
  const [longer] = accessWindows(tide, lower, light, window.lowMs - 60_000, window.lowMs + 60_000, window.bedLevelM);
  return longer ? { ...longer, id: window.id } : window;
}

/**
 * When the running visit must turn back, why, and what this visit knows that moved it: a reading, a walk that was timed
 * slower than the site says, a crowd to gather, the night before a window's second day. A low that is no time to be out
 * still has its times.
 * @param {Shore} shore @param {number} nowMs @returns {Back|null}
 */
export function turnBack(shore, nowMs) {
  const { site, visit } = shore;
  if (!isComplete(site)) return null;
  const [planned, window] = [plannedWindow(shore), visitWindow(shore)];
  const state = window ? turnBackState(window, nowMs, site) : null;
  // Of a low that leaves nothing dry once the water was read, the time it had is all that is known: it has come.
  const atMs = state?.atMs ?? (planned?.backMs != null && shore.shiftM > 0
    ? Math.min(planned.backMs, down(timeOf(visit?.observed_at))) : null);
  if (atMs === null) return null;
  const nightMs = lastLightOf(shore, site);
  const isNight = nightMs !== null && nightMs < atMs;
  const lit = (/** @type {number} */ ms) => Math.min(ms, nightMs ?? Infinity);
  const { slowerMin, crowdMin } = extraMinutes(site, shore.slowestMin, shore.party.length);
  return {
    atMs: lit(atMs) - (slowerMin + crowdMin) * MINUTE_MS,
    reason: isNight ? backReason('light', nightMs, site, nowMs) : state?.atMs == null
      ? 'at the level read, the work area does not fall dry on this low' : state.reason,
    readMin: planned?.backMs != null ? Math.round((lit(planned.backMs) - lit(atMs)) / MINUTE_MS) : 0,
    slowerMin, crowdMin,
  };
}

/** A low in one line: when its minutes run, and why where it has none. @param {Window} window @param {string} zone */
export const lowWords = (window, zone) =>
  `${day(window.lowMs, zone)}, ${window.fromMs !== null && window.backMs !== null ? `${clock(window.fromMs, zone)} to `
    + `${clock(window.backMs, zone)}` : `low ${clock(window.lowMs, zone)}, no usable time`}`;

/**
 * The low that a visit most likely starts on: the one under way, else the next with usable time, else the next.
 * @param {Window[]} near in order of time @param {number} nowMs @returns {Window|undefined}
 */
export const lowToStart = (near, nowMs) =>
  near.find((window) => window.opensMs !== null && window.opensMs <= nowMs && nowMs < (window.closesMs ?? window.lowMs))
    ?? near.find((window) => window.fromMs !== null && window.backMs !== null) ?? near[0];

/** From when the path is dry, or that it stays dry or wet. @param {Window} one @param {string} zone */
export function pathWords({ driesMs, usableMin, cautions }, zone) {
  const has = (/** @type {string} */ asked) => cautions.some(({ word }) => word === asked);
  if (driesMs !== null) return clock(driesMs, zone);
  if (has('route-wet')) return 'stays wet';
  if (has('route-stays-dry')) return 'dry all the time';
  return usableMin > 0 ? 'over a day before' : 'not known';
}

/**
 * ": last light is 17:45, and ...", or nothing where no reason is known.
 * @param {Window} window @param {Shore['site']} site @param {number} nowMs
 */
export const reasonOf = (window, site, nowMs) => {
  const reason = isComplete(site) ? backReason(window.backWord, window.backMs, site, nowMs) : null;
  return reason ? `: ${reason}` : '';
};

/**
 * Last light of the day on which the visit started, less the walk in.
 * @param {Shore} shore @param {import('../tides/windows.js').Rules} site @returns {number|null}
 */
function lastLightOf({ visit, light }, site) {
  const started = msOf(visit?.started_at) ?? 0;
  const day = light.find((light) => light.startsMs <= started && started < light.endsMs);
  return day ? down(day.endsMs - walkMs(site)) : null;
}

/**
 * What moved the time to turn back on this visit, a sentence each.
 * @param {Back} back @param {Shore} shore @param {{settings: {feet: boolean}}} stage @returns {string[]}
 */
function whatMoved({ readMin, slowerMin, crowdMin }, shore, { settings }) {
  const moved = (/** @type {number} */ minutes) => `${Math.abs(minutes)} min ${minutes > 0 ? 'earlier' : 'later'}`;
  const seen = length(Math.abs(shore.shiftM), settings.feet);
  return [
    readMin > 0 ? `${moved(readMin)}: the water was read ${seen} higher than predicted.` : null,
    readMin < 0 ? `${moved(readMin)}: the water was read lower, and a lead lets ${seen} of it count.` : null,
    slowerMin ? `${moved(slowerMin)}: the walk took ${shore.slowestMin} min, the site says `
      + `${shore.site?.walk_out_min}.` : null,
    crowdMin ? `${moved(crowdMin)}: to gather ${counted(shore.party.length, 'person', 'people')}.` : null,
  ].filter((line) => line !== null);
}

/**
 * Why the time to turn back is what it is, a sentence each: its reason, and what moved it on this visit.
 * @param {Back} back @param {Shore} shore @param {{settings: {feet: boolean}}} stage @returns {string[]}
 */
export function whyBack(back, shore, stage) {
  const reason = back.reason ? [`${back.reason[0].toUpperCase()}${back.reason.slice(1)}.`] : [];
  return [...reason, ...whatMoved(back, shore, stage)];
}

/**
 * The time to turn back with all that makes it: a reason alone would be another minute's.
 * @param {Back} back @param {Shore} shore @param {{zone: string, settings: {feet: boolean}}} stage
 */
export const backWords = (back, shore, stage) => [
  `Turn back by ${clock(back.atMs, stage.zone)}${back.reason ? `: ${back.reason}` : ''}.`,
  ...whatMoved(back, shore, stage),
].join(' ');

const MINUTE_MS = 60_000;
/** The site's muster is for so many people; each further one takes half a minute to gather. Our own proposal. */
const MUSTERED = 10;

/**
 * Minutes beside the site's own: a walk that took longer than it says, stretched as it is, and more people than it
 * musters.
 * @param {{walk_out_min: number, constants?: import('../tides/constants.js').Constants|null}} site
 * @param {number|null} slowestMin @param {number} people
 */
export const extraMinutes = (site, slowestMin, people) => ({
  slowerMin: Math.ceil(constantsOf(site).walk_out_factor * Math.max(0, (slowestMin ?? 0) - site.walk_out_min)),
  crowdMin: Math.ceil(Math.max(0, people - MUSTERED) / 2),
});

/**
 * Under every figure that safety hangs on.
 * @param {Shore} shore @param {import('./router.js').Stage} stage @returns {string[]}
 */
export function whereFrom(shore, { zone, settings }) {
  const { feet } = settings;
  const allowance = allowanceOf(shore.site ?? {});
  const at = shore.visit?.observed_at ? clock(Date.parse(shore.visit.observed_at), zone) : '';
  const read = shore.shiftM > 0 ? `, and ${length(shore.shiftM, feet)} more as read at ${at}` : shore.shiftM < 0
    ? `, less ${length(-shore.shiftM, feet)} as read at ${at}, allowed by a lead` : '';
  return [
    `Predicted for ${shore.tide?.station.name ?? named(shore.site?.tide_station, 'a port that is not chosen yet')}. `
      + `All times include a reserve of ${length(allowance, feet)} (${basisOf(shore.site ?? {})})${read}.`,
    'Wind, waves, pressure and rain can bring the water sooner: trust what you see, and turn back early.',
  ];
}
