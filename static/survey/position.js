/**
 * A place from tape ranges: plain least squares by Gauss-Newton, weights 1/s², as fieldlog/survey/position.py has it.
 * @typedef {{label: string, east_m: number, north_m: number, range_m: number, sigma_m: number}} TapeRange
 * @typedef {{east_m: number, north_m: number}} Point
 * @typedef {[number, number, number]} Covariance east-east, east-north, north-north in m²
 * @typedef {{word: string, sentence: string}} Doubt
 * @typedef {{semi_major_m: number, semi_minor_m: number, azimuth_deg: number}} Ellipse 95 %
 * @typedef {{east_m: number, north_m: number, covariance: Covariance, residuals_m: number[], s0: number|null,
 *   ellipse: Ellipse, mirror: Point|null, cut_deg: number, warnings: Doubt[]}} Adjusted
 */
import { rounded } from '../rounding.js';

export const TAPE_SIGMA_M = 0.02;
const LEAST_SIGMA_M = 1e-6;
const Z_95 = 1.959963984540054;
const K_95 = Math.sqrt(-2 * Math.log(0.05));
const CHI2_1_95 = Z_95 ** 2;
const LEAST_CUT_DEG = 30;
const STEP_END_M = 1e-10;
const MOST_STEPS = 50;
const DEGREES = 180 / Math.PI;

/** @template T @param {T[]} list @returns {[T, T][]} */
const pairs = (list) => list.flatMap((first, n) => list.slice(n + 1)
  .map((second) => /** @type {[T, T]} */ ([first, second])));

/** @param {Point} one @param {Point} two */
const apart = (one, two) => Math.hypot(two.east_m - one.east_m, two.north_m - one.north_m);

/**
 * The place that fits the tapes best.
 * @param {TapeRange[]} ranges two or more, from at least two marks
 * @param {Point|null} expected where the thing should stand; decides between two places that fit
 * @returns {Adjusted|Doubt} a Doubt says why the tapes give no place: too-few, impossible, on-the-line
 */
export function adjust(ranges, expected) {
  const starts = unusable(ranges) ?? startsOf(ranges);
  if (!Array.isArray(starts)) return starts;
  const sides = starts.map((start) => descend(ranges, start)).filter((place) => place !== null);
  if (!sides.length) return onTheLine(ranges);
  const [place, mirror] = choose(ranges, sides, expected);
  return described(ranges, place, mirror, expected);
}

/** @param {TapeRange[]} ranges @param {Point[]} sides @param {Point|null} expected @returns {[Point, Point|null]} */
function choose(ranges, sides, expected) {
  const best = least(sides, (side) => misfit(ranges, side));
  const other = least(sides, (side) => -apart(side, best));
  if (apart(best, other) < 1e-6 || misfit(ranges, other) - misfit(ranges, best) > CHI2_1_95) return [best, null];
  const chosen = expected ? least(sides, (side) => apart(side, expected)) : sides[0];
  return [chosen, chosen === best ? other : best];
}

/** @template T @param {T[]} list @param {(one: T) => number} measure @returns {T} the first of the least */
const least = (list, measure) => list.reduce((best, item) => (measure(item) < measure(best) ? item : best));

/** @param {TapeRange[]} ranges @returns {Doubt|null} */
function unusable(ranges) {
  if (new Set(ranges.map((tape) => `${tape.east_m} ${tape.north_m}`)).size < 2)
    return { word: 'too-few', sentence: 'A position needs tapes from two marks or more. Measure from another mark.' };
  const wrong = ranges.find((tape) => tape.range_m <= 0 || tape.sigma_m < LEAST_SIGMA_M);
  if (!wrong) return null;
  const why = wrong.range_m <= 0 ? `reads ${rounded(wrong.range_m, 2)} m; it must be longer than 0 m. Read it again.`
    : 'is given as surer than 0.000001 m; no tape is. Write how well you can read it, such as 0.02 m.';
  return { word: 'impossible', sentence: `The tape from ${wrong.label} ${why}` };
}

/**
 * @param {TapeRange[]} ranges
 * @returns {Point[]|Doubt} where the two tapes that cross best meet, left of their base line first
 */
