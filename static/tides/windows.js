/**
 * Access windows, recomputed on the phone by the rules of the server's `fieldlog/windows/`: same times, same cautions,
 * same sentences (tests/vectors/windows_cases.json). Times are ms since 1970 UTC on whole seconds, levels metres above
 * chart datum. The phone does no astronomy: the stretches of light come with the pack.
 *
 * @typedef {import('./predict.js').Extreme} Extreme
 * @typedef {import('./predict.js').Crossing} Crossing
 * @typedef {ReturnType<typeof import('./predict.js').openTide>} Tide
 * @typedef {{zone: string, work_level_m: number, route_low_level_m: number, allowance_m?: number|null,
 *   walk_out_min: number, muster_min: number, latest_after_low_min?: number|null, least_usable_min: number,
 *   closures?: import('./cautions.js').Closure[], left_out_m?: number}} Rules a site's row, and the pack's closures of it
 * @typedef {{startsMs: number, endsMs: number}} Light
 * @typedef {{word: string, sentence: string, stops: boolean}} Caution
 * @typedef {'day'|'partly'|'dark'|'polar night'} Daylight
 * @typedef {{id: string|null, lowMs: number, lowM: number, opensMs: number|null, backMs: number|null,
 *   closesMs: number|null, fromMs: number|null, untilMs: number|null, usableMin: number, daylight: Daylight,
 *   safe: boolean, cautions: Caution[], bedLevelM: number|null}} Window
 * @typedef {{atMs: number, levelM: number, beginsMs: number, endsMs: number, isJoined: boolean}} Low
 * @typedef {{isBelowWork: boolean, isRouteDry: boolean, opensMs: number|null, closesMs: number|null,
 *   driesMs: number|null, floodsMs: number|null}} Water
 * @typedef {{fromMs: number, untilMs: number, daylight: Daylight}} Bounds
 */
import { cautionSentence, clock, closureOn, localDay } from './cautions.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
/** How far from a low its crossings are looked for. */
const REACH_MS = 24 * HOUR_MS;
/** Lows nearer than this, with a way to stay out between them, are one window. */
const JOIN_MS = 8 * HOUR_MS;
/** How far beyond the lows asked for the curve is looked at. */
const MARGIN_MS = 36 * HOUR_MS;
const HALF_DAY_MS = 12 * HOUR_MS;
/** Where a site says nothing; our own proposal. */
const ALLOWANCE_M = 0.2;
const WALK_OUT_FACTOR = 1.5;

/** @param {number} ms */
const wholeSecond = (ms) => Math.round(ms / 1000) * 1000;

/** @param {{allowance_m?: number|null}} rules @returns {number} metres */
export const allowanceOf = (rules) => rules.allowance_m ?? ALLOWANCE_M;

/** What no window can be told without; the server asks for the same (`fieldlog/windows/rules.py`). */
const NEEDED = ['work_level_m', 'route_low_level_m', 'walk_out_min', 'muster_min', 'least_usable_min'];

/** Whether a site's record has all the numbers that windows are made from. @param {Record<string, any>|null} site */
export const isComplete = (site) => NEEDED.every((name) => Number.isFinite(site?.[name]));

/** @param {Rules} rules */
const walkMs = (rules) => Math.ceil(WALK_OUT_FACTOR * rules.walk_out_min * 60) * 1000;

/**
 * One window for every low from `fromMs` to `toMs`, usable or not, in time order.
 * @param {Tide} tide @param {Rules} rules @param {Light[]} sun @param {number} fromMs @param {number} toMs
 * @param {number|null} [bedLevelM] a row's level in place of the site's work level
 * @returns {Window[]}
 */
