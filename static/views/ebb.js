/**
 * One low as it is on the shore: the water's curve, under it bars of dry ground for the path and each row on the same
 * time axis, of a past visit also who was out from when to when, and one line through all of them where people turn
 * back. The same facts stand in words beside it. SVG only.
 */
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { barOf, floodedOf, hasFlooded, pathBar } from './floods.js';
import { isLargeText } from './marks.js';
import { clock, length } from './words.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const STEP_MS = 6 * MINUTE_MS;
/** No more of a tide is drawn to both sides of its low. */
const REACH_MS = 6.5 * HOUR_MS;
/** More rows than this are drawn as so many, evenly from the highest to the lowest. */
const ROWS_MOST = 8;
/** More people than this are drawn as the rest of them, from the first in to the last out. */
const PEOPLE_MOST = 6;
const [TOP, AXIS, FIRST, BAR, GAP] = [34, 126, 154, 23, 6];
/** A letter of the drawing's words takes so much at most. */
const LETTER = 7.2;
/** Letters of a name before what is drawn of it: a person's in full, as far as they can be told from a roster. */
const [NARROW_LETTERS, WIDE_LETTERS] = [18, 28];
/** What the word "now" takes beside its line. */
const NOW_WIDTH = 46;

/**
 * @typedef {import('./floods.js').Bar} Bar
 * @typedef {{name: string, inMs: number, outMs: number|null}} Stay of one person, or of the rest of them; null: no time
 *   out is known
 * @typedef {{lowMs: number, backMs: number|null, nowMs: number|null, zone: string, feet: boolean, wide: boolean,
 *   rows: {name: string, bedM: number}[], people?: Stay[], readMs?: number|null, window?:
 *   import('./shore.js').Window|null}} Low window: the low's own, where it is known
 * @typedef {{x: (ms: number) => number, fromMs: number, toMs: number, backMs: number|null, nowMs: number|null,
 *   zone: string, left: number, width: number, letters: number}} Frame
 */

/**
 * The path, and the rows, the highest first.
 * @param {import('./shore-known.js').Tidal} shore @param {Low} low @returns {Bar[]}
 */
export function barsOf(shore, { rows, lowMs, window = null }) {
  const high = [...rows].sort((one, other) => other.bedM - one.bedM);
  const step = Math.max(1, (high.length - 1) / (ROWS_MOST - 1));
  const few = high.length <= ROWS_MOST ? high : Array.from({ length: ROWS_MOST }, (_, n) => high[Math.round(n * step)]);
  return [pathBar(shore, window, lowMs), ...few.map((row) => barOf(shore, row, lowMs))];
}

/** Those who are drawn, the first in first, and the rest of them as one. @param {Stay[]} people @returns {Stay[]} */
export function staysOf(people) {
  const all = [...people].sort((one, other) => one.inMs - other.inMs);
  if (all.length <= PEOPLE_MOST) return all;
  const rest = all.slice(PEOPLE_MOST - 1);
  const outs = rest.map(({ outMs }) => outMs).filter((ms) => ms !== null);
  const last = outs.length === rest.length ? Math.max(...outs) : null;
  return [...all.slice(0, PEOPLE_MOST - 1), { name: `${rest.length} more`, inMs: rest[0].inMs, outMs: last }];
}

/** A stay in words: "Tobias Wren out 11:08 to 12:18". @param {Stay} stay @param {Low} low */
const stayWords = ({ name, inMs, outMs }, { zone }) =>
  `${name} out on the shore ${outMs === null ? `from ${clock(inMs, zone)}, no sign-out time`
    : `${clock(inMs, zone)} to ${clock(outMs, zone)}`}`;

/**
 * A bar in words: "Path dry 14:17 to 18:37", or of ground that has flooded "row D under water since 17:07".
 * @param {Bar} bar @param {Low} low
 */
function barWords(bar, { nowMs, zone }) {
  const { name, fromMs, untilMs, isDry } = bar;
  if (!isDry) return `${name} under water all through this low`;
  if (hasFlooded(bar, nowMs)) return `${name} under water since ${clock(untilMs ?? 0, zone)}`;
  const from = fromMs === null ? '' : ` from ${clock(fromMs, zone)}`;
  return `${name} dry${from}${untilMs === null ? '' : ` to ${clock(untilMs, zone)}`}`;
}

/**
 * From when to when is drawn: all that is known, with room, and no more than so far from the low.
 * @param {Bar[]} bars @param {Low} low
 */
