/**
 * Where a unit was measured since it was placed, as a small plan to scale: each place with the ellipse in which it can
 * be, and round the first one the least shift that matters. Whether it moved is said by its survey, never by this.
 */
import { compassWord } from '../survey/movement.js';
import { html, nothing, svg } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isWide } from './marks.js';
import { ellipseOf, epochsNow } from './readings.js';
import { counted, fullDay, length, msOf } from './words.js';

/**
 * @typedef {{east_m: number, north_m: number}} Point
 * @typedef {Point & {ms: number, ellipse: import('../survey/position.js').Ellipse|null}} Place
 * @typedef {{places: Place[], planned: Point|null, leastShiftM: number, azimuthDeg: number}} Plan places: oldest first
 * @typedef {{zone: string, feet: boolean, verdict: 'moved'|'again'|null}} Told verdict: what its survey said
 * @typedef {{x: (of: Point) => number, y: (of: Point) => number, perM: number, width: number}} Paper
 */

const [HIGH, EDGE] = [230, 30];
/** A plan of less would make centimetres look like metres. */
const LEAST_WIDTH_M = 0.4;
/** A planned place that lies farther off would shrink all else to dots. */
const FAR_M = 2;
/** Of so many places the ellipses are drawn; of earlier ones the middle alone. */
const ELLIPSES = 8;
const BARS_M = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50];
const [FEET_IN_A_METRE, LABEL] = [1 / 0.3048, 13];

/**
 * @param {import('./readings.js').Surveyed} known with all its fixes
 * @returns {Plan|null} null where nothing was measured since it was placed
 */
export function planOf(known) {
  const places = epochsNow(known).map(({ at, epoch }) => ({ ms: msOf(at) ?? 0, east_m: epoch.east_m,
    north_m: epoch.north_m, ellipse: ellipseOf(epoch, known) }));
  return places.length ? { places, planned: known.planned, leastShiftM: known.leastShiftM ?? 0,
    azimuthDeg: known.azimuthDeg } : null;
}

/** @param {Point} one @param {Point} two */
const apart = (one, two) => Math.hypot(two.east_m - one.east_m, two.north_m - one.north_m);

/** @param {Plan} plan @returns {Point|null} the planned place, where it has room */
const plannedIn = ({ planned, places }) => (planned && apart(planned, places[0]) <= FAR_M ? planned : null);

/**
 * @param {Plan} plan @param {number} width @returns {Paper}
 */
function paperOf(plan, width) {
  const [zero] = plan.places;
  const planned = plannedIn(plan);
  const reach = [...plan.places.map((place) => ({ ...place, r: place.ellipse?.semi_major_m ?? 0 })),
    { ...zero, r: plan.leastShiftM }, ...(planned ? [{ ...planned, r: 0 }] : [])];
  const [west, east] = [Math.min(...reach.map(({ east_m, r }) => east_m - r)),
    Math.max(...reach.map(({ east_m, r }) => east_m + r))];
  const [south, north] = [Math.min(...reach.map(({ north_m, r }) => north_m - r)),
    Math.max(...reach.map(({ north_m, r }) => north_m + r))];
  const perM = Math.min((width - 2 * EDGE) / Math.max(east - west, LEAST_WIDTH_M),
    (HIGH - 2 * EDGE) / Math.max(north - south, LEAST_WIDTH_M));
  return {
    perM, width, x: ({ east_m }) => width / 2 + (east_m - (east + west) / 2) * perM,
    y: ({ north_m }) => HIGH / 2 - (north_m - (north + south) / 2) * perM,
  };
}