export function accessWindows(tide, rules, sun, fromMs, toMs, bedLevelM = null) {
  const [first, last] = [Math.max(tide.fromMs, fromMs - MARGIN_MS), Math.min(tide.toMs, toMs + MARGIN_MS)];
  const { workM, routeM } = levelsOf(rules, bedLevelM);
  const [work, route] = [tide.crossings(workM, first, last), tide.crossings(routeM, first, last)];
  return lowsOf(tide.extremes(first, last), Math.min(workM, routeM))
    .filter((low) => low.atMs >= fromMs && low.atMs <= toMs)
    .map((low) => {
      const water = waterAround(low, workM, work, routeM, route);
      return windowOf(tide, rules, low, water, lit(low, water, rules, sun), bedLevelM);
    });
}

/**
 * The window after a level was read on the shore: shorter where the water stood higher than predicted, never longer.
 * @param {Window} window @param {number} seenMinusPredictedM @param {Tide} tide @param {Rules} rules
 * @returns {Window}
 */
export function shorten(window, seenMinusPredictedM, tide, rules) {
  if (seenMinusPredictedM <= 0 || window.cautions.some(({ word }) => word === 'above-work' || word === 'same-window')) {
    return window;
  }
  const higher = { ...rules, allowance_m: allowanceOf(rules) + seenMinusPredictedM };
  const { workM, routeM } = levelsOf(higher, window.bedLevelM);
  const [first, last] = [window.lowMs - REACH_MS, window.lowMs + REACH_MS];
  const [from, to] = [Math.max(tide.fromMs, first), Math.min(tide.toMs, last)];
  const low = { atMs: window.lowMs, levelM: window.lowM, beginsMs: first, endsMs: last, isJoined: false };
  const water = waterAround(low, workM, tide.crossings(workM, from, to), routeM, tide.crossings(routeM, from, to));
  const [startsMs, endsMs] = stretchOf(low, water, higher);
  const bounds = {
    fromMs: Math.max(startsMs, window.fromMs ?? Infinity), untilMs: Math.min(endsMs, window.untilMs ?? -Infinity),
    daylight: window.daylight,
  };
  const shorter = windowOf(tide, higher, low, water, bounds, window.bedLevelM);
  const told = { word: 'water-higher', sentence: cautionSentence('water-higher', shorter, higher), stops: false };
  return { ...shorter, id: window.id, cautions: [told, ...shorter.cautions] };
}

/**
 * The window that is open now, or the next to open, of those that nothing stops.
 * @param {Window[]} windows in time order @param {number} nowMs @returns {Window|null}
 */
export const nextWindow = (windows, nowMs) =>
  windows.find((window) => window.safe && window.untilMs !== null && window.untilMs > nowMs) ?? null;

const ENOUGH_MIN = 180;
const ENOUGH_MARGIN_M = 0.5;
const POINTS = { minutes: 50, margin: 20, daylight: 20, weekday: 10 };

/**
 * The windows that nothing stops, best first, of equals the earlier: the same points as the server's windows/ranking.py.
 * @param {Window[]} windows @param {Rules & {visit_weekday?: string|null}} rules
 * @returns {{window: Window, score: number, points: Record<string, number>, marginM: number}[]}
 */
export const ranked = (windows, rules) => windows.filter(({ safe }) => safe).map((window) => rankOf(window, rules))
  .sort((one, other) => other.score - one.score || one.window.lowMs - other.window.lowMs);

/** @param {Window} window @param {Rules & {visit_weekday?: string|null}} rules */
function rankOf(window, rules) {
  const marginM = levelsOf(rules, window.bedLevelM).workM - window.lowM;
  const part = (/** @type {keyof typeof POINTS} */ name, /** @type {number} */ share) => Math.floor(POINTS[name] * Math.min(1, Math.max(0, share)) + 0.5);
  const isWeekend = [0, 6].includes(new Date(localDay(window.lowMs, rules.zone)).getUTCDay());
  const isWanted = !rules.visit_weekday || rules.visit_weekday === 'any' || (rules.visit_weekday === 'weekend') === isWeekend;
  const points = {
    minutes: part('minutes', window.usableMin / ENOUGH_MIN), margin: part('margin', marginM / ENOUGH_MARGIN_M),
    daylight: window.daylight === 'day' ? POINTS.daylight : POINTS.daylight / 2, weekday: isWanted ? POINTS.weekday : 0,
  };
  return { window, points, marginM, score: Object.values(points).reduce((sum, one) => sum + one, 0) };
}

