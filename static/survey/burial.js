/**
 * Buried or sunk: what a change of the height that shows says, with a rod's reading of the crest and without, as
 * fieldlog/survey/burial.py has it, where the reasons stand.
 * @typedef {number|null|undefined} Read
 * @typedef {{exposed_height_mm?: Read, crest_level_mm?: Read, crest_datum?: string|null}} Heights
 * @typedef {{word: 'buried'|'sank'|'cannot tell'|null, crest_change_mm: number|null, bed_change_mm: number|null, what:
 *   string, means: string}} Burial
 */
import { rounded } from '../rounding.js';

/** Our own proposal where a site sets no repeatability. */
export const REPEAT_MM = 10;
const UNCHANGED = 'No change found since last time.';

/** @param {Burial} found @returns {boolean} whether anything was found to have changed */
export const isChange = ({ what }) => what !== UNCHANGED;

/**
 * What changed last time that a unit was measured.
 * @param {Heights[]} checks since it was placed, the newest first; one that read neither height nor crest is passed
 *   over
 * @param {number} [repeat_mm] @returns {Burial|null} what the newest two say
 */
export function newestBurial(checks, repeat_mm = REPEAT_MM) {
  const [now, then] = checks.filter((check) => isRead(check.exposed_height_mm) || isRead(check.crest_level_mm));
  return then ? burial(then, now, repeat_mm) : null;
}

/**
 * @param {Heights} then @param {Heights} now @param {number} [repeat_mm]
 * @returns {Burial|null} null where nothing was read on both days
 */
export function burial(then, now, repeat_mm = REPEAT_MM) {
  const shows_mm = change(then.exposed_height_mm, now.exposed_height_mm);
  const mark = sameName(then.crest_datum);
  const crest_mm = mark && mark === sameName(now.crest_datum)
    ? change(then.crest_level_mm, now.crest_level_mm) : null;
  if (crest_mm === null) return shows_mm === null ? null : withoutCrest(shows_mm, repeat_mm, then, now);
  const bed_mm = shows_mm === null ? null : crest_mm - shows_mm;
  const bedCounts = bed_mm !== null && Math.abs(bed_mm) >= Math.SQRT2 * repeat_mm;
  const bed = bedCounts ? `The bed ${bed_mm > 0 ? 'rose' : 'fell'} ${mm(bed_mm)} mm.` : '';
  const burial = (/** @type {Burial['word']} */ word, /** @type {string} */ what, /** @type {string} */ means) =>
    ({ word, crest_change_mm: crest_mm, bed_change_mm: bed_mm, what, means });
  if (crest_mm <= -repeat_mm) {
    return burial('sank', `Sank: its crest is ${mm(crest_mm)} mm lower than last time.`,
      bed || (bed_mm === null ? 'The bed was not read.' : 'No change in the bed was found.'));
  }
  if (crest_mm >= repeat_mm) {
    return burial('cannot tell', `Its crest is ${mm(crest_mm)} mm higher than last time.`,
      'Units do not rise by themselves. Read the crest level again.');
  }
  if (bedCounts && bed_mm > 0) return burial('buried', `Buried: the bed rose ${mm(bed_mm)} mm since last time.`,
    'Its crest is as high as it was.');
  if (bedCounts) return burial(null, `${bed.slice(0, -1)} since last time.`,
    'Its crest is as high as it was. Measure the scour at its base.');
  return burial(null, ...asLastTime(repeat_mm));
}

/** @param {number} shows_mm @param {number} repeat_mm @param {Heights} then @param {Heights} now @returns {Burial} */
function withoutCrest(shows_mm, repeat_mm, then, now) {
  const burial = (/** @type {Burial['word']} */ word, /** @type {string} */ what, /** @type {string} */ means) =>
    ({ word, crest_change_mm: null, bed_change_mm: null, what, means });
  if (Math.abs(shows_mm) < repeat_mm) return burial(null, ...asLastTime(repeat_mm));
  if (shows_mm > 0) return burial(null, `${mm(shows_mm)} mm more showing than last time.`,
    'Measure the scour at its base.');
  const why = !isRead(then.crest_level_mm) || !isRead(now.crest_level_mm) ? 'read its crest level to know'
    : sameName(then.crest_datum) && sameName(now.crest_datum) ? 'the two crest levels are above different marks'
      : 'a crest level does not say above which mark it is';
  return burial('cannot tell', `${mm(shows_mm)} mm less showing than last time.`,
    `Buried deeper, or the unit sank: ${why}.`);
}

/** @param {number} repeat_mm @returns {[string, string]} */
const asLastTime = (repeat_mm) => [UNCHANGED, `Readings here show changes of ${mm(repeat_mm)} mm or more.`];

/**
 * A mark's name without what two people write otherwise: capitals, and more or less white space.
 * @param {string|null|undefined} text
 */
const sameName = (text) => (text ?? '').trim().replace(/\s+/g, ' ').toLowerCase();

/** @param {Read} value @returns {value is number} */
const isRead = (value) => value !== null && value !== undefined;

/** @param {Read} then_mm @param {Read} now_mm */
const change = (then_mm, now_mm) => (isRead(then_mm) && isRead(now_mm) ? now_mm - then_mm : null);

/** @param {number} change_mm */
const mm = (change_mm) => rounded(Math.abs(change_mm), 0);
