/** The tide as a picture: the curve, the time that is open, now, and where to turn back. SVG only. */
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { clock, length, localDay } from './words.js';

const STEP_MS = 6 * 60_000;
const HOUR_MS = 3_600_000;
const NARROW = { wide: 358, high: 176 };
const WIDE = { wide: 640, high: 260 };
const FLOOR = 28; // room under the curve for the hours

/**
 * @typedef {{at: (ms: number) => number, fromMs: number, toMs: number, nowMs: number, window: import('./shore.js').Window|null,
 *   backMs: number|null, workM: number|null, zone: string, feet: boolean, wide: boolean}} CurveOf
 */

/** @param {CurveOf} of */
function scales({ at, fromMs, toMs, workM, wide }) {
  const { wide: width, high } = wide ? WIDE : NARROW;
  const points = [];
  for (let ms = fromMs; ms <= toMs; ms += STEP_MS) points.push([ms, at(ms)]);
  const levels = points.map(([, level]) => level).concat(workM ?? []);
  const [low, top] = [Math.min(...levels), Math.max(...levels)];
  const room = Math.max(top - low, 0.2);
  return {
    width, high, points,
    x: (/** @type {number} */ ms) => ((ms - fromMs) / (toMs - fromMs)) * width,
    y: (/** @type {number} */ level) => 44 + (1 - (level - low) / room) * (high - FLOOR - 56),
  };
}

/** Hours along the bottom, no more than fit. @param {CurveOf} of @param {(ms: number) => number} x @param {number} high */
function hours({ fromMs, toMs, zone, wide }, x, high) {
  const every = Math.ceil((toMs - fromMs) / HOUR_MS / (wide ? 8 : 5)) * HOUR_MS;
  const marks = [];
  for (let ms = Math.ceil(fromMs / HOUR_MS) * HOUR_MS; ms < toMs; ms += every) {
    if (x(ms) > 14 && x(ms) < x(toMs) - 18) marks.push(ms);
  }
  return marks.map((ms) => svg`<text class="mid" x=${x(ms).toFixed(1)} y=${high - 6}>${clock(ms, zone)}</text>`);
}

/** A label beside an upright line, on the side where there is room. */
const beside = (/** @type {number} */ x, /** @type {number} */ y, /** @type {number} */ width, /** @type {string} */ of, /** @type {string} */ words) =>
  x > width - 122
    ? svg`<text class="end ${of}" x=${(x - 6).toFixed(1)} y=${y}>${words}</text>`
    : svg`<text class=${of} x=${(x + 6).toFixed(1)} y=${y}>${words}</text>`;

/** The work level's name, at the end where the curve is further away, on the side where the curve is not. */
function levelName(/** @type {CurveOf & {workM: number}} */ { at, fromMs, toMs, workM, feet }, /** @type {(ms: number) => number} */ x, /** @type {(level: number) => number} */ y, /** @type {number} */ width) {
  const room = HOUR_MS;
  const [left, right] = [at(fromMs + room) - workM, at(toMs - room) - workM];
  const isLeft = Math.abs(left) > Math.abs(right);
  const below = (isLeft ? left : right) > 0;
  return svg`<text class=${isLeft ? '' : 'end'} x=${isLeft ? 2 : width - 2} y=${(y(workM) + (below ? 16 : -6)).toFixed(1)}>work ${length(workM, feet)}</text>`;
}

/**
 * @param {CurveOf} of
 * `at` gives the level in metres, the allowance included.
 */
export function tideCurve(of) {
  const { at, fromMs, toMs, nowMs, window: open, backMs, workM, zone } = of;
  const { width, high, points, x, y } = scales(of);
  const line = points.map(([ms, level], n) => `${n ? 'L' : 'M'}${x(ms).toFixed(1)} ${y(level).toFixed(1)}`).join('');
  const bottom = high - FLOOR;
  const [opens, closes] = [open?.opensMs ?? null, open?.closesMs ?? null];
  const inside = (/** @type {number|null} */ ms) => ms !== null && ms >= fromMs && ms <= toMs;
  const left = opens === null ? null : x(Math.max(opens, fromMs));
  const right = opens === null ? 0 : x(Math.min(closes ?? toMs, toMs));
  const words = opens === null ? 'no time below the work level' : `below the work level from ${clock(opens, zone)}${closes ? ` to ${clock(closes, zone)}` : ''}`;
  return html`<svg class="curve" viewBox="0 0 ${width} ${high}" role="img" aria-label="Predicted tide from ${clock(fromMs, zone)} to ${clock(toMs, zone)}, ${words}${backMs ? `, turn back at ${clock(backMs, zone)}` : ''}">
    <path class="under" d="${line}L${width} ${bottom}L0 ${bottom}Z"/>
    ${left === null || right <= left ? nothing : svg`<rect class="open" x=${left.toFixed(1)} y="30" width=${(right - left).toFixed(1)} height=${bottom - 30}/>
      <line class="bound" x1=${left.toFixed(1)} x2=${left.toFixed(1)} y1="30" y2=${bottom}/><line class="bound" x1=${right.toFixed(1)} x2=${right.toFixed(1)} y1="30" y2=${bottom}/>`}
    ${workM === null ? nothing : svg`<line class="level" x1="0" x2=${width} y1=${y(workM).toFixed(1)} y2=${y(workM).toFixed(1)}/>${levelName({ ...of, workM }, x, y, width)}`}
    <path class="water" d=${line}/>
    ${inside(backMs) ? svg`<line class="turn" x1=${x(backMs ?? 0).toFixed(1)} x2=${x(backMs ?? 0).toFixed(1)} y1="20" y2=${bottom}/>${beside(x(backMs ?? 0), 28, width, 'back-text', `turn back ${clock(backMs ?? 0, zone)}`)}` : nothing}
    ${inside(nowMs) ? svg`<line class="now" x1=${x(nowMs).toFixed(1)} x2=${x(nowMs).toFixed(1)} y1="4" y2=${bottom}/>
      <circle class="dot" cx=${x(nowMs).toFixed(1)} cy=${y(at(nowMs)).toFixed(1)} r="6"/>${beside(x(nowMs), 12, width, 'bold', `now ${clock(nowMs, zone)}`)}` : nothing}
    ${hours(of, x, high)}</svg>`;
}