function startsOf(ranges) {
  const crossing = pairs(ranges).map((pair) => ({ pair, cut: crossingDeg(...pair) })).filter(({ cut }) => cut !== null);
  if (crossing.length) return meeting(...least(crossing, ({ cut }) => -Number(cut)).pair, null);
  const [one, two] = /** @type {[TapeRange, TapeRange]} */ (pairs(ranges).find((pair) => apart(...pair) > 0));
  if (ranges.length > 2) return meeting(one, two, Math.min(one.range_m, two.range_m) / 2);
  if (gap(one, two) <= 2 * (one.sigma_m + two.sigma_m)) return onTheLine(ranges);
  return {
    word: 'impossible',
    sentence: `Tapes of ${rounded(one.range_m, 2)} m from ${one.label} and ${rounded(two.range_m, 2)} m from `
      + `${two.label} cannot meet: these marks are ${rounded(apart(one, two), 2)} m apart. Read both again.`,
  };
}

/** @param {TapeRange[]} ranges @returns {Doubt} */
function onTheLine(ranges) {
  const labels = [...new Set(ranges.map((tape) => tape.label))].join(' and ');
  return { word: 'on-the-line',
    sentence: `It is on the line through ${labels}, where these tapes cannot place it. Measure from a mark off `
      + 'that line.' };
}

/**
 * @param {TapeRange} one @param {TapeRange} two
 * @returns {number} by how much two tapes miss each other; negative where they cross
 */
function gap(one, two) {
  const base = apart(one, two);
  return Math.max(base - one.range_m - two.range_m, Math.abs(one.range_m - two.range_m) - base);
}

/**
 * @param {TapeRange} one @param {TapeRange} two @returns {number|null} 0 to 90 degrees, null where they do not cross
 */
function crossingDeg(one, two) {
  const base = apart(one, two);
  if (base === 0 || gap(one, two) >= 0) return null;
  return Math.acos(Math.min(1,
    Math.abs((one.range_m ** 2 + two.range_m ** 2 - base ** 2) / (2 * one.range_m * two.range_m)))) * DEGREES;
}

/**
 * @param {TapeRange} one @param {TapeRange} two @param {number|null} aside_m where the circles do not quite meet
 * @returns {Point[]}
 */
function meeting(one, two, aside_m) {
  const base = apart(one, two);
  const along = (one.range_m ** 2 - two.range_m ** 2 + base ** 2) / (2 * base);
  const across = aside_m ?? Math.sqrt(Math.max(0, one.range_m ** 2 - along ** 2));
  const [east, north] = [(two.east_m - one.east_m) / base, (two.north_m - one.north_m) / base];
  return [1, -1].map((side) => ({
    east_m: one.east_m + along * east - side * north * across,
    north_m: one.north_m + along * north + side * east * across,
  }));
}

/**
 * @param {TapeRange[]} ranges @param {Point} place
 * @returns {{matrix: Covariance, right: [number, number]}|null} null at a mark itself
 */
function normals(ranges, place) {
  let [ee, en, nn, rightE, rightN] = [0, 0, 0, 0, 0];
  for (const tape of ranges) {
    const distance = apart(tape, place);
    if (distance < 1e-9) return null;
    const [east, north] = [(place.east_m - tape.east_m) / distance, (place.north_m - tape.north_m) / distance];
    const [weight, miss] = [1 / tape.sigma_m ** 2, tape.range_m - distance];
    ee += weight * east * east;
    en += weight * east * north;
    nn += weight * north * north;
    rightE += weight * east * miss;
    rightN += weight * north * miss;
  }
  return { matrix: [ee, en, nn], right: [rightE, rightN] };
}

/** @param {Covariance} matrix @returns {Covariance|null} */
function inverse([ee, en, nn]) {
  const determinant = ee * nn - en * en;
  return determinant <= 1e-12 * (ee + nn) ** 2 ? null : [nn / determinant, -en / determinant, ee / determinant];
}

/**
 * @param {TapeRange[]} ranges @param {Point} start
 * @returns {Point|null} Gauss-Newton; null where it does not come to rest
 */
function descend(ranges, start) {
  let place = start;
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const sums = normals(ranges, place);
    const inverted = sums && inverse(sums.matrix);
    if (!sums || !inverted) return null;
    const stepE = inverted[0] * sums.right[0] + inverted[1] * sums.right[1];
    const stepN = inverted[1] * sums.right[0] + inverted[2] * sums.right[1];
    place = { east_m: place.east_m + stepE, north_m: place.north_m + stepN };
    if (Math.hypot(stepE, stepN) < STEP_END_M) return place;
  }
  return null;
}