/**
 * When to turn back, and how long that is away: the first of turn-back time, closing, and the last light to walk in.
 * @param {Window} window shortened already by what was read on the shore @param {number} nowMs @param {string} zone
 * @returns {{atMs: number|null, leftMs: number|null, sentence: string}} null where no time is known
 */
export function turnBackState(window, nowMs, zone) {
  const times = [window.untilMs, window.backMs, window.closesMs].filter((at) => at !== null);
  if (!times.length) {
    return { atMs: null, leftMs: null, sentence: 'No turn-back time is known. Agree one with your leader before anyone walks out.' };
  }
  const atMs = Math.min(...times);
  const leftMs = atMs - nowMs;
  const minutes = Math.floor(Math.abs(leftMs) / MINUTE_MS);
  const said = leftMs > 0 ? `Turn back by ${clock(atMs, zone)}: ${minutes} min left.` : `Turn back now: it was due at ${clock(atMs, zone)}, ${minutes} min ago.`;
  return { atMs, leftMs, sentence: said };
}

/**
 * The text whose UUIDv5 is a window's id: the site and the hour of the low.
 * @param {string} siteId @param {number} lowMs
 */
export const windowName = (siteId, lowMs) => `window|${siteId}|${new Date(lowMs).toISOString().slice(0, 13)}`;

/**
 * The stretches of light in the pack's columns of the Sun.
 * @param {{from_day: string, light: number[][]}} columns @returns {Light[]}
 */
export function lightOf(columns) {
  const zeroMs = Date.parse(`${columns.from_day}T00:00:00Z`);
  return columns.light.map(([starts, ends]) => ({ startsMs: zeroMs + starts * MINUTE_MS, endsMs: zeroMs + ends * MINUTE_MS }));
}

/** @param {Rules} rules @param {number|null} bedLevelM the predicted levels at which the work area and the route flood */
const levelsOf = (rules, bedLevelM) => ({
  workM: (bedLevelM ?? rules.work_level_m) - allowanceOf(rules), routeM: rules.route_low_level_m - allowanceOf(rules),
});

/** @param {Extreme[]} extremes in time order @param {number} dryBelowM @returns {Low[]} */
function lowsOf(extremes, dryBelowM) {
  /** @type {number[][]} */
  const groups = [];
  extremes.forEach(({ ms, kind }, place) => {
    if (kind !== 'low') return;
    const before = groups.at(-1)?.at(-1);
    const isNear = before !== undefined && wholeSecond(ms) - wholeSecond(extremes[before].ms) < JOIN_MS;
    if (isNear && Math.max(...extremes.slice(before, place).map((one) => one.level_m)) < dryBelowM) groups.at(-1)?.push(place);
    else groups.push([place]);
  });
  return groups.flatMap((group) => lowsOfGroup(group, extremes));
}

/** @param {number[]} group @param {Extreme[]} extremes @returns {Low[]} */
function lowsOfGroup(group, extremes) {
  const [first, last] = [group[0], group[group.length - 1]];
  const deepest = group.reduce((best, place) => (extremes[place].level_m < extremes[best].level_m ? place : best));
  // Crossings are known a day around the low that carries the stretch: it must not reach beyond what is known.
  const carriesMs = wholeSecond(extremes[deepest].ms);
  const beginsMs = Math.max(carriesMs - REACH_MS, first > 0 ? wholeSecond(extremes[first - 1].ms) : -Infinity);
  const endsMs = Math.min(carriesMs + REACH_MS, last + 1 < extremes.length ? wholeSecond(extremes[last + 1].ms) : Infinity);
  return group.map((place) => ({
    atMs: wholeSecond(extremes[place].ms), levelM: extremes[place].level_m, beginsMs, endsMs, isJoined: place !== deepest,
  }));
}

