/**
 * Access windows, recomputed on the phone by the rule of the server's `fieldlog/windows/exposures.py`: same times, same
 * cautions, same sentences (tests/vectors/windows_cases.json). Times are ms since 1970 UTC, whole minutes turned inward
 * but the low's own; levels metres above chart datum. The phone does no astronomy: the stretches of light come with the
 * pack.
 *
 * @typedef {import('./predict.js').Extreme} Extreme
 * @typedef {import('./predict.js').Crossing} Crossing
 * @typedef {ReturnType<typeof import('./predict.js').openTide>} Tide
 * @typedef {{zone: string, work_level_m: number, route_low_level_m: number, allowance_m?: number|null, walk_out_min:
 *   number, muster_min: number, latest_after_low_min?: number|null, least_usable_min: number, closures?:
 *   import('./cautions.js').Closure[], constants?: import('./constants.js').Constants|null, left_out_m?: number}} Rules
 *   a site's row, and the pack's closures and constants of it
 * @typedef {{startsMs: number, endsMs: number}} Light
 * @typedef {{word: string, sentence: string, stops: boolean}} Caution
 * @typedef {'day'|'partly'|'dark'|'polar night'} Daylight
 * @typedef {{id: string|null, lowMs: number, lowM: number, opensMs: number|null, backMs: number|null, backWord:
 *   import('./turning.js').BackWord|null, closesMs: number|null, driesMs: number|null, leaveMs: number|null, fromMs:
 *   number|null, untilMs: number|null, usableMin: number, daylight: Daylight, safe: boolean, cautions: Caution[],
 *   bedLevelM: number|null}} Window backMs: when all turn back, one for the low; driesMs: the path; leaveMs: when a row
 *   is left, null where the window is the site's
 * @typedef {{atMs: number, levelM: number, beginsMs: number, endsMs: number, isJoined: boolean}} Low
 * @typedef {{isBelow: boolean, opensMs: number|null, closesMs: number|null}} Ground
 * @typedef {{isDry: boolean, driesMs: number|null, floodsMs: number|null, walkedMs: number|null}} Path
 * @typedef {{fromMs: number, untilMs: number, daylight: Daylight, light: Light|null}} Bounds
 * @typedef {{low: Low, path: Path, site: Ground, siteLow: Low, ground: Ground, reopensMs: number|null, shutsMs:
 *   number|null}} Around
 * @typedef {{byWaterMs: number, backMs: number|null, backWord: import('./turning.js').BackWord|null}} TurnBack
 */
import { instant } from '../instants.js';
import { rounded } from '../rounding.js';
import { cautionSentence, closureOn } from './cautions.js';
import { constantsOf } from './constants.js';
import { BACK_WORDS, MINUTE_MS, closedBeside, down, inLight, musterMs, outMs, up, walkMs } from './turning.js';

/** How far from a low its crossings are looked for. @param {Pick<Rules, 'constants'>} rules */
const reachMs = (rules) => constantsOf(rules).reach_s * 1000;

/** @param {number} ms */
export const wholeSecond = (ms) => Math.round(ms / 1000) * 1000;

/**
 * @param {{allowance_m?: number|null, constants?: import('./constants.js').Constants|null}} rules
 * @returns {number} metres
 */
export const allowanceOf = (rules) => rules.allowance_m ?? constantsOf(rules).allowance_m;

/** What no window can be told without; the server asks for the same (`fieldlog/windows/rules.py`). */
const NEEDED = ['work_level_m', 'route_low_level_m', 'walk_out_min', 'muster_min', 'least_usable_min'];

/** @template {Record<string, any>} Row @param {Row|null|undefined} site @returns {site is Row & Rules} all is there */
export const isComplete = (site) => NEEDED.every((name) => Number.isFinite(site?.[name]));

/**
 * One window for every low from `fromMs` to `toMs`, usable or not, in time order.
 * @param {Tide} tide @param {Rules} rules @param {Light[]} sun @param {number} fromMs @param {number} toMs
 * @param {number|null} [bedLevelM] a row's level in place of the site's work level
 * @returns {Window[]}
 */
