/** How a day is written in a sentence, letter for letter as the server writes it (fieldlog/days.py). */

const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October',
  'November', 'December'];
const WEEKDAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/** The site's day of an instant, such as 2026-04-15. @param {number} ms @param {string} zone */
export function localDay(ms, zone) {
  let format = formats.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat('en-GB', { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit' });
    formats.set(zone, format);
  }
  return format.format(ms).split('/').reverse().join('-');
}

/** @param {string} day 2026-11-28 @returns {string} Nov */
export const monthShort = (day) => MONTHS[Number(day.slice(5, 7)) - 1].slice(0, 3);

/** @param {string} day 2026-11-28 @returns {string} November 2026 */
export const monthWords = (day) => `${MONTHS[Number(day.slice(5, 7)) - 1]} ${day.slice(0, 4)}`;

/**
 * @param {string} day 2026-11-28 @param {{weekday?: boolean, year?: boolean}} [parts]
 * @returns {string} Nov 28; with its weekday Sat, Nov 28; with its year Nov 28, 2026
 */
export function dayWords(day, { weekday = false, year = false } = {}) {
  const dayWord = `${monthShort(day)} ${Number(day.slice(8, 10))}${year ? `, ${day.slice(0, 4)}` : ''}`;
  return weekday ? `${WEEKDAYS[new Date(day.slice(0, 10)).getUTCDay()]}, ${dayWord}` : dayWord;
}
