/**
 * One low as it is on the shore: the water's curve, under it bars of dry ground for the path and each row on the same time axis, and
 * one line through all of them where people turn back. The same facts stand in words beside it. SVG only.
 */
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { down, up } from '../tides/turning.js';
import { allowanceOf } from '../tides/windows.js';
import { clock, length } from './words.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const STEP_MS = 6 * MINUTE_MS;
/** Ground is looked at so far to both sides of a low: nearly to the highs of a tide that comes twice a day, with room for one that comes once. */
const LOOK_MS = 13 * HOUR_MS;
/** No more of it is drawn. */
const REACH_MS = 6.5 * HOUR_MS;
/** More rows than this are drawn as so many, evenly from the highest to the lowest. */
const ROWS_MOST = 8;
const [TOP, AXIS, FIRST, BAR] = [34, 126, 154, 23];

/**
 * @typedef {{name: string, fromMs: number|null, untilMs: number|null, isDry: boolean}} Bar null: dry since before, or until after, what is looked at
 * @typedef {{lowMs: number, backMs: number|null, nowMs: number|null, zone: string, feet: boolean, wide: boolean, rows: {name: string, bedM: number}[],
 *   readMs?: number|null}} Low
 */

/**
 * When ground is dry around a low, the allowance and what was read counted, whole minutes turned inward.
 * @param {import('./shore.js').Shore} shore @param {string} name @param {number} bedM @param {number} lowMs @returns {Bar}
 */
function barOf({ tide, site, shiftM }, name, bedM, lowMs) {
  const waterM = bedM - allowanceOf(site) - shiftM;
  if (tide.levelAt(lowMs) >= waterM) return { name, fromMs: null, untilMs: null, isDry: false };
  const passed = tide.crossings(waterM, Math.max(tide.fromMs, lowMs - LOOK_MS), Math.min(tide.toMs, lowMs + LOOK_MS));
  const fell = passed.filter((/** @type {any} */ one) => !one.rising && one.ms <= lowMs).at(-1);
  const rises = passed.find((/** @type {any} */ one) => one.rising && one.ms > lowMs);
  return { name, fromMs: fell ? up(fell.ms) : null, untilMs: rises ? down(rises.ms) : null, isDry: true };
}

/** The path, and the rows, the highest first. @param {import('./shore.js').Shore} shore @param {Low} low @returns {Bar[]} */
export function barsOf(shore, { rows, lowMs }) {
  const high = [...rows].sort((one, other) => other.bedM - one.bedM);
  const step = Math.max(1, (high.length - 1) / (ROWS_MOST - 1));
  const few = high.length <= ROWS_MOST ? high : Array.from({ length: ROWS_MOST }, (_, n) => high[Math.round(n * step)]);
  return [{ name: 'Path', bedM: shore.site.route_low_level_m }, ...few].map(({ name, bedM }) => barOf(shore, name, bedM, lowMs));
}

/** A bar in words: "Path dry 14:17 to 18:37", or of ground that has flooded "row D under water since 17:07". @param {Bar} bar @param {Low} low */
function barWords({ name, fromMs, untilMs, isDry }, { nowMs, zone }) {
  if (!isDry) return `${name} under water all through this low`;
  if (nowMs !== null && untilMs !== null && untilMs <= nowMs) return `${name} under water since ${clock(untilMs, zone)}`;
  const from = fromMs === null ? '' : ` from ${clock(fromMs, zone)}`;
  return `${name} dry${from}${untilMs === null ? '' : ` to ${clock(untilMs, zone)}`}`;
}

/** @param {Bar[]} bars @param {Low} low */
const edges = (bars, { lowMs, nowMs }) => {
  const times = bars.flatMap(({ fromMs, untilMs }) => [fromMs, untilMs]).concat(nowMs !== null && Math.abs(nowMs - lowMs) < REACH_MS ? nowMs : null).filter((ms) => ms !== null);
  return [Math.max(lowMs - REACH_MS, Math.min(lowMs - 2 * HOUR_MS, ...times) - 40 * MINUTE_MS), Math.min(lowMs + REACH_MS, Math.max(lowMs + 2 * HOUR_MS, ...times) + 50 * MINUTE_MS)];
};

