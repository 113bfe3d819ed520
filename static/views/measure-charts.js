/**
 * Small charts of what was read of a unit, one a measure, on one axis of time; the same in words below each. What is
 * missing is drawn as missing: lines break, hatching says that nothing was read, a ring that somebody only looked.
 */
import { monthShort } from '../days.js';
import { rounded, shortest } from '../rounding.js';
import { html, nothing, svg } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inParts } from './in-parts.js';
import { isWide } from './marks.js';
import { counted, fullDay, localDay } from './words.js';

/**
 * @typedef {import('./measure-series.js').Measured} Measured
 * @typedef {import('./measure-series.js').Series} Series
 * @typedef {import('./measure-series.js').Reading} Reading
 * @typedef {{lo: number, hi: number, step: number, count: number}} Scale
 * @typedef {{width: number, zone: string, x: (ms: number) => string, y: (value: number) => string, scale: Scale,
 *   measured: Measured}} Frame
 */

const [LEFT, RIGHT, TOP, BASE, HIGH] = [42, 6, 8, 76, 96];
/** A label of the axis of time needs so much room. */
const LABEL_PX = 34;
const MONTH_MS = 30.44 * 86_400_000;
/** Dots of so many readings would hide the line that joins them. */
const MANY = 40;

/** @param {number} value @param {string} unit @returns {string} 390 mm, 5° */
const withUnit = (value, unit) => `${shortest(value, 2)}${unit === '\u00b0' ? '' : ' '}${unit}`
  .replace('-', '\u2212');

/**
 * Two or three round steps that hold all values.
 * @param {number[]} values @returns {Scale}
 */
export function scaleOf(values) {
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const aim = (most - least) / 3 || Math.abs(most) / 10 || 1;
  const power = 10 ** Math.floor(Math.log10(aim) + 1e-9);
  for (const of of [1, 2, 5, 10, 20]) {
    const step = of * power;
    const lo = Math.floor(least / step + 1e-9) * step;
    const count = Math.max(2, Math.ceil((most - lo) / step - 1e-9));
    if (step >= aim * (1 - 1e-9) && count <= 3) return { lo, hi: lo + count * step, step, count };
  }
  return { lo: least, hi: most, step: (most - least) / 2, count: 2 };
}

/** @param {number} value @param {Scale} scale @returns {string} with as many digits as tell the steps apart */
const tickWords = (value, { step }) =>
  rounded(value, Math.max(0, -Math.floor(Math.log10(step) + 1e-9))).replace('-', '\u2212');

/**
 * The beginnings of years, or of quarters where the time is short.
 * @param {Measured} measured @param {number} width @param {string} zone
 * @returns {{ms: number, words: string, isYear: boolean}[]} those whose label has room carry words
 */
export function ticksOf({ fromMs, toMs }, width, zone) {
  const perMs = (width - LEFT - RIGHT) / Math.max(1, toMs - fromMs);
  const years = (toMs - fromMs) / MONTH_MS / 12;
  const months = years > 3 ? 12 : years > 1 ? 3 : 1;
  const everyYears = months === 12 ? Math.max(1, Math.ceil(LABEL_PX / (12 * MONTH_MS * perMs))) : 1;
  const everyMonths = months === 12 ? 12 : Math.max(months, Math.ceil(LABEL_PX / (MONTH_MS * perMs)));
  const [year, month] = localDay(fromMs, zone).split('-').map(Number);
  const ticks = [];
  for (let n = month - 1; n < 12_000; n += 1) {
    const at = Date.UTC(year, n, 1);
    if (at > toMs) break;
    const [ofYear, ofMonth] = [year + Math.floor(n / 12), n % 12];
    if (at < fromMs || ofMonth % months) continue;
    const isYear = ofMonth === 0;
    const isTold = isYear ? ofYear % everyYears === 0 : months < 12 && ofMonth % everyMonths === 0;
    ticks.push({ ms: at, isYear, words: !isTold ? '' : isYear ? String(ofYear)
      : monthShort(`${ofYear}-${String(ofMonth + 1).padStart(2, '0')}`) });
  }
  return ticks;
}