function edges(bars, { lowMs, nowMs, people = [] }) {
  const isNear = (/** @type {number|null} */ ms) => ms !== null && Math.abs(ms - lowMs) < REACH_MS;
  const times = bars.flatMap(({ fromMs, untilMs }) => [fromMs, untilMs])
    .concat([nowMs, ...people.flatMap(({ inMs, outMs }) => [inMs, outMs])].filter(isNear)).filter((ms) => ms !== null);
  return [
    Math.max(lowMs - REACH_MS, Math.min(lowMs - 2 * HOUR_MS, ...times) - 40 * MINUTE_MS),
    Math.min(lowMs + REACH_MS, Math.max(lowMs + 2 * HOUR_MS, ...times) + 50 * MINUTE_MS),
  ];
}

/** All facts of a drawing in words. @param {Bar[]} bars @param {Low} low @param {string} level of the low */
const factsOf = (bars, low, level) => [
  `Low ${clock(low.lowMs, low.zone)} at ${level}`, ...bars.map((bar) => barWords(bar, low)),
  ...(low.backMs === null ? [] : [`turn back by ${clock(low.backMs, low.zone)}`]),
  ...(low.people ?? []).map((stay) => stayWords(stay, low)),
];

/**
 * The drawing of a low, with its facts in words.
 * @param {import('./shore-known.js').Tidal} shore @param {(ms: number) => number|null} at the water's level, metres
 * @param {Low} low
 */
export function ebb(shore, at, low) {
  const { lowMs, backMs, nowMs, zone, feet, wide } = low;
  const [bars, stays] = [barsOf(shore, low), staysOf(low.people ?? [])];
  const [fromMs, toMs] = edges(bars, low);
  const width = wide ? 640 : 358;
  const letters = wide ? WIDE_LETTERS : NARROW_LETTERS;
  const left = Math.max(36, ...bars.map(({ name }) => short(name, letters).length * 8 + 6),
    ...stays.map(({ name }) => short(name, letters).length * LETTER + 6));
  const x = (/** @type {number} */ ms) =>
    left + ((Math.min(Math.max(ms, fromMs), toMs) - fromMs) / (toMs - fromMs)) * (width - left - 2);
  const frame = { x, fromMs, toMs, backMs, nowMs, zone, left, width, letters };
  const y = heights(at, frame);
  const high = FIRST + (bars.length + stays.length) * BAR + (stays.length ? GAP : 0);
  const inside = (/** @type {number|null|undefined} */ ms) => typeof ms === 'number' && ms >= fromMs && ms <= toMs;
  const words = factsOf(bars, low, length(at(lowMs) ?? 0, feet));
  const flooded = floodedOf(bars, nowMs, zone);
  const stayTop = FIRST + bars.length * BAR + GAP;
  return html`<figure class="low-drawing"><svg class="draw" viewBox="0 0 ${width} ${high}" role="img"
    aria-label="${words.join(', ')}.">
      ${darkness(shore.light, fromMs, toMs).map(([a, b]) => svg`<path class="night"
        d=${nightPath(x(a), x(b), high)}/>`)}
      ${water(at, low, frame, y)}
      ${bars.map((bar, n) => barDrawn(bar, FIRST + n * BAR, frame))}
      ${stays.map((stay, n) => stayDrawn(stay, stayTop + n * BAR, frame))}
      ${inside(backMs) ? turnLine(x(backMs ?? 0), high, width, `turn back ${clock(backMs ?? 0, zone)}`) : nothing}
      ${inside(nowMs) ? nowLine(x(nowMs ?? 0), inside(backMs) ? x(backMs ?? 0) : null, high, width)
        : nothing}${marksOnWater(at, low, x, y, inside)}</svg>
    ${flooded ? html`<p class="small">Under water: ${flooded}.</p>` : nothing}
    <details ?open=${isLargeText()}><summary>The same in words</summary><ul class="small">
      ${words.map((words) => html`<li>${words[0].toUpperCase()}${words.slice(1)}</li>`)}
      ${low.rows.length > ROWS_MOST ? html`<li>${ROWS_MOST} of ${low.rows.length} rows are drawn</li>` : nothing}</ul>
        </details></figure>`;
}

/** @param {number} a @param {number} b @param {number} high */
const nightPath = (a, b, high) =>
  `M${a.toFixed(1)} ${TOP}H${b.toFixed(1)}V${AXIS}H${a.toFixed(1)}ZM${a.toFixed(1)} ${AXIS + 24}`
  + `H${b.toFixed(1)}V${high - 2}H${a.toFixed(1)}Z`;

/**
 * How high a level is drawn.
 * @param {(ms: number) => number|null} at @param {Frame} frame @returns {(m: number) => number}
 */
function heights(at, { fromMs, toMs }) {
  const levels = [];
  for (let ms = fromMs; ms <= toMs; ms += STEP_MS) levels.push(at(ms) ?? 0);
  const [least, most] = [Math.min(...levels), Math.max(...levels)];
  return (m) => TOP + 2 + (1 - (m - least) / Math.max(most - least, 0.2)) * (AXIS - TOP - 12);
}