/**
 * When the curve fell through a level before a low under it, and rises through it after; null as a whole where the dip
 * was too slight to be seen as two crossings.
 * @param {Crossing[]} crossings @param {number} lowMs @returns {[number|null, number|null]|null}
 */
function passagesAround(crossings, lowMs) {
  const next = crossings.findIndex((one) => wholeSecond(one.ms) >= lowMs);
  const after = next < 0 ? undefined : crossings[next];
  const before = next < 0 ? crossings.at(-1) : next > 0 ? crossings[next - 1] : undefined;
  if (before?.rising || after?.rising === false) return null;
  const fell = before && wholeSecond(before.ms);
  const rises = after && wholeSecond(after.ms);
  return [fell !== undefined && lowMs - fell <= REACH_MS ? fell : null, rises !== undefined && rises - lowMs <= REACH_MS ? rises : null];
}

/** @param {Low} low @param {number} workM @param {Crossing[]} work @param {number} routeM @param {Crossing[]} route @returns {Water} */
function waterAround(low, workM, work, routeM, route) {
  const below = low.levelM < workM ? passagesAround(work, low.atMs) : null;
  const dry = low.levelM < routeM ? passagesAround(route, low.atMs) : null;
  const [opensMs, closesMs] = below ?? [null, null];
  const [driesMs, floodsMs] = dry ?? [null, null];
  return { isBelowWork: below !== null, isRouteDry: dry !== null, opensMs, closesMs, driesMs, floodsMs };
}

/** @param {Low} low @param {Water} water @param {Rules} rules @returns {number|null} */
function turnBackMs(low, water, rules) {
  const times = [];
  if (water.floodsMs !== null) times.push(water.floodsMs - walkMs(rules) - Math.ceil(rules.muster_min * 60) * 1000);
  if (typeof rules.latest_after_low_min === 'number') times.push(low.atMs + Math.floor(rules.latest_after_low_min * 60) * 1000);
  return times.length ? Math.min(...times) : null;
}

/** From when to when the water lets people be there. @param {Low} low @param {Water} water @param {Rules} rules @returns {[number, number]} */
function stretchOf(low, water, rules) {
  if (low.isJoined || !water.isBelowWork || !water.isRouteDry) return [Infinity, -Infinity];
  const back = turnBackMs(low, water, rules);
  return [Math.max(low.beginsMs, water.opensMs ?? -Infinity), Math.min(low.endsMs, water.closesMs ?? Infinity, back ?? Infinity)];
}

/** The stretch that water and light leave. @param {Low} low @param {Water} water @param {Rules} rules @param {Light[]} sun @returns {Bounds} */
function lit(low, water, rules, sun) {
  const [startsMs, endsMs] = stretchOf(low, water, rules);
  const none = { fromMs: Infinity, untilMs: -Infinity };
  if (!sun.some((one) => one.startsMs < low.atMs + HALF_DAY_MS && one.endsMs > low.atMs - HALF_DAY_MS)) return { ...none, daylight: 'polar night' };
  if (startsMs >= endsMs) {
    const hasLight = sun.some((one) => one.startsMs <= low.atMs && low.atMs <= one.endsMs);
    return { fromMs: startsMs, untilMs: endsMs, daylight: hasLight ? 'day' : 'dark' };
  }
  const cuts = sun
    .filter((one) => one.startsMs < endsMs && one.endsMs > startsMs)
    .map((one) => ({ fromMs: Math.max(startsMs, one.startsMs), untilMs: Math.min(endsMs, one.endsMs - walkMs(rules)) }));
  if (!cuts.length) return { ...none, daylight: 'dark' };
  const longest = cuts.reduce((best, one) => (one.untilMs - one.fromMs > best.untilMs - best.fromMs ? one : best));
  const isWhole = longest.fromMs === startsMs && longest.untilMs === endsMs;
  return { ...longest, daylight: isWhole ? 'day' : 'partly' };
}

