/**
 * The year as a picture: a line from full or new moon to the next, on it each low as a bar at its hour, as tall as the
 * time there is to work. Springs follow the moon, so lines stand under one another as the tides do. SVG only.
 */
import { dayWords, localDay, monthShort } from '../days.js';
import { instant } from '../instants.js';
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { clock, counted } from './words.js';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
/** A line of a pack that brings no moons, and no line is longer. */
const [PLAIN_DAYS, MOST_DAYS] = [15, 15.8];
/** So many usable minutes make the tallest bar. */
const FULL_MIN = 180;
const [LEFT, FIRST, LINE, TALL, BAR] = [82, 45, 26, 18, 5.2];

/**
 * @typedef {{moon: 'new'|'full'|null, fromMs: number, toMs: number}} Line
 * @typedef {{windows: import('./shore.js').Window[], lines: Line[], nowMs: number, zone: string, chosen: string|null,
 *   wide: boolean}} Year
 */

/**
 * The lines of a year: from the last new or full moon on, or, of a pack that brings none, of 15 days each.
 * @param {{moons?: [string, number][]|null, from_day?: string}} packed minutes after `from_day` 0 h UTC
 * @param {number} fromMs @param {number} days
 * @returns {Line[]}
 */
export function linesOf({ moons, from_day: fromDay }, fromMs, days) {
  const endMs = fromMs + days * DAY_MS;
  const zeroMs = Date.parse(`${fromDay}T00:00:00Z`);
  const starts = moons?.length && fromDay
    ? moons.map(([moon, minute]) => ({ moon: /** @type {'new'|'full'} */ (moon), fromMs: zeroMs + minute * MINUTE_MS }))
    : Array.from({ length: Math.ceil(days / PLAIN_DAYS) },
      (_, n) => ({ moon: null, fromMs: fromMs + n * PLAIN_DAYS * DAY_MS }));
  return starts.map((start, n) => ({ ...start,
    // A pack that is weeks old has no moons for the end: no line is longer than from one to the next.
    toMs: Math.min(starts[n + 1]?.fromMs ?? start.fromMs + MOST_DAYS * DAY_MS, endMs) }))
    .filter((line) => line.toMs > fromMs && line.toMs > line.fromMs);
}

/** @param {Year} year */
export function yearPicture({ windows, lines, nowMs, zone, chosen, wide }) {
  if (!lines.length) return nothing;
  const width = wide ? 476 : 358;
  const perMs = (width - LEFT - 2) / (MOST_DAYS * DAY_MS);
  const high = FIRST + (lines.length - 1) * LINE + 9;
  const middle = LEFT + 7.38 * DAY_MS * perMs;
  const until = localDay(lines[lines.length - 1].toMs - 1, zone);
  const from = localDay(nowMs, zone);
  const days = new Set(windows.filter((window) => window.safe && window.lowMs > nowMs)
    .map((window) => localDay(window.lowMs, zone))).size;
  const label =
    `The year from ${dayWords(from, { year: true })} to ${dayWords(until, { year: true })}: `
    + `${counted(days, 'day has', 'days have')} a usable low. `
    + 'The list of lows has the coming days in words.';
  return html`<svg class="draw year" viewBox="0 0 ${width} ${high}" role="img" aria-label=${label}>
      ${lines[0].moon ? svg`<path class="dash" d="M${middle.toFixed(1)} 18V${high - 2}"/>
        <text class="m" x=${middle.toFixed(1)} y="12">half moon</text>` : nothing}
      ${lines.map((line, n) => lineDrawn(line, lines[n - 1] ?? null,
        { base: FIRST + n * LINE, perMs, windows, nowMs, zone, chosen }))}</svg>
    <ul class="legend small">${LEGEND.map(([of, words]) => html`<li><svg viewBox="0 0 14 18"
      aria-hidden="true">${of}</svg>${words}</li>`)}</ul>
    ${lines[0].moon ? html`<p class="small">Each line starts at a full or new moon. Each bar is at the hour of its
      low, and as tall as the time you can
      work.</p>` : html`<p class="small">Each line is ${PLAIN_DAYS} days. Each bar is at the hour of its
        low, and as tall as the time you can work.</p>`}`;
}

/** @type {[unknown, string][]} */
const LEGEND = [
  [svg`<rect class="use" x="4" y="0" width="6" height="18"/>`, '3 h or more'],
  [svg`<rect class="use" x="4" y="9" width="6" height="9"/>`, 'less time'],
  [svg`<rect class="short" x="4" y="15.5" width="6" height="2.5"/>`, 'too short'],
  [svg`<rect class="shut" x="4" y="3" width="6" height="14"/>`, 'closed'],
  [svg`<path class="rest" d="M0 15H14"/>`, 'weekend'],
  [svg`<circle class="moon" cx="7" cy="10" r="5.5"/>`, 'full moon'],
  [svg`<circle class="moon-dark" cx="7" cy="10" r="5.5"/>`, 'new moon'],
];