/**
 * The drawing of a low, with its facts in words.
 * @param {import('./shore.js').Shore} shore @param {(ms: number) => number|null} at the water's level, metres @param {Low} low
 */
export function ebb(shore, at, low) {
  const { lowMs, backMs, nowMs, zone, feet, wide } = low;
  const bars = barsOf(shore, low);
  const [fromMs, toMs] = edges(bars, low);
  const width = wide ? 640 : 358;
  const left = Math.min(110, Math.max(36, ...bars.map(({ name }) => short(name).length * 8 + 6)));
  const x = (/** @type {number} */ ms) => left + ((Math.min(Math.max(ms, fromMs), toMs) - fromMs) / (toMs - fromMs)) * (width - left - 2);
  const points = [];
  for (let ms = fromMs; ms <= toMs; ms += STEP_MS) points.push([ms, at(ms) ?? 0]);
  const [least, most] = [Math.min(...points.map(([, m]) => m)), Math.max(...points.map(([, m]) => m))];
  const y = (/** @type {number} */ m) => TOP + 2 + (1 - (m - least) / Math.max(most - least, 0.2)) * (AXIS - TOP - 12);
  const line = points.map(([ms, m], n) => `${n ? 'L' : 'M'}${x(ms).toFixed(1)} ${y(m).toFixed(1)}`).join('');
  const high = FIRST + bars.length * BAR;
  const inside = (/** @type {number|null|undefined} */ ms) => typeof ms === 'number' && ms >= fromMs && ms <= toMs;
  const words = [`Low ${clock(lowMs, zone)} at ${length(at(lowMs) ?? 0, feet)}`, ...bars.map((bar) => barWords(bar, low)), backMs === null ? null : `turn back by ${clock(backMs, zone)}`].filter((said) => said !== null);
  const readMs = low.readMs ?? null;
  return html`<figure class="low-drawing"><svg class="draw" viewBox="0 0 ${width} ${high}" role="img" aria-label="${words.join(', ')}.">
      ${darkness(shore.light, fromMs, toMs).map(([a, b]) => svg`<path class="night" d="M${x(a).toFixed(1)} ${TOP}H${x(b).toFixed(1)}V${AXIS}H${x(a).toFixed(1)}ZM${x(a).toFixed(1)} ${AXIS + 24}H${x(b).toFixed(1)}V${high - 2}H${x(a).toFixed(1)}Z"/>`)}
      <path class="under" d="${line}L${(width - 2).toFixed(1)} ${AXIS}L${left} ${AXIS}Z"/><path class="axis" d="M${left} ${AXIS}H${width - 2}"/>${hours(fromMs, toMs, zone, x)}<path class="water" d=${line}/>
      ${bars.map((bar, n) => barDrawn(bar, FIRST + n * BAR, { x, fromMs, toMs, backMs, zone, left, width }))}
      ${inside(backMs) ? turnLine(x(backMs ?? 0), high, width, `turn back ${clock(backMs ?? 0, zone)}`) : nothing}
      ${inside(readMs) ? svg`<circle class="ring" cx=${x(readMs ?? 0).toFixed(1)} cy=${y(at(readMs ?? 0) ?? 0).toFixed(1)} r="5"/>` : nothing}
      ${inside(nowMs) ? svg`<path class="now" d="M${x(nowMs ?? 0).toFixed(1)} 28V${high - 2}"/><circle class="dot" cx=${x(nowMs ?? 0).toFixed(1)} cy=${y(at(nowMs ?? 0) ?? 0).toFixed(1)} r="6"/>
        <text class=${`b halo ${x(nowMs ?? 0) > width / 2 ? 'e' : ''}`} x=${(x(nowMs ?? 0) + (x(nowMs ?? 0) > width / 2 ? -8 : 8)).toFixed(1)} y="42">now</text>` : nothing}</svg>
    <details><summary>The same in words</summary><ul class="small">${words.map((said) => html`<li>${said[0].toUpperCase()}${said.slice(1)}</li>`)}${low.rows.length > ROWS_MOST ? html`<li>${ROWS_MOST} of ${low.rows.length} rows are drawn</li>` : nothing}</ul></details></figure>`;
}

