/**
 * A year of visits as a picture: a line from January to December, on it each visit as a bar at its day, as tall as the
 * hours that people were there. SVG only; the list beside it says the same in words.
 */
import { dayWords, monthShort } from '../days.js';
import { svg, html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isWide } from './marks.js';
import { counted } from './words.js';

const DAY_MS = 86_400_000;
const [LEFT, BASE, TALL, LEAST, BAR] = [4, 60, 44, 4, 5];
const MONTHS = Array.from({ length: 12 }, (_, n) => `${String(n + 1).padStart(2, '0')}`);

/** Whole enough for a drawing. @param {number} px */
const tenth = (px) => Math.round(px * 10) / 10;

/** @param {string} day 2026-11-28 @returns {number} days since the year began */
const dayOfYear = (day) => (Date.parse(day) - Date.parse(`${day.slice(0, 4)}-01-01`)) / DAY_MS;

/**
 * @param {string} year @param {{day: string, minutes: number}[]} visits of the year: their day, and all people's time
 * together
 * @param {string|null} today where it is of this year
 */
export function visitYear(year, visits, today) {
  const width = isWide() ? 640 : 358;
  const perDay = (width - 2 * LEFT - BAR) / 366;
  const x = (/** @type {string} */ day) => tenth(LEFT + dayOfYear(day) * perDay);
  const most = visits.reduce((tallest, visit) => (visit.minutes > tallest.minutes ? visit : tallest), visits[0]);
  const high = (/** @type {number} */ minutes) =>
    (most.minutes ? tenth(Math.max(LEAST, (minutes / most.minutes) * TALL)) : LEAST);
  const hours = most.minutes ? `${Math.round(most.minutes / 60)} h` : '';
  const label = `${counted(visits.length, 'visit')} in ${year}${most.minutes ? `; the longest, ${hours} of all people `
    + `together, on ${dayWords(most.day)}` : ''}. The list below has them in words.`;
  const isRight = x(most.day) > width - 40;
  return html`<svg class="draw year" viewBox="0 0 ${width} 80" role="img" aria-label=${label}>
    <path class="base" d="M${LEFT} ${BASE}H${width - LEFT}"/>${MONTHS.map((month) => {
      const at = x(`${year}-${month}-01`);
      return svg`<path class="tick" d="M${at} ${BASE}v5"/>
        <text x=${at} y="76">${monthShort(`${year}-${month}-01`).slice(0, 1)}</text>`;
    })}${visits.map(({ day, minutes }) => svg`<rect class="use" x=${x(day)} y=${(BASE - high(minutes))}
      width=${BAR} height=${high(minutes)}/>`)}
    ${hours ? svg`<text class=${`halo ${isRight ? 'e' : ''}`} x=${(x(most.day) + (isRight ? BAR : 0))}
      y="12">${hours}</text>` : nothing}
    ${today ? svg`<path class="now" d="M${(x(today) + BAR / 2)} 30V${BASE + 4}"/>` : nothing}</svg>`;
}