/** @param {Measured} measured @param {Scale} scale @param {string} zone @returns {Frame} */
function frameOf(measured, scale, zone) {
  const width = isWide() ? 510 : 358;
  const { fromMs, toMs } = measured;
  const span = Math.max(1, toMs - fromMs);
  return {
    width, zone, scale, measured,
    x: (ms) => (LEFT + 4 + ((ms - fromMs) / span) * (width - LEFT - RIGHT - 8)).toFixed(1),
    y: (value) => (BASE - ((value - scale.lo) / (scale.hi - scale.lo)) * (BASE - TOP)).toFixed(1),
  };
}

/** What stands behind the readings of every measure alike. @param {Frame} frame @param {Series} series */
const ground = ({ width, zone, x, y, scale, measured }, { gaps, limit }) => svg`
  ${Array.from({ length: scale.count + 1 }, (_, n) => scale.lo + n * scale.step).map((value) => svg`
    <path class="rule" d="M${LEFT} ${y(value)}H${width - RIGHT}"/>
    <text class="e" x=${LEFT - 5} y=${Number(y(value)) + 4}>${tickWords(value, scale)}</text>`)}
  ${gaps.map(({ fromMs, toMs }) => svg`<rect class="gap" fill="url(#gap)" x=${x(fromMs)} y=${TOP}
    width=${(Number(x(toMs)) - Number(x(fromMs))).toFixed(1)} height=${BASE - TOP}/>`)}
  ${measured.events.map(({ ms }) => svg`<path class="dash" d="M${x(ms)} 2V${BASE}"/>`)}
  ${limit && limit.value >= scale.lo && limit.value <= scale.hi ? svg`<path class="limit"
    d="M${LEFT} ${y(limit.value)}H${width - RIGHT}"/>` : nothing}
  <path class="axis" d="M${LEFT} ${BASE}H${width - RIGHT}"/>
  ${ticksOf(measured, width, zone).map(({ ms, words, isYear }) => svg`
    <path class="axis" d="M${x(ms)} ${BASE}v${isYear ? 6 : 3}"/>
    ${words ? svg`<text class=${isYear ? 'm b' : 'm'} x=${Math.min(Number(x(ms)), width - 18)}
      y="92">${words}</text>` : nothing}`)}`;

/** @param {Frame} frame @param {Series} series */
function curve({ x, y, measured }, { readings, pieces }) {
  const size = readings.length > MANY ? 5 : 8;
  const path = (/** @type {Reading[]} */ piece) => piece.map(({ ms, value }, n) =>
    `${n ? 'L' : 'M'}${x(ms)} ${y(value)}`).join('');
  return svg`${pieces.filter((piece) => piece.length > 1).map((piece) => svg`<path class="water"
      d=${path(piece)}/>`)}
    ${dots('read', size, readings.map(({ ms, value }) => `${x(ms)} ${y(value)}`))}
    ${dots('looked', 7, measured.looks.map((ms) => `${x(ms)} ${BASE}`))}`;
}

/**
 * Discs with an edge, as two paths of lines without length: a unit may have hundreds, and an element each takes long.
 * @param {'read'|'looked'} of @param {number} across @param {string[]} places
 */
const dots = (of, across, places) => (places.length ? svg`<path class="${of} edge" stroke-width=${across + 2}
  d=${places.map((place) => `M${place}h0`).join('')}/><path class="${of} disc" stroke-width=${of === 'read' ? across
    : across - 2} d=${places.map((place) => `M${place}h0`).join('')}/>` : nothing);

/**
 * A chart in words.
 * @param {Series} series @param {string} zone @returns {string}
 */
export function seriesWords({ title, unit, readings, gaps }, zone) {
  const [first, last] = [readings[0], readings[readings.length - 1]];
  const day = (/** @type {number} */ ms) => fullDay(ms, zone);
  if (readings.length === 1) return `${title}: read once, ${withUnit(first.value, unit)} on ${day(first.ms)}.`;
  const values = readings.map(({ value }) => value);
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const between = least === most ? `always ${withUnit(least, unit)}`
    : `${withUnit(least, unit)} to ${withUnit(most, unit)}`;
  const longest = [...gaps].sort((one, other) => other.toMs - other.fromMs - one.toMs + one.fromMs)[0];
  const [many, rest] = [gaps.length > 1, longest && longest.fromMs === last.ms];
  const missing = !longest ? '' : rest && !many ? ` Not read since ${day(last.ms)}.`
    : ` ${many ? `${counted(gaps.length, 'gap')}; the longest: n` : 'N'}o reading between ${day(longest.fromMs)} and `
      + `${day(longest.toMs)}.`;
  return `${title}: ${counted(readings.length, 'reading')}, ${day(first.ms)} to ${day(last.ms)}: ${between}, first `
    + `${withUnit(first.value, unit)}, last ${withUnit(last.value, unit)}.${missing}`;
}