/** @param {TapeRange[]} ranges @param {Point} place */
const residuals = (ranges, place) => ranges.map((tape) => tape.range_m - apart(tape, place));

/** @param {TapeRange[]} ranges @param {Point} place */
const misfit = (ranges, place) => residuals(ranges, place).reduce((sum, v, n) => sum + (v / ranges[n].sigma_m) ** 2, 0);

/**
 * @param {TapeRange[]} ranges @param {Point} place @param {Point|null} mirror @param {Point|null} expected
 * @returns {Adjusted|Doubt}
 */
function described(ranges, place, mirror, expected) {
  const sums = normals(ranges, place);
  const covariance = sums && inverse(sums.matrix);
  if (!covariance) return onTheLine(ranges);
  const left = residuals(ranges, place);
  const freedom = ranges.length - 2;
  const cut = cutDeg(ranges, place);
  return {
    ...place, covariance, residuals_m: left, s0: freedom > 0 ? Math.sqrt(misfit(ranges, place) / freedom) : null,
    ellipse: ellipse95(covariance), mirror, cut_deg: cut,
    warnings: [blunder(ranges, place, covariance, left), weak(cut), side(mirror, expected)]
      .filter((doubt) => doubt !== null),
  };
}

/** @param {Covariance} covariance @returns {Ellipse} */
export function ellipse95([ee, en, nn]) {
  const [middle, half] = [(ee + nn) / 2, Math.hypot((ee - nn) / 2, en)];
  const azimuth = 0.5 * Math.atan2(2 * en, nn - ee) * DEGREES;
  return { semi_major_m: K_95 * Math.sqrt(middle + half), semi_minor_m: K_95 * Math.sqrt(Math.max(0, middle - half)),
    azimuth_deg: (azimuth + 180) % 180 };
}

/** @param {TapeRange[]} ranges @param {Point} place */
function cutDeg(ranges, place) {
  const angles = ranges.map((tape) => Math.atan2(place.east_m - tape.east_m, place.north_m - tape.north_m));
  return Math.max(...pairs(angles).map(([one, two]) =>
    Math.asin(Math.min(1, Math.abs(Math.sin(one - two)))) * DEGREES));
}

/** @param {number} cut @returns {Doubt|null} */
function weak(cut) {
  if (cut >= LEAST_CUT_DEG) return null;
  return { word: 'weak',
    sentence: `The tapes cross at ${rounded(cut, 0)}° only; under ${LEAST_CUT_DEG}° a position is weak. Measure `
      + 'from a mark more to the side.' };
}

/** @param {Point|null} mirror @param {Point|null} expected @returns {Doubt|null} */
function side(mirror, expected) {
  if (!mirror) return null;
  if (!expected) return { word: 'side-unknown',
    sentence: 'Two positions fit these tapes. Add a tape from a third mark to decide.' };
  return { word: 'side',
    sentence: 'Two positions fit these tapes. The one closer to where it should be is used. The other is '
      + `${rounded(mirror.east_m, 2)} m east, ${rounded(mirror.north_m, 2)} m north.` };
}

/**
 * @param {TapeRange[]} ranges @param {Point} place @param {Covariance} covariance @param {number[]} left
 * @returns {Doubt|null}
 */
function blunder(ranges, place, covariance, left) {
  if (ranges.length < 3) return null;
  let [worst, ratio] = [ranges[0], 0];
  ranges.forEach((tape, n) => {
    const distance = tape.range_m - left[n];
    const [east, north] = [(place.east_m - tape.east_m) / distance, (place.north_m - tape.north_m) / distance];
    const q = tape.sigma_m ** 2 - (east ** 2 * covariance[0] + 2 * east * north * covariance[1] + north ** 2
      * covariance[2]);
    if (q > 1e-6 * tape.sigma_m ** 2 && Math.abs(left[n]) / Math.sqrt(q) > ratio) [worst, ratio] = [tape,
      Math.abs(left[n]) / Math.sqrt(q)];
  });
  if (ratio <= Z_95) return null;
  const which = ranges.length === 3
    ? 'One of the three is misread, and three tapes cannot show which: measure from a fourth mark.'
    : `The one from ${worst.label} fits worst: read it again.`;
  return { word: 'blunder',
    sentence: `The tapes do not agree: the best fit misses one by ${rounded(Math.max(...left.map(Math.abs)), 3)} m. `
      + which };
}
