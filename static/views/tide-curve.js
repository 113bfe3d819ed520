/** Lows in small: each as a bar on the day's clock, and the year as a picture. SVG only. */
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { clock, instant, localDay } from './words.js';

const HOUR_MS = 3_600_000;

/**
 * One low for a list: its minutes as a bar on the day's clock, midnight to midnight, noon marked; hollow where it is not one to use.
 * @param {import('./shore.js').Window} window @param {string} zone
 */
export function spark(window, zone) {
  const at = (/** @type {number} */ ms) => {
    const [hours, minutes] = clock(ms, zone).split(':').map(Number);
    return 2 + ((hours + minutes / 60) / 24) * 100;
  };
  const low = at(window.lowMs);
  const [from, until] = [window.fromMs, window.leaveMs ?? window.untilMs];
  // Measured from the low, so that a bar over midnight runs out at the edge and not back to the other one.
  const x = (/** @type {number} */ ms) => Math.min(102, Math.max(2, low + ((ms - window.lowMs) / (24 * HOUR_MS)) * 100));
  return html`<svg class="draw spark" viewBox="0 0 104 44" aria-hidden="true"><path class="axis" d="M2 34H102M52 30v8"/>
    ${from === null || until === null ? nothing : svg`<rect class=${window.safe ? 'dry' : 'spare'} x=${x(from).toFixed(1)} y="14" width=${Math.max(2, x(until) - x(from)).toFixed(1)} height="16"/>`}
    <path class="ink" d="M${(low - 3.5).toFixed(1)} 42h7l-3.500-6z"/></svg>`;
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
    const key = instant(at).slice(0, 10);
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