/**
 * The values that a chart is drawn from, by parts.
 * @param {Series} series @param {string} zone @param {ReturnType<typeof inParts>} part
 */
const valueRows = ({ field, unit, readings }, zone, part) => html`<dl class="pairs">${part([...readings].reverse())
  .map(({ ms, value, check }) => html`<dt>${fullDay(ms, zone)}</dt><dd>${withUnit(value, unit)}${
    field === 'crest_level_mm' && check.crest_datum ? ` above ${check.crest_datum}` : ''}</dd>`)}</dl>`;

/** @type {[unknown, string, (of: Measured) => boolean][]} */
const LEGEND = [
  [dots('read', 8, ['11 9']), 'measured', () => true],
  [dots('looked', 8, ['11 9']), 'looked at, not measured', ({ looks }) => looks.length > 0],
  [svg`<rect class="gap" fill="url(#gap)" x="1" y="2" width="20" height="14"/>`, 'no reading',
    ({ series }) => series.some(({ gaps }) => gaps.length)],
  [svg`<path class="dash" d="M11 0V18"/>`, 'work on the unit', ({ events }) => events.length > 0],
  [svg`<path class="limit" d="M0 9H22"/>`, 'limit', ({ series }) => series.some(({ limit }) => limit)],
];

export class MeasureCharts {
  /** @param {() => void} redraw */
  constructor(redraw) {
    this.redraw = redraw;
    /** Whose values are unfolded: a unit may have hundreds. @type {Map<string, ReturnType<typeof inParts>>} */
    this.opened = new Map();
    /** How often they were drawn anew. */ this.turn = 0;
  }

  goOn = () => {
    this.turn += 1;
    this.redraw();
  };

  /** @param {Measured} measured @param {string} zone */
  draw(measured, zone) {
    const { series, unread } = measured;
    const legend = LEGEND.filter(([, , isDrawn]) => isDrawn(measured));
    return html`${series.map((each) => this.chart(measured, each, zone))}
      ${series.length ? html`<ul class="legend small">${legend.map(([shape, words]) => html`<li><svg class="draw"
        viewBox="0 0 22 18" aria-hidden="true">${shape}</svg>${words}</li>`)}</ul>` : nothing}
      ${unread.length ? html`<p class="small">No reading yet: ${unread.join(', ').toLowerCase()}.</p>` : nothing}`;
  }

  /** @param {Measured} measured @param {Series} series @param {string} zone */
  chart(measured, series, zone) {
    const { field, title, unit, readings, limit } = series;
    const last = readings[readings.length - 1];
    const frame = frameOf(measured, scaleOf([...readings.map(({ value }) => value), ...(limit ? [limit.value] : [])]),
      zone);
    const words = seriesWords(series, zone);
    const part = this.opened.get(field);
    return html`<figure class="chart"><div class="chart-head"><b>${title}</b><span>${withUnit(last.value, unit)}${
      limit ? `, ${limit.words}` : ''}</span></div><svg class="draw" viewBox="0 0 ${frame.width} ${HIGH}" role="img"
      aria-label=${words}>${ground(frame, series)}${curve(frame, series)}</svg>
      <details ?open=${Boolean(part)} @toggle=${(/** @type {any} */ { currentTarget: { open } }) => {
        if (open === this.opened.has(field)) return;
        if (open) this.opened.set(field, inParts(this.goOn));
        else this.opened.delete(field);
        this.goOn();
      }}><summary><span class="said"><small>${words.slice(title.length + 2).replace(/^./, (letter) =>
        letter.toUpperCase())}</small></span></summary>${part ? valueRows(series, zone, part)
        : nothing}</details></figure>`;
  }
}