/** @param {Paper} paper @param {Place} place @param {boolean} isNow */
function ellipseDrawn({ x, y, perM }, place, isNow) {
  if (!place.ellipse) return nothing;
  const { semi_major_m, semi_minor_m, azimuth_deg } = place.ellipse;
  const [cx, cy] = [x(place).toFixed(1), y(place).toFixed(1)];
  // The azimuth is of the long axis, from the grid's north clockwise; the drawing's long axis lies east.
  return svg`<ellipse class=${isNow ? 'ellipse' : 'ellipse old'} cx=${cx} cy=${cy}
    rx=${Math.max(2, semi_major_m * perM).toFixed(1)} ry=${Math.max(2, semi_minor_m * perM).toFixed(1)}
    transform="rotate(${(azimuth_deg - 90).toFixed(1)} ${cx} ${cy})"/>`;
}

/** From the first place to the newest. @param {Paper} paper @param {Plan} plan @param {Told} told */
function arrow({ x, y }, { places }, { verdict }) {
  const [zero, now] = [places[0], places[places.length - 1]];
  const [x0, y0, x1, y1] = [x(zero), y(zero), x(now), y(now)];
  const long = Math.hypot(x1 - x0, y1 - y0);
  if (!verdict || long < 14) return nothing;
  const [ux, uy] = [(x1 - x0) / long, (y1 - y0) / long];
  const [tipX, tipY] = [x1 - ux * 5, y1 - uy * 5];
  const barb = (/** @type {number} */ side) =>
    `${(tipX - 9 * ux + side * 5 * uy).toFixed(1)} ${(tipY - 9 * uy - side * 5 * ux).toFixed(1)}`;
  return svg`<path class="look-line ${verdict}" d="M${x0.toFixed(1)} ${y0.toFixed(1)}L${tipX.toFixed(1)} ${
    tipY.toFixed(1)}"/><path class="look-line" d="M${barb(1)}L${tipX.toFixed(1)} ${tipY.toFixed(1)}L${barb(-1)}"/>`;
}

/**
 * The days of the first place and the newest, off each other: the first one's outside the least shift.
 * @param {Paper} paper @param {Plan} plan @param {Told} told
 */
function labels({ x, y, width, perM }, { places, leastShiftM }, { zone }) {
  const [zero, now] = [places[0], places[places.length - 1]];
  const isAbove = now !== zero && y(now) > y(zero);
  const label = (/** @type {Place} */ place, /** @type {boolean} */ above, /** @type {number} */ off_m,
    /** @type {string} */ of) => {
    const off = Math.max(8, off_m * perM + 4);
    return svg`<text class="m halo ${of}" x=${Math.min(width - 48, Math.max(48, x(place))).toFixed(1)}
      y=${Math.min(HIGH - 6, Math.max(LABEL, y(place) + (above ? -off : off + LABEL - 3))).toFixed(1)}>${
        fullDay(place.ms, zone)}</text>`;
  };
  const reach = Math.max(leastShiftM, zero.ellipse?.semi_major_m ?? 0);
  return svg`${label(zero, isAbove, reach, '')}${now === zero ? nothing
    : label(now, !isAbove, now.ellipse?.semi_major_m ?? 0, 'b')}`;
}

/**
 * The grid's north is up; true north is turned from it.
 * @param {number} azimuthDeg where the grid's north points @param {number} width
 */
const northDrawn = (azimuthDeg, width) => svg`<g transform="translate(${width - 18} 24) rotate(${
  (-azimuthDeg).toFixed(1)})"><path class="ink-line" d="M0 14V-14M-5 -7 0 -14 5 -7"/></g>
  <text class="m" x=${width - 18} y="56">N</text>`;

/** @param {Paper} paper @param {boolean} feet */
function scaleBar({ perM, width }, feet) {
  const unitM = feet ? 1 / FEET_IN_A_METRE : 1;
  const bar = [...BARS_M].reverse().find((of) => of * unitM * perM <= width / 4) ?? BARS_M[0];
  return svg`<path class="ink-line" d="M8 ${HIGH - 14}v5h${(bar * unitM * perM).toFixed(1)}v-5"/>
    <text x=${(14 + bar * unitM * perM).toFixed(1)} y=${HIGH - 8}>${`${bar}\u00a0${feet ? 'ft' : 'm'}`}</text>`;
}

