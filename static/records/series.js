/**
 * Many units at once: a run of slots along a row's line, or a row's units set off to a new row. Numbers in, fields of
 * units out; nothing is written here.
 */
import { rounded } from '../rounding.js';
import { rowLetter, tagFor, tagMadeHere } from './tags.js';

/**
 * A row's line: where one slot of it is planned, metres on the site's grid, its direction in degrees clockwise from the
 * grid's north, and the metres from a slot to the next.
 * @typedef {{slot: number, east_m: number, north_m: number, azimuth_deg: number, spacing_m: number}} Line
 *
 * @typedef {{tag: string|null, tag_made_here: boolean, slot_number: number, planned_east_m?: number,
 *   planned_north_m?: number}} Planned a unit's fields; tag: null where none can be made
 */

const RADIAN = Math.PI / 180;

/** @param {number} value_m @returns {number} to the millimetre */
const toMm = (value_m) => Number(rounded(value_m, 3));

/**
 * The direction from one place to another.
 * @param {{east_m: number, north_m: number}} from @param {{east_m: number, north_m: number}} to
 * @returns {number} degrees clockwise from the grid's north, 0 to 360
 */
export function azimuthOf(from, to) {
  const azimuth = Math.atan2(to.east_m - from.east_m, to.north_m - from.north_m) / RADIAN;
  return Number(rounded((azimuth + 360) % 360, 2));
}

/** @param {any} unit */
const isPlanned = (unit) => [unit.slot_number, unit.planned_east_m, unit.planned_north_m].every(Number.isFinite);

/**
 * The line on which a row's units are planned: from the one in its lowest slot to the one in its highest.
 * @param {any[]} units of the row @returns {Line|null} null where fewer than two slots have a planned place
 */
export function lineOf(units) {
  const planned = units.filter(isPlanned).sort((one, other) => one.slot_number - other.slot_number);
  const [first, last] = [planned[0], planned.at(-1)];
  const slots = planned.length ? last.slot_number - first.slot_number : 0;
  if (!slots) return null;
  const from = { east_m: first.planned_east_m, north_m: first.planned_north_m };
  const to = { east_m: last.planned_east_m, north_m: last.planned_north_m };
  const length_m = Math.hypot(to.east_m - from.east_m, to.north_m - from.north_m);
  if (!length_m) return null;
  return { slot: last.slot_number, ...to, azimuth_deg: azimuthOf(from, to), spacing_m: toMm(length_m / slots) };
}

/**
 * Where a slot of a line is.
 * @param {Line} line @param {number} slot @returns {{planned_east_m: number, planned_north_m: number}}
 */
function placeAt(line, slot) {
  const along_m = (slot - line.slot) * line.spacing_m;
  return { planned_east_m: toMm(line.east_m + along_m * Math.sin(line.azimuth_deg * RADIAN)),
    planned_north_m: toMm(line.north_m + along_m * Math.cos(line.azimuth_deg * RADIAN)) };
}

/**
 * A run of units, slot after slot.
 * @param {{rowName: string, firstSlot: number, count: number, line: Line|null,
 *   own: {before: string, from: number}|null}} of line: null where no place is planned; own: the tags that stand on the
 *   units already, a number after what stands before it; null where we make them, with a check digit
 * @returns {Planned[]}
 */
export function runOf({ rowName, firstSlot, count, line, own }) {
  return Array.from({ length: count }, (_, n) => ({
    tag: own ? `${own.before}${own.from + n}` : tagFor(rowName, firstSlot + n), tag_made_here: own === null,
    slot_number: firstSlot + n, ...(line ? placeAt(line, firstSlot + n) : {}),
  }));
}

/**
 * A row's units once more, in a row beside it. A tag of ours is made anew; of one that begins with the row's letter the
 * copy begins with the new one's.
 * @param {any[]} units
 * @param {{from: string, to: string, aside_m: number, azimuth_deg: number}} of the rows' names, how
 *   far from one to the other and in which direction
 * @returns {(Planned & {design_id?: string})[]}
 */
export function copyOf(units, { from, to, aside_m, azimuth_deg }) {
  const [letter, other] = [rowLetter(from) ?? from, rowLetter(to) ?? to];
  const [east_m, north_m] = [Math.sin, Math.cos].map((part) => aside_m * part(azimuth_deg * RADIAN));
  return units.filter((unit) => Number.isInteger(unit.slot_number))
    .sort((one, next) => one.slot_number - next.slot_number).map((unit) => {
      const isOurs = tagMadeHere(unit.tag, unit.tag_made_here);
      const follows = typeof unit.tag === 'string' && unit.tag.startsWith(letter);
      return {
        tag: isOurs ? tagFor(to, unit.slot_number) : follows ? `${other}${unit.tag.slice(letter.length)}`
          : null,
        tag_made_here: isOurs, slot_number: unit.slot_number,
        ...(unit.design_id ? { design_id: unit.design_id } : {}),
        ...(isPlanned(unit) ? { planned_east_m: toMm(unit.planned_east_m + east_m),
          planned_north_m: toMm(unit.planned_north_m + north_m) } : {}),
      };
    });
}

/**
 * Why these cannot be saved beside the units that are here; each sentence once.
 * @param {Planned[]} planned @param {any[]} units of the site @param {string|null} rowId @param {string} rowName
 * @param {any[]} copied the units that these are copies of, none of a run
 * @returns {string[]}
 */
export function clashes(planned, units, rowId, rowName, copied) {
  const inRow = new Map(units.filter((unit) => unit.row_id === rowId).map((unit) => [unit.slot_number, unit.tag]));
  const tags = new Set(units.map((unit) => unit.tag));
  const untagged = planned.filter((unit) => !unit.tag && !(unit.tag_made_here && rowLetter(rowName)));
  const sentences = planned.flatMap(({ tag, slot_number: slot }) => [
    ...(inRow.has(slot) ? [`Slot ${slot} of row ${rowName} has ${inRow.get(slot) ?? 'a unit'} already. Begin at `
      + 'another slot, or remove that unit first.'] : []),
    ...(tag && tags.has(tag) ? [`Tag ${tag} is on another unit already. A tag names one unit: choose another.`] : []),
  ]);
  return [...(untagged.length ? untaggedWords(untagged, rowName, copied) : []), ...sentences];
}

/** @param {Planned[]} untagged @param {string} rowName @param {any[]} copied @returns {string[]} */
function untaggedWords(untagged, rowName, copied) {
  if (untagged.every((unit) => unit.tag_made_here)) {
    return [`No tag can be made for row ${rowName}: its name must end in a single letter, as in \u201cRow D\u201d. `
      + 'Rename it, or choose the tags that stand on the units.'];
  }
  const tagged = new Set(copied.filter((unit) => unit.tag).map((unit) => unit.slot_number));
  const slotsOf = (/** @type {boolean} */ isTagged) => {
    const slots = untagged.map(({ slot_number: slot }) => slot).filter((slot) => tagged.has(slot) === isTagged);
    return slots.length ? `${slots.length > 1 ? 'slots' : 'slot'} ${slots.join(', ')}` : null;
  };
  const [otherwise, without] = [slotsOf(true), slotsOf(false)];
  return [
    ...(otherwise ? [`No tag can be made for the copy of ${otherwise}: the old one does not begin with the row\u2019s `
      + 'letter. Add the new row\u2019s units as a series instead.'] : []),
    ...(without ? [`No tag is on record in ${without}, so there is none to copy. Fill in what is missing first, or add `
      + 'the new row\u2019s units as a series.'] : []),
  ];
}