/**
 * A small one for a list.
 * @param {(ms: number) => number} at @param {import('./shore.js').Window} window @param {number|null} workM
 */
export function spark(at, window, workM) {
  const [fromMs, toMs] = [window.lowMs - 4 * HOUR_MS, window.lowMs + 4 * HOUR_MS];
  const points = [];
  for (let ms = fromMs; ms <= toMs; ms += 5 * STEP_MS) points.push([ms, at(ms)]);
  const levels = points.map(([, level]) => level).concat(workM ?? []);
  const [low, room] = [Math.min(...levels), Math.max(...levels) - Math.min(...levels) || 1];
  const x = (/** @type {number} */ ms) => ((ms - fromMs) / (toMs - fromMs)) * 104;
  const y = (/** @type {number} */ level) => 3 + (1 - (level - low) / room) * 38;
  const line = points.map(([ms, level], n) => `${n ? 'L' : 'M'}${x(ms).toFixed(1)} ${y(level).toFixed(1)}`).join('');
  const [opens, closes] = [window.opensMs, window.closesMs];
  return html`<svg class="spark" viewBox="0 0 104 44" aria-hidden="true">
    ${opens === null || closes === null ? nothing : svg`<rect class="open" x=${x(opens).toFixed(1)} y="0" width=${Math.max(0, x(closes) - x(opens)).toFixed(1)} height="44"/>`}
    ${workM === null ? nothing : svg`<line class="level" x1="0" x2="104" y1=${y(workM).toFixed(1)} y2=${y(workM).toFixed(1)}/>`}<path class="water" d=${line}/>
    ${window.backMs === null ? nothing : svg`<line class="turn" x1=${x(window.backMs).toFixed(1)} x2=${x(window.backMs).toFixed(1)} y1="0" y2="44"/>`}</svg>`;
}

const CELL = 15;
const WEEKDAYS = ['Mo', '', 'We', '', 'Fr', '', 'Su'];
/** So many usable minutes fill a day's cell. */
const FULL_MIN = 180;
const DAY_MS = 24 * HOUR_MS;

/**
 * The year as a picture: a cell a day, a week a column, filled from below by the day's longest usable stretch.
 * @param {{windows: import('./shore.js').Window[], fromMs: number, days: number, zone: string, chosen: string|null}} of
 */
export function yearPicture({ windows, fromMs, days, zone, chosen }) {
  /** @type {Map<string, {usableMin: number, isShut: boolean}>} */ const byDay = new Map();
  for (const one of windows) {
    const key = localDay(one.lowMs, zone);
    const before = byDay.get(key);
    const isShut = (before?.isShut ?? false) || one.cautions.some(({ word }) => word === 'closed');
    byDay.set(key, { usableMin: Math.max(before?.usableMin ?? 0, one.safe ? one.usableMin : 0), isShut });
  }
  const first = Date.parse(localDay(fromMs, zone));
  const monday = first - ((new Date(first).getUTCDay() + 6) % 7) * DAY_MS;
  const last = first + (days - 1) * DAY_MS;
  const columns = Math.floor((last - monday) / (7 * DAY_MS)) + 1;
  const cells = [];
  const months = [];
  for (let at = first; at <= last; at += DAY_MS) {
    const key = new Date(at).toISOString().slice(0, 10);
    const column = Math.floor((at - monday) / (7 * DAY_MS));
    const [x, y] = [26 + column * CELL, 18 + ((new Date(at).getUTCDay() + 6) % 7) * CELL];
    const { usableMin = 0, isShut = false } = byDay.get(key) ?? {};
    const high = Math.min(1, usableMin / FULL_MIN) * (CELL - 2);
    cells.push(svg`<rect class="day ${isShut ? 'shut' : ''}" x=${x} y=${y} width=${CELL - 2} height=${CELL - 2}/>
      ${high > 0 ? svg`<rect class="use" x=${x} y=${(y + CELL - 2 - high).toFixed(1)} width=${CELL - 2} height=${high.toFixed(1)}/>` : nothing}
      ${key === chosen ? svg`<rect class="chosen" x=${x - 1} y=${y - 1} width=${CELL} height=${CELL}/>` : nothing}`);
    if (new Date(at).getUTCDate() === 1) months.push(svg`<text x=${x} y="12">${new Intl.DateTimeFormat('en-GB', { month: 'short', timeZone: 'UTC' }).format(at)}</text>`);
  }
  const usable = [...byDay.values()].filter(({ usableMin }) => usableMin > 0).length;
  const wide = 26 + columns * CELL;
  return html`<div class="wide-scroll" tabindex="0" role="group" aria-label="The year, scrolls sideways"><svg class="year" width=${wide} height=${20 + 7 * CELL} viewBox="0 0 ${wide} ${20 + 7 * CELL}" role="img"
    aria-label="${usable} of ${days} days have a window to plan with">${months}${WEEKDAYS.map((name, n) => svg`<text x="0" y=${18 + n * CELL + 11}>${name}</text>`)}${cells}</svg></div>`;
}