/**
 * The water's curve over its axis.
 * @param {(ms: number) => number|null} at @param {Low} low @param {Frame} frame @param {(m: number) => number} y
 */
function water(at, low, { x, fromMs, toMs, left, width }, y) {
  const points = [];
  for (let ms = fromMs; ms <= toMs; ms += STEP_MS) points.push(`${x(ms).toFixed(1)} ${y(at(ms) ?? 0).toFixed(1)}`);
  const line = `M${points.join('L')}`;
  return svg`<path class="under" d="${line}L${(width - 2).toFixed(1)} ${AXIS}L${left} ${AXIS}Z"/>
    <path class="axis" d="M${left} ${AXIS}H${width - 2}"/>${hours(fromMs, toMs, low.zone, x)}<path class="water"
      d=${line}/>`;
}

/**
 * @param {number} at @param {number|null} backAt where the turn-back line stands, which does not go through the word
 * @param {number} high @param {number} width
 */
function nowLine(at, backAt, high, width) {
  const isBefore = backAt !== null && Math.abs(backAt - at) < NOW_WIDTH && at + NOW_WIDTH < width ? at <= backAt
    : at > width / 2;
  return svg`<path class="now" d="M${at.toFixed(1)} 28V${high - 2}"/>
    <text class=${`b halo ${isBefore ? 'e' : ''}`} x=${(at + (isBefore ? -8 : 8)).toFixed(1)} y="42">now</text>`;
}

/**
 * The water as it was read, and as it stands now.
 * @param {(ms: number) => number|null} at @param {Low} low @param {Frame['x']} x @param {(m: number) => number} y
 * @param {(ms: number|null|undefined) => boolean} inside
 */
function marksOnWater(at, { readMs = null, nowMs }, x, y, inside) {
  const spot = (/** @type {number} */ ms, /** @type {string} */ of, /** @type {number} */ r) =>
    svg`<circle class=${of} cx=${x(ms).toFixed(1)} cy=${y(at(ms) ?? 0).toFixed(1)} r=${r}/>`;
  return svg`${inside(readMs) ? spot(readMs ?? 0, 'ring', 5) : nothing}${inside(nowMs) ? spot(nowMs ?? 0, 'dot', 6)
    : nothing}`;
}

/** @param {string} name @param {number} letters that have room */
const short = (name, letters) => (name.length > letters ? `${name.slice(0, letters - 1)}\u2026` : name);

/**
 * @param {Frame} frame @param {number} top
 * @returns {(of: string, a: number, b: number) => unknown} draws a bar of a class between two times
 */
const barAt = ({ x }, top) => (of, a, b) => (x(b) - x(a) < 0.5 ? nothing
  : svg`<rect class=${of} x=${x(a).toFixed(1)} y=${top} width=${(x(b) - x(a)).toFixed(1)} height="18"/>`);

/** Words that end or begin at a place. @param {string} of @param {number} x @param {number} top @param {string} text */
const textAt = (of, x, top, text) => svg`<text class=${of} x=${x.toFixed(1)} y=${top + 13.5}>${text}</text>`;

/**
 * The time at a bar's end: when it floods, or since when it is under water, the shorter where that has no room.
 * @param {Bar} bar @param {number} top @param {Frame} frame
 */
function endDrawn(bar, top, { x, fromMs, toMs, nowMs, backMs, zone, width }) {
  if (bar.untilMs === null || bar.untilMs > toMs) return nothing;
  const at = clock(bar.untilMs, zone);
  const [begin, end] = [x(bar.fromMs ?? fromMs), x(bar.untilMs)];
  const lines = [nowMs, backMs].filter((ms) => ms !== null).map(x);
  const isClear = (/** @type {number} */ a, /** @type {number} */ b) =>
    b < width && lines.every((line) => line < a || line > b);
  const spots = (hasFlooded(bar, nowMs) ? [`under water since ${at}`, `since ${at}`] : [at]).flatMap((text) => {
    const long = text.length * LETTER;
    const beyond = Math.max(end, ...lines.filter((line) => line > end && line < end + 6 + long)) + 6;
    // What stands on dry ground has its color; where one has turned back the bar is hollow.
    const isOnBar = end - 4 - long > begin && end <= x(backMs ?? bar.untilMs ?? 0);
    return [{ text, of: 'halo', place: end + 6, isFree: isClear(end + 6, end + 6 + long), long },
      { text, of: isOnBar ? 'e on' : 'e halo', place: end - 4, long,
        isFree: end - 4 - long > begin && isClear(end - 4 - long, end - 4) },
      { text, of: 'halo', place: beyond, isFree: isClear(beyond, beyond + long), long }];
  });
  const [after, within] = spots.slice(-3);
  const { of, place, text } = spots.find(({ isFree }) => isFree)
    ?? (end + 6 + after.long < width ? after : within);
  return textAt(of, place, top, text);
}