/** @param {string} name */
const short = (name) => (name.length > 12 ? `${name.slice(0, 11)}\u2026` : name);

/** Dry ground up to turning back, and what would be left of it. @param {Bar} bar @param {number} top @param {any} of */
function barDrawn({ name, fromMs, untilMs, isDry }, top, { x, fromMs: first, toMs: last, backMs, zone, left, width }) {
  const label = svg`<text class="b" x="0" y=${top + 13}>${short(name)}</text>`;
  if (!isDry) return svg`${label}<text x=${left + 4} y=${top + 13}>under water</text>`;
  const [from, until] = [fromMs ?? first, untilMs ?? last];
  const end = Math.max(from, Math.min(until, backMs ?? until));
  const rect = (/** @type {string} */ of, /** @type {number} */ a, /** @type {number} */ b) => (x(b) - x(a) < 0.5 ? nothing : svg`<rect class=${of} x=${x(a).toFixed(1)} y=${top} width=${(x(b) - x(a)).toFixed(1)} height="18"/>`);
  const fits = x(from) - 44 > left;
  const inside = x(until) + 46 > width;
  return svg`${label}${rect('dry', from, end)}${rect('spare', end, until)}
    ${fromMs === null || fromMs < first ? nothing : svg`<text class=${fits ? 'e halo' : 'on'} x=${(x(from) + (fits ? -5 : 4)).toFixed(1)} y=${top + 13.5}>${clock(fromMs, zone)}</text>`}
    ${untilMs === null || untilMs > last ? nothing : svg`<text class=${inside ? 'e halo' : 'halo'} x=${(x(until) + (inside ? -4 : 6)).toFixed(1)} y=${top + 13.5}>${clock(untilMs, zone)}</text>`}`;
}

/** One line through all of it. @param {number} at @param {number} high @param {number} width @param {string} words */
function turnLine(at, high, width, words) {
  const isRight = at > width - 130;
  return svg`<path class="turn" d="M${at.toFixed(1)} 26V${high - 2}"/><path class="octagon" d="M${(at - 3).toFixed(1)} 10h6l4.5 4.5v6l-4.5 4.5h-6l-4.5-4.5v-6z"/>
    <text class=${`turn-text halo ${isRight ? 'e' : ''}`} x=${(at + (isRight ? -13 : 13)).toFixed(1)} y="22">${words}</text>`;
}

/** Hours along the axis, on the site's clock. @param {number} fromMs @param {number} toMs @param {string} zone @param {(ms: number) => number} x */
function hours(fromMs, toMs, zone, x) {
  const marks = [];
  for (let ms = Math.ceil(fromMs / (15 * MINUTE_MS)) * 15 * MINUTE_MS; ms < toMs; ms += 15 * MINUTE_MS) if (clock(ms, zone).endsWith(':00')) marks.push(ms);
  const every = Math.ceil(marks.length / 7);
  return marks.filter((_, n) => n % every === 0).map((ms) => svg`<path class="axis" d="M${x(ms).toFixed(1)} ${AXIS}v4"/><text class="m" x=${x(ms).toFixed(1)} y="143">${clock(ms, zone).slice(0, 2)}</text>`);
}

/** What of a span has no light. @param {import('../tides/windows.js').Light[]} light @param {number} fromMs @param {number} toMs @returns {number[][]} */
function darkness(light, fromMs, toMs) {
  const lit = light.filter((one) => one.endsMs > fromMs && one.startsMs < toMs);
  const bounds = [fromMs, ...lit.flatMap((one) => [Math.max(fromMs, one.startsMs), Math.min(toMs, one.endsMs)]), toMs];
  return Array.from({ length: bounds.length / 2 }, (_, n) => [bounds[2 * n], bounds[2 * n + 1]]).filter(([a, b]) => b > a);
}
