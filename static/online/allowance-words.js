/** What an allowance that a record or readings propose is made of, in words for the lead who chooses it. */
import { rounded } from '../rounding.js';
import { counted, length } from '../views/words.js';

/** How far beside the prediction. @param {number} metres @param {boolean} feet @returns {string} 0.02 m above */
export const beside = (metres, feet) =>
  `${length(Math.abs(metres), feet)} ${rounded(metres, 2).startsWith('-') ? 'below' : 'above'}`;

/**
 * @typedef {{shown_m: number, more_m: number, days: number, is_floor: boolean, is_season_known: boolean,
 *   is_year: boolean}} AllowanceParts as the server worked them out
 */

/**
 * What a lead should know of an allowance, and do about it.
 * @param {AllowanceParts} parts @param {boolean} isRecord of a record, else of the crew's readings
 */
export const further = ({ is_season_known: isSeasonKnown, is_year: isYear }, isRecord) =>
  `${isSeasonKnown ? '' : ' How the sea\u2019s level changes over the year is not known here.'}${
    isYear ? '' : isRecord ? ' After a year of record, upload it again.' : ' A logger\u2019s record shows more.'}`;

/**
 * What an allowance is made of: a statistic, which stands under Details.
 * @param {AllowanceParts} parts @param {'lows'|'readings'} what it was worked out from @param {boolean} feet
 */
export function madeOf({ shown_m: shown, more_m: more, days, is_floor: isFloor, is_year: isYear }, what, feet) {
  const isRecord = what === 'lows';
  const showed = shown === 0 ? 'was no higher than predicted' : shown > 0
    ? `was less than ${length(shown, feet)} above the prediction`
    : `was ${length(-shown, feet)} below the prediction, or lower`;
  const because = isFloor ? `less than this is not proposed from ${isRecord ? 'under a year' : 'single readings'}`
    : isYear ? 'one year is not like the next'
      : `${isRecord ? counted(days, 'day') : 'single readings'} do not show a year`;
  return `On 95 of 100 ${what}${isRecord ? ' of this record' : ''} the water ${showed}. `
    + `${length(more, feet)} more is added because ${because}.`;
}