/**
 * Dry ground up to turning back, and what would be left of it.
 * @param {Bar} bar @param {number} top @param {Frame} frame
 */
function barDrawn(bar, top, frame) {
  const { name, fromMs, untilMs, isDry } = bar;
  const { x, fromMs: first, toMs: last, backMs, zone, left, letters } = frame;
  const label = svg`<text class="b" x="0" y=${top + 13}>${short(name, letters)}</text>`;
  if (!isDry) return svg`${label}<text x=${left + 4} y=${top + 13}>under water</text>`;
  const [from, until] = [fromMs ?? first, untilMs ?? last];
  const end = Math.max(from, Math.min(until, backMs ?? until));
  const rect = barAt(frame, top);
  const fits = x(from) - 44 > left;
  const isFrom = fromMs !== null && fromMs >= first;
  return svg`${label}${rect('dry', from, end)}${rect('spare', end, until)}
    ${isFrom ? textAt(fits ? 'e halo' : 'on', x(from) + (fits ? -5 : 4), top, clock(fromMs, zone)) : nothing}
    ${endDrawn(bar, top, frame)}`;
}

/**
 * Somebody's time on the shore; hollow where no time back is known.
 * @param {Stay} stay @param {number} top @param {Frame} frame
 */
function stayDrawn({ name, inMs, outMs }, top, frame) {
  const { x, toMs, zone, width, letters } = frame;
  const stayWord = outMs === null ? `from ${clock(inMs, zone)}, no time back`
    : `${clock(inMs, zone)} to ${clock(outMs, zone)}`;
  const end = outMs ?? toMs;
  const fits = x(end) + 8 + stayWord.length * 7 < width;
  return svg`<text x="0" y=${top + 13}>${short(name, letters)}</text>
    ${barAt(frame, top)(outMs === null ? 'spare' : 'stay', inMs, end)}
    ${outMs === null ? textAt('', x(inMs) + 5, top, stayWord)
      : textAt(fits ? 'halo' : 'on', fits ? x(end) + 6 : x(inMs) + 5, top, stayWord)}`;
}

/** One line through all of it. @param {number} at @param {number} high @param {number} width @param {string} words */
function turnLine(at, high, width, words) {
  const isRight = at > width - 130;
  return svg`<path class="turn" d="M${at.toFixed(1)} 26V${high - 2}"/>
    <path class="octagon" d="M${(at - 3).toFixed(1)} 10h6l4.5 4.5v6l-4.5 4.5h-6l-4.5-4.5v-6z"/>
    <text class=${`turn-text halo ${isRight ? 'e' : ''}`} x=${(at + (isRight ? -13
      : 13)).toFixed(1)} y="22">${words}</text>`;
}

/**
 * Hours along the axis, on the site's clock.
 * @param {number} fromMs @param {number} toMs @param {string} zone @param {Frame['x']} x
 */
function hours(fromMs, toMs, zone, x) {
  const marks = [];
  for (let ms = Math.ceil(fromMs / (15 * MINUTE_MS)) * 15 * MINUTE_MS; ms < toMs; ms += 15 * MINUTE_MS) {
    if (clock(ms, zone).endsWith(':00')) marks.push(ms);
  }
  const every = Math.ceil(marks.length / 7);
  return marks.filter((_, n) => n % every === 0).map((ms) => svg`<path class="axis" d="M${x(ms).toFixed(1)} ${AXIS}v4"/>
    <text class="m" x=${x(ms).toFixed(1)} y="143">${clock(ms, zone).slice(0, 2)}</text>`);
}

/**
 * What of a span has no light; nothing where the light of that time is not known.
 * @param {import('../tides/windows.js').Light[]} light @param {number} fromMs @param {number} toMs
 * @returns {number[][]}
 */
function darkness(light, fromMs, toMs) {
  if (!light.length || toMs < light[0].startsMs || fromMs > light[light.length - 1].endsMs) return [];
  const lit = light.filter((light) => light.endsMs > fromMs && light.startsMs < toMs);
  const edges = lit.flatMap(({ startsMs, endsMs }) => [Math.max(fromMs, startsMs), Math.min(toMs, endsMs)]);
  const bounds = [fromMs, ...edges, toMs];
  return Array.from({ length: bounds.length / 2 }, (_, n) => [bounds[2 * n], bounds[2 * n + 1]])
    .filter(([a, b]) => b > a);
}