/**
 * @param {Line} line @param {Line|null} before
 * @param {{base: number, perMs: number, windows: import('./shore.js').Window[], nowMs: number, zone: string, chosen:
 *   string|null}} of
 */
function lineDrawn(line, before, { base, perMs, windows, nowMs, zone, chosen }) {
  const x = (/** @type {number} */ ms) => Number(
    (LEFT + (Math.min(Math.max(ms, line.fromMs), line.toMs) - line.fromMs) * perMs).toFixed(1));
  const day = localDay(line.fromMs, zone);
  const was = before ? localDay(before.fromMs, zone) : '';
  const isNow = nowMs >= line.fromMs && nowMs < line.toMs;
  const lows = windows.filter((window) => window.lowMs >= line.fromMs && window.lowMs < line.toMs);
  const todayY = before ? base - 19 : 24;
  return svg`${day.slice(0, 7) === was.slice(0, 7) ? nothing
    : svg`<text class="b" x="0" y=${base}>${monthShort(day)}</text>`}
    ${was && day.slice(0, 4) !== was.slice(0, 4) ? svg`<text class="b" x="0" y=${base - 13}>${day.slice(0, 4)}</text>`
      : nothing}
    <text class="e" x="61" y=${base}>${Number(day.slice(8))}</text>
    ${line.moon ? svg`<circle class=${line.moon === 'full' ? 'moon' : 'moon-dark'} cx="71" cy=${base - 6} r="5.5"/>`
      : nothing}
    <path class="base" d="M${LEFT} ${base}H${x(line.toMs)}"/>${daysDrawn(line, { base, x, zone, chosen })}
    ${lows.map((low) => lowDrawn(low, x(low.lowMs), base, low.lowMs < nowMs))}
    ${isNow ? svg`<path class="now" d="M${x(nowMs)} ${base - 20}V${base + 5}"/>
      <text class="b m halo" x=${Math.max(x(nowMs), LEFT + 16)} y=${todayY}>today</text>` : nothing}`;
}

/**
 * Ticks at midnight, the first of a month longer; weekends; the day that is looked at.
 * @param {Line} line @param {any} of
 */
function daysDrawn({ fromMs, toMs }, { base, x, zone, chosen }) {
  const first = localDay(fromMs, zone);
  // The clock's distance from UTC, as it is at noon of the first day: half a pixel off on the night when it changes.
  const noonMs = Date.parse(`${first}T12:00:00Z`);
  const aheadMs = aheadOf(noonMs, zone);
  const days = Array.from({ length: 18 }, (_, n) => Date.parse(first) + n * DAY_MS);
  return days.map((at) => {
    const [begins, ends] = [at - aheadMs, at - aheadMs + DAY_MS];
    if (begins >= toMs || ends <= fromMs) return nothing;
    const date = new Date(at);
    const tick = begins > fromMs ? svg`<path class="tick"
      d="M${x(begins)} ${base}v${date.getUTCDate() === 1 ? 6 : 2.5}"/>` : nothing;
    const isRest = date.getUTCDay() % 6 === 0;
    return svg`${tick}${isRest ? svg`<path class="rest" d="M${x(begins)} ${base + 1.5}H${x(ends)}"/>` : nothing}
      ${instant(at).slice(0, 10) === chosen
        ? svg`<rect class="chosen"
          x=${x(begins)} y=${base - 21} width=${(x(ends) - x(begins)).toFixed(1)} height="25"/>` : nothing}`;
  });
}

/** How far a zone's clock is ahead of UTC at a moment, in milliseconds. @param {number} ms @param {string} zone */
function aheadOf(ms, zone) {
  const [hour, minute] = clock(ms, zone).split(':').map(Number);
  const clockMs = Date.parse(localDay(ms, zone)) + (hour * 60 + minute) * MINUTE_MS;
  return clockMs - ms;
}

/** @param {import('./shore.js').Window} window @param {number} x @param {number} base @param {boolean} isPast */
function lowDrawn(window, x, base, isPast) {
  const isShut = window.cautions.some(({ word }) => word === 'closed');
  const isShort = window.cautions.some(({ word }) => word === 'short') && window.usableMin > 0;
  if (!window.safe && !isShut && !isShort || !window.usableMin) return nothing;
  const high = isShort && !isShut ? 2.5 : Math.max(3, Math.min(1, window.usableMin / FULL_MIN) * TALL);
  const of = isShut ? 'shut' : isShort ? 'short' : 'use';
  return svg`<rect
    class=${`${of}${isPast ? ' past' : ''}`} x=${(x - BAR / 2).toFixed(1)} y=${(base - high).toFixed(
      1)} width=${BAR} height=${high.toFixed(1)}/>`;
}