/**
 * The plan in words.
 * @param {Plan} plan @param {Told} told @returns {string}
 */
export function planWords({ places, leastShiftM, azimuthDeg }, { zone, feet }) {
  const [zero, now] = [places[0], places[places.length - 1]];
  const least = `The least shift that matters here is ${length(leastShiftM, feet)}.`;
  if (now === zero) return `One position since it was placed, on ${fullDay(zero.ms, zone)}. A second one is needed to `
    + `see a movement. ${least}`;
  const [east, north] = [now.east_m - zero.east_m, now.north_m - zero.north_m];
  const bearing = ((Math.atan2(east, north) * 180) / Math.PI + azimuthDeg + 360) % 360;
  const off = length(Math.hypot(east, north), feet);
  const where = parseFloat(off) ? `${off} ${compassWord(bearing)} of` : `${off} from`;
  const between = places.length > 2 ? ` ${counted(places.length - 2, 'position')} between.` : '';
  return `Measured on ${fullDay(now.ms, zone)} ${where} where it was on ${fullDay(zero.ms, zone)}.${between} ${least}`;
}

/** @param {Plan} plan @param {Told} told */
export function planDrawn(plan, told) {
  const paper = paperOf(plan, isWide() ? 510 : 358);
  const { places, leastShiftM, azimuthDeg } = plan;
  const [zero, now] = [places[0], places[places.length - 1]];
  const { x, y, perM, width } = paper;
  const planned = plannedIn(plan);
  const words = planWords(plan, told);
  const withEllipse = [...new Set([zero, ...places.slice(-ELLIPSES)])];
  const [px, py] = planned ? [x(planned), y(planned)] : [0, 0];
  return html`<figure class="chart"><svg class="draw" viewBox="0 0 ${width} ${HIGH}" role="img" aria-label=${words}>
    ${leastShiftM ? svg`<circle class="dash" cx=${x(zero).toFixed(1)} cy=${y(zero).toFixed(1)}
      r=${(leastShiftM * perM).toFixed(1)}/>` : nothing}
    ${planned ? svg`<path class="planned" d="M${(px - 6).toFixed(1)} ${py.toFixed(1)}h12M${px.toFixed(1)} ${
      (py - 6).toFixed(1)}v12"/>` : nothing}
    ${withEllipse.map((place) => ellipseDrawn(paper, place, place === now))}
    ${places.map((place) => svg`<circle class=${place === now ? 'place' : 'was'} cx=${x(place).toFixed(1)}
      cy=${y(place).toFixed(1)} r=${place === now ? 4 : 2.5}/>`)}
    ${arrow(paper, plan, told)}${labels(paper, plan, told)}${northDrawn(azimuthDeg, width)}${scaleBar(paper, told.feet)}
    </svg><ul class="legend small">${legendOf(plan, told).map(([shape, of]) => html`<li><svg class="draw"
      viewBox="0 0 22 18" aria-hidden="true">${shape}</svg>${of}</li>`)}</ul>
    <figcaption class="small">${words} The ellipses are of the readings alone: how well the marks are known is not in
      them.</figcaption></figure>`;
}

/** @param {Plan} plan @param {Told} told @returns {[unknown, string][]} */
function legendOf(plan, { feet }) {
  /** @type {[unknown, string][]} */ const legend = [
    [svg`<ellipse class="ellipse" cx="11" cy="9" rx="10" ry="6"/>`, 'newest: inside it 95 times in 100']];
  if (plan.places.length > 1) legend.push([svg`<ellipse class="ellipse old" cx="11" cy="9" rx="10" ry="6"/>`,
    'earlier']);
  if (plan.leastShiftM) legend.push([svg`<circle class="dash" cx="11" cy="9" r="8"/>`,
    `least shift that matters, ${length(plan.leastShiftM, feet)}`]);
  if (plannedIn(plan)) legend.push([svg`<path class="planned" d="M5 9h12M11 3v12"/>`, 'planned place']);
  return legend;
}