export function accessWindows(tide, rules, sun, fromMs, toMs, bedLevelM = null) {
  const marginMs = constantsOf(rules).margin_s * 1000;
  const [first, last] = [Math.max(tide.fromMs, fromMs - marginMs), Math.min(tide.toMs, toMs + marginMs)];
  const { workM, siteM, routeM } = levelsOf(rules, bedLevelM);
  const crossed = (/** @type {number} */ levelM) => tide.crossings(levelM, first, last);
  const [work, site, route] = [crossed(workM), workM === siteM ? null : crossed(siteM), crossed(routeM)];
  const extremes = tide.extremes(first, last);
  const within = (/** @type {Low} */ low) => low.atMs >= fromMs && low.atMs <= toMs;
  const lows = lowsOf(extremes, Math.min(workM, routeM), rules).filter(within);
  const siteLows = site ? lowsOf(extremes, Math.min(siteM, routeM), rules).filter(within) : lows;
  return lows.map((low, n) => {
    const ground = groundOf(low, workM, work, rules);
    const around = {
      low, path: pathOf(low, routeM, route, rules), ground, site: site ? groundOf(low, siteM, site, rules) : ground,
      siteLow: siteLows[n],
      ...closedBeside(rules, low.atMs),
    };
    const back = turnBackOf(around, rules, sun);
    const bounds = lit(around, around.ground, low, back, rules, sun);
    return windowOf(tide, rules, around, inLight(back, bounds, rules), bounds, bedLevelM);
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
  const { workM, siteM, routeM } = levelsOf(higher, window.bedLevelM);
  const [first, last] = [window.lowMs - reachMs(rules), window.lowMs + reachMs(rules)];
  const crossed = (/** @type {number} */ levelM) => tide.crossings(levelM, Math.max(tide.fromMs, first),
    Math.min(tide.toMs, last));
  const whole = { atMs: window.lowMs, levelM: window.lowM, beginsMs: first, endsMs: last, isJoined: false };
  // The light has had its say in the window, and so has the stretch that the low owns: within it all is light, or
  // nothing is.
  const low = { ...whole, beginsMs: window.fromMs ?? first, endsMs: window.backMs ?? last };
  const around = {
    low, siteLow: low, path: pathOf(low, routeM, crossed(routeM), higher),
    ground: groundOf(low, workM, crossed(workM), higher),
    site: groundOf(low, siteM, crossed(siteM), higher), ...closedBeside(higher, low.atMs),
  };
  const sun = window.fromMs === null ? [] : [{ startsMs: -Infinity, endsMs: Infinity }];
  const fresh = turnBackOf(around, higher, sun);
  const isSame = window.backMs !== null && !(fresh.backMs !== null && fresh.backMs < window.backMs);
  const back = isSame ? { ...fresh, backMs: window.backMs, backWord: window.backWord } : fresh;
  const bounds = { ...lit(around, around.ground, low, fresh, higher, sun), daylight: window.daylight };
  const shorter = windowOf(tide, higher, { ...around, low: whole }, back, bounds, window.bedLevelM);
  const told = { word: 'water-higher', sentence: cautionSentence('water-higher', shorter, higher), stops: false };
  return { ...shorter, id: window.id, cautions: [told, ...shorter.cautions] };
}

/**
 * The window that is open now, or the next to open, of those that nothing stops.
 * @param {Window[]} windows in time order @param {number} nowMs @returns {Window|null}
 */
export const nextWindow = (windows, nowMs) =>
  windows.find((window) => window.safe && window.untilMs !== null && window.untilMs > nowMs) ?? null;

/**
 * The text whose UUIDv5 is a window's id: the site and the hour of the low.
 * @param {string} siteId @param {number} lowMs
 */
export const windowName = (siteId, lowMs) => `window|${siteId}|${instant(lowMs).slice(0, 13)}`;

/**
 * The stretches of light in the pack's columns of the Sun.
 * @param {{from_day: string, light: number[][]}} columns @returns {Light[]}
 */
export function lightOf(columns) {
  const zeroMs = Date.parse(`${columns.from_day}T00:00:00Z`);
  return columns.light.map(([starts, ends]) =>
    ({ startsMs: zeroMs + starts * MINUTE_MS, endsMs: zeroMs + ends * MINUTE_MS }));
}

/**
 * The predicted levels at which a row, the work area and the path flood.
 * @param {Rules} rules @param {number|null} bedLevelM
 */
const levelsOf = (rules, bedLevelM) => ({
  workM: (bedLevelM ?? rules.work_level_m) - allowanceOf(rules), siteM: rules.work_level_m - allowanceOf(rules),
  routeM: rules.route_low_level_m - allowanceOf(rules),
});

/** @param {Extreme[]} extremes in time order @param {number} dryBelowM @param {Rules} rules @returns {Low[]} */
function lowsOf(extremes, dryBelowM, rules) {
  const joinMs = constantsOf(rules).join_s * 1000;
  /** @type {number[][]} */
  const groups = [];
  extremes.forEach(({ ms, kind }, place) => {
    if (kind !== 'low') return;
    const before = groups.at(-1)?.at(-1);
    const isNear = before !== undefined && wholeSecond(ms) - wholeSecond(extremes[before].ms) < joinMs;
    if (isNear && Math.max(...extremes.slice(before, place).map(({ level_m }) => level_m)) < dryBelowM) groups.at(-1)
      ?.push(place);
    else groups.push([place]);
  });
  return groups.flatMap((group) => lowsOfGroup(group, extremes, reachMs(rules)));
}

/** @param {number[]} group @param {Extreme[]} extremes @param {number} mostMs @returns {Low[]} */
function lowsOfGroup(group, extremes, mostMs) {
  const [first, last] = [group[0], group[group.length - 1]];
  const deepest = group.reduce((best, place) => (extremes[place].level_m < extremes[best].level_m ? place : best));
  // Crossings are known a day around the low that carries the stretch: it must not reach beyond what is known.
  const carriesMs = wholeSecond(extremes[deepest].ms);
  const beginsMs = Math.max(carriesMs - mostMs, first > 0 ? wholeSecond(extremes[first - 1].ms) : -Infinity);
  const endsMs = Math.min(carriesMs + mostMs,
    last + 1 < extremes.length ? wholeSecond(extremes[last + 1].ms) : Infinity);
  return group.map((place) => ({
    atMs: wholeSecond(extremes[place].ms), levelM: extremes[place].level_m, beginsMs, endsMs,
    isJoined: place !== deepest,
  }));
}

/**
 * When the curve fell through a level before a low under it, and rises through it after; null as a whole where the dip
 * was too slight to be seen as two crossings.
 * @param {Crossing[]} crossings @param {number} lowMs @param {number} mostMs @returns {[number|null, number|null]|null}
 */
function passagesAround(crossings, lowMs, mostMs) {
  const next = crossings.findIndex((crossing) => wholeSecond(crossing.ms) >= lowMs);
  const after = next < 0 ? undefined : crossings[next];
  const before = next < 0 ? crossings.at(-1) : next > 0 ? crossings[next - 1] : undefined;
  if (before?.rising || after?.rising === false) return null;
  const fell = before && wholeSecond(before.ms);
  const rises = after && wholeSecond(after.ms);
  return [
    fell !== undefined && lowMs - fell <= mostMs ? fell : null,
    rises !== undefined && rises - lowMs <= mostMs ? rises : null,
  ];
}

/**
 * When ground that floods at a predicted level is dry around a low, whole minutes turned inward.
 * @param {{atMs: number, levelM: number}} low @param {number} levelM @param {Crossing[]} crossings
 * @param {Pick<Rules, 'constants'>} rules @returns {Ground}
 */
export function groundOf(low, levelM, crossings, rules) {
  const passed = low.levelM < levelM ? passagesAround(crossings, low.atMs, reachMs(rules)) : null;
  const [fell, rises] = passed ?? [null, null];
  return { isBelow: passed !== null, opensMs: fell === null ? null : up(fell),
    closesMs: rises === null ? null : down(rises) };
}

/** @param {Low} low @param {number} levelM @param {Crossing[]} crossings @param {Rules} rules @returns {Path} */
function pathOf(low, levelM, crossings, rules) {
  const { isBelow, opensMs, closesMs } = groundOf(low, levelM, crossings, rules);
  return { isDry: isBelow, driesMs: opensMs, floodsMs: closesMs,
    walkedMs: opensMs === null ? null : up(opensMs + outMs(rules)) };
}

/**
 * When all turn back from a low, whatever the ground.
 * @param {Around} around @param {Rules} rules @param {Light[]} sun @returns {TurnBack}
 */
function turnBackOf(around, rules, sun) {
  const { low, path, site, siteLow, shutsMs } = around;
  const isOpen = site.isBelow && !siteLow.isJoined;
  /** @type {Record<string, number>} */
  const reasons = {
    path: path.floodsMs === null ? Infinity : down(path.floodsMs - walkMs(rules) - musterMs(rules)),
    work: isOpen ? site.closesMs ?? Infinity : Infinity, light: Infinity,
    latest: typeof rules.latest_after_low_min === 'number'
      ? down(low.atMs + Math.floor(rules.latest_after_low_min * 60) * 1000) : Infinity,
    closure: shutsMs ?? Infinity,
    high: isOpen ? down(siteLow.endsMs) : Infinity,
  };
  const byWaterMs = Math.min(...Object.values(reasons));
  const { light } = lit(around, site, siteLow, { byWaterMs, backMs: null, backWord: null }, rules, sun);
  if (light) reasons.light = down(light.endsMs - walkMs(rules));
  const backMs = Math.min(...Object.values(reasons));
  return Number.isFinite(backMs) ? { byWaterMs, backMs,
    backWord: BACK_WORDS.find((word) => reasons[word] === backMs) ?? null }
    : { byWaterMs, backMs: null, backWord: null };
}

/**
 * From when to when the water and the rules let people be on some ground.
 * @param {Around} around @param {Ground} ground @param {Low} low @param {number} byWaterMs @returns {[number, number]}
 */
function stretchOf({ path, reopensMs }, ground, low, byWaterMs) {
  if (low.isJoined || !ground.isBelow || !path.isDry) return [Infinity, -Infinity];
  const starts = [up(low.beginsMs), ground.opensMs, path.walkedMs, reopensMs].map((at) => at ?? -Infinity);
  return [Math.max(...starts), Math.min(down(low.endsMs), ground.closesMs ?? Infinity, byWaterMs)];
}

/**
 * The stretch that water, light and turning back leave, the longest where it has light twice, and that light.
 * @param {Around} around @param {Ground} ground @param {Low} low @param {TurnBack} back @param {Rules} rules
 * @param {Light[]} sun @returns {Bounds}
 */
function lit(around, ground, low, back, rules, sun) {
  const [startsMs, endsMs] = stretchOf(around, ground, low, back.byWaterMs);
  const none = { fromMs: Infinity, untilMs: -Infinity, light: null };
  const whole = sun.map((light) => ({ startsMs: up(light.startsMs), endsMs: down(light.endsMs) }));
  const lightMs = constantsOf(rules).light_reach_s * 1000;
  const hasLight = whole.some((light) => light.startsMs < low.atMs + lightMs && light.endsMs > low.atMs - lightMs);
  if (startsMs >= endsMs) {
    const light = whole.find((light) => light.startsMs <= low.atMs && low.atMs <= light.endsMs) ?? null;
    return { ...none, light, daylight: !hasLight ? 'polar night' : light ? 'day' : 'dark' };
  }
  if (!hasLight) return { ...none, daylight: 'polar night' };
  const cuts = whole.filter((light) => light.startsMs < endsMs && light.endsMs > startsMs).map((light) => ({
    light, fromMs: Math.max(startsMs, up(light.startsMs + outMs(rules))),
    untilMs: Math.min(endsMs, back.backMs ?? Infinity, down(light.endsMs - walkMs(rules))),
  }));
  if (!cuts.length) return { ...none, daylight: 'dark' };
  const longest = cuts.reduce((best, cut) => (cut.untilMs - cut.fromMs > best.untilMs - best.fromMs ? cut : best));
  return { ...longest, daylight: longest.fromMs === startsMs && longest.untilMs === endsMs ? 'day' : 'partly' };
}

/**
 * @param {Tide} tide @param {Rules} rules @param {Around} around @param {TurnBack} back @param {Bounds} bounds
 * @param {number|null} bedLevelM @returns {Window}
 */
function windowOf(tide, rules, around, back, bounds, bedLevelM) {
  const { low, ground, path } = around;
  const isOpen = ground.isBelow && !low.isJoined;
  const isUsable = bounds.untilMs > bounds.fromMs;
  /** @type {Window} */
  const window = {
    id: null, lowMs: low.atMs, lowM: Number(rounded(low.levelM, 3)), // whole millimeters, as a pack carries them
    opensMs: isOpen ? ground.opensMs : null,
    backMs: isOpen ? back.backMs : null,
    backWord: isOpen ? back.backWord : null,
    closesMs: isOpen ? ground.closesMs : null,
    driesMs: isOpen ? path.driesMs : null,
    leaveMs: bedLevelM === null || !isOpen ? null : leaveMs(around, back, isUsable ? bounds.untilMs : null),
    fromMs: isUsable ? bounds.fromMs : null,
    untilMs: isUsable ? bounds.untilMs : null,
    usableMin: isUsable ? Math.floor((bounds.untilMs - bounds.fromMs) / MINUTE_MS) : 0,
    daylight: bounds.daylight, safe: false, cautions: [], bedLevelM,
  };
  const stops = stopsOf(window, around, rules);
  const minds = isOpen ? mindsOf(window, around, rules) : [];
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

/**
 * When a row is left, used or not.
 * @param {Around} around @param {TurnBack} back @param {number|null} untilMs @returns {number|null}
 */
function leaveMs({ low, path, ground }, back, untilMs) {
  if (untilMs !== null) return untilMs;
  const ends = Math.min(ground.closesMs ?? Infinity, back.backMs ?? Infinity,
    path.isDry ? Math.min(down(low.endsMs), back.byWaterMs) : Infinity);
  return Number.isFinite(ends) ? ends : null;
}

/**
 * The reasons for which this window is not one to use.
 * @param {Window} window @param {Around} around @param {Rules} rules @returns {string[]}
 */
function stopsOf(window, { low, ground, path }, rules) {
  if (low.isJoined) return ['same-window'];
  if (!ground.isBelow) return ['above-work'];
  const words = closureOn(rules, window.lowMs)?.stops ? ['closed'] : [];
  if (!path.isDry) words.push('route-wet');
  else if (window.backMs !== null && window.opensMs !== null && window.backMs <= window.opensMs)
    words.push('turn-back-first');
  if (window.daylight === 'dark') words.push('dark');
  if (window.daylight === 'polar night') words.push('polar-night');
  if (!words.length && window.usableMin < Math.max(rules.least_usable_min, 1)) words.push('short');
  return words;
}

/** What to mind. @param {Window} window @param {Around} around @param {Rules} rules @returns {string[]} */
function mindsOf(window, { low, ground, path }, rules) {
  const words = closureOn(rules, window.lowMs)?.stops === false ? ['care'] : [];
  const { opensMs, closesMs } = ground;
  const isLater = path.walkedMs !== null && (opensMs === null ? window.fromMs !== null : path.walkedMs > opensMs);
  if (isLater && (window.fromMs === null || window.fromMs === path.walkedMs)) words.push('route-late');
  if (window.daylight === 'partly' && window.fromMs !== null) words.push('partly');
  if (opensMs === null || closesMs === null || opensMs < up(low.beginsMs) || closesMs > down(low.endsMs))
    words.push('stays-below');
  if (path.isDry && path.floodsMs === null) words.push('route-stays-dry');
  return words;
}
