/**
 * What a unit's checks read of each measure, in order of time: lines that break where nothing was read or where a
 * reading cannot be compared with the one before.
 */
import { STARTS_ANEW } from '../survey/movement.js';
import { LEAN_LOOK_DEG } from '../survey/raised.js';
import { hasHeight, MEASURED, tellsMeasures, wasFound, wasLookedAt } from './unit-facts.js';
import { msOf, turnMs } from './words.js';

const DAY_MS = 86_400_000;
/** A site that says no interval is taken to check each quarter: our own proposal. */
const USUAL_EVERY_DAYS = 92;
/** Where so many times the site's interval lies between two readings, at least one is missing: our own proposal. */
const MISSED_AT = 1.5;
/** What people look for first. */
const FIRST = ['exposed_height_mm', 'tilt_deg', 'crest_level_mm'];
/** How deep the water stood says nothing of the unit. */
const NOT_OF_THE_UNIT = ['water_depth_m'];

/**
 * @typedef {import('../records/rows.js').UnitCheck} UnitCheck
 * @typedef {import('../records/rows.js').UnitEvent} UnitEvent
 * @typedef {{ms: number, turn: number, value: number, check: UnitCheck}} Reading turn: its place in the order
 * @typedef {{fromMs: number, toMs: number}} Span
 * @typedef {{field: string, title: string, unit: string, readings: Reading[], pieces: Reading[][], gaps: Span[],
 *   limit: {value: number, words: string}|null}} Series pieces: readings that one line joins; gaps: longer than the
 *   site's interval allows
 * @typedef {{fromMs: number, toMs: number, looks: number[], missed: number[], events: {ms: number, event:
 *   UnitEvent}[], series: Series[], unread: string[]}} Measured looks: seen and not measured; missed: searched dry and
 *   not found; unread: titles of measures that nobody read yet
 */

/** @param {unknown} value @returns {value is number} */
const isNumber = (value) => typeof value === 'number';

/**
 * @template {{time_known?: boolean|null}} R
 * @param {R[]} rows @param {(row: R) => string|null|undefined} timeOf
 * @returns {{ms: number, turn: number, row: R}[]} oldest first; what has no time has no place on an axis of time
 */
const timed = (rows, timeOf) => rows
  .map((row) => ({ ms: msOf(timeOf(row)) ?? NaN, turn: turnMs(row, timeOf(row)), row }))
  .filter(({ ms }) => Number.isFinite(ms)).sort((one, other) => one.turn - other.turn);

/**
 * @param {string} field
 * @param {{design: import('../records/rows.js').UnitDesign|null|undefined,
 *   site: import('../records/rows.js').Site|null|undefined}} of
 */
function limitOf(field, { design, site }) {
  if (field === 'exposed_height_mm' && hasHeight(design))
    return { value: design.height_mm, words: `whole height ${design.height_mm} mm` };
  const lean = site?.lean_look_deg || LEAN_LOOK_DEG;
  return field === 'tilt_deg' ? { value: lean, words: `flagged from ${lean}\u00b0` } : null;
}

/**
 * @param {Reading[]} readings oldest first @param {number} mostMs between two readings of one line
 * @param {number[]} breaks where in that order a line ends whatever was read
 * @param {(before: Reading, reading: Reading) => boolean} [isAlike] whether two can be compared
 * @returns {{pieces: Reading[][], gaps: Span[]}}
 */
function piecesOf(readings, mostMs, breaks, isAlike = () => true) {
  /** @type {Reading[][]} */ const pieces = [];
  /** @type {Span[]} */ const gaps = [];
  readings.forEach((reading, n) => {
    const before = readings[n - 1];
    const isLong = before && reading.ms - before.ms > mostMs;
    const isNew = !before || isLong || !isAlike(before, reading)
      || breaks.some((turn) => turn > before.turn && turn <= reading.turn);
    if (isLong) gaps.push({ fromMs: before.ms, toMs: reading.ms });
    if (isNew) pieces.push([reading]);
    else pieces[pieces.length - 1].push(reading);
  });
  return { pieces, gaps };
}

/** @param {Reading} before @param {Reading} reading */
const isAboveTheSame = (before, reading) => before.check.crest_datum === reading.check.crest_datum;

/**
 * @param {{checks: UnitCheck[], events: UnitEvent[], design?: import('../records/rows.js').UnitDesign|null,
 *   site?: import('../records/rows.js').Site|null}} of that stand
 * @param {(field: string) => {title: string, unit: string}|null} told of a field, null where it has no unit
 * @param {number} nowMs
 * @returns {Measured|null} null where nothing has a time yet
 */
export function measuredOf({ checks, events, design, site }, told, nowMs) {
  const [known, done] = [timed(checks, (check) => check.checked_at), timed(events, (event) => event.event_at)];
  const all = [...known, ...done].map(({ ms }) => ms);
  if (!all.length) return null;
  const isOver = done[done.length - 1]?.row.event === 'retired';
  const toMs = Math.max(...all, isOver ? 0 : nowMs);
  const missed = known.filter(({ row }) => !wasFound(row) && wasLookedAt(row));
  const anew = done.filter(({ row }) => STARTS_ANEW.includes(row.event ?? ''));
  const mostMs = MISSED_AT * (site?.check_every_days ?? USUAL_EVERY_DAYS) * DAY_MS;
  const fields = [...new Set([...FIRST, ...MEASURED])].filter((field) => !NOT_OF_THE_UNIT.includes(field));
  const series = fields.flatMap((field) => {
    const words = told(field);
    if (!words) return [];
    const readings = known.flatMap(({ ms, turn, row }) => {
      const value = row[/** @type {'tilt_deg'} */ (field)];
      return tellsMeasures(row) && isNumber(value) ? { ms, turn, value, check: row } : [];
    });
    const { pieces, gaps } = piecesOf(readings, mostMs, [...missed, ...anew].map(({ turn }) => turn),
      field === 'crest_level_mm' ? isAboveTheSame : undefined);
    const last = readings[readings.length - 1];
    const isOpen = last && !isOver && toMs - last.ms > mostMs;
    return { field, ...words, readings, pieces, limit: limitOf(field, { design, site }),
      gaps: isOpen ? [...gaps, { fromMs: last.ms, toMs }] : gaps };
  });
  return {
    fromMs: Math.min(...all), toMs, missed: missed.map(({ ms }) => ms),
    events: done.map(({ ms, row }) => ({ ms, event: row })),
    looks: known.filter(({ row }) => wasFound(row) && row.looked_only).map(({ ms }) => ms),
    series: series.filter(({ readings }) => readings.length),
    unread: series.filter(({ readings }) => !readings.length).map(({ title }) => title),
  };
}