/**
 * @param {Tide} tide @param {Rules} rules @param {Low} low @param {Water} water @param {Bounds} bounds
 * @param {number|null} bedLevelM @returns {Window}
 */
function windowOf(tide, rules, low, water, bounds, bedLevelM) {
  const isOpen = water.isBelowWork && !low.isJoined;
  const isUsable = bounds.untilMs > bounds.fromMs;
  /** @type {Window} */
  const window = {
    id: null, lowMs: low.atMs, lowM: low.levelM,
    opensMs: isOpen ? water.opensMs : null,
    backMs: isOpen && water.isRouteDry ? turnBackMs(low, water, rules) : null,
    closesMs: isOpen ? water.closesMs : null,
    fromMs: isUsable ? bounds.fromMs : null,
    untilMs: isUsable ? bounds.untilMs : null,
    usableMin: isUsable ? Math.floor((bounds.untilMs - bounds.fromMs) / MINUTE_MS) : 0,
    daylight: bounds.daylight, safe: false, cautions: [], bedLevelM,
  };
  const stops = stopsOf(window, low, water, rules);
  const minds = isOpen ? mindsOf(window, low, water, rules) : [];
  if (tide.isEstimated) minds.push('estimated');
  if (tide.warnings.length) minds.push('incomplete');
  minds.push('predicted');
  const filled = { ...rules, allowance_m: allowanceOf(rules), left_out_m: tide.leftOutM };
  window.cautions = [...stops, ...minds].map((word, place) => ({
    word, sentence: cautionSentence(word, window, filled), stops: place < stops.length,
  }));
  window.safe = !stops.length;
  return window;
}

/** The reasons for which this window is not one to use. @param {Window} window @param {Low} low @param {Water} water @param {Rules} rules @returns {string[]} */
function stopsOf(window, low, water, rules) {
  if (low.isJoined) return ['same-window'];
  if (!water.isBelowWork) return ['above-work'];
  const words = closureOn(rules, window.lowMs)?.stops ? ['closed'] : [];
  const least = rules.least_usable_min;
  if (!water.isRouteDry) words.push('route-wet');
  else if (window.backMs !== null && window.opensMs !== null && window.backMs <= window.opensMs) words.push('turn-back-first');
  if (window.daylight === 'dark') words.push('dark');
  if (window.daylight === 'polar night') words.push('polar-night');
  if (dryMin(window, water) < least && least <= window.usableMin) words.push('route-late');
  if (!words.length && window.usableMin < Math.max(least, 1)) words.push('short');
  return words;
}

/** What to mind. @param {Window} window @param {Low} low @param {Water} water @param {Rules} rules @returns {string[]} */
function mindsOf(window, low, water, rules) {
  const words = closureOn(rules, window.lowMs)?.stops === false ? ['care'] : [];
  const dry = dryMin(window, water);
  if (window.usableMin > dry && dry >= rules.least_usable_min) words.push('route-late');
  if (window.daylight === 'partly' && window.fromMs !== null) words.push('partly');
  const { opensMs, closesMs } = water;
  if (opensMs === null || closesMs === null || opensMs < low.beginsMs || closesMs > low.endsMs) words.push('stays-below');
  if (water.isRouteDry && water.floodsMs === null) words.push('route-stays-dry');
  return words;
}

/** The usable minutes that are left once the route is dry. @param {Window} window @param {Water} water */
function dryMin(window, water) {
  if (window.fromMs === null || window.untilMs === null || water.driesMs === null) return window.usableMin;
  return Math.max(0, Math.floor((window.untilMs - Math.max(window.fromMs, water.driesMs)) / MINUTE_MS));
}
