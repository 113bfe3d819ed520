/** What the screens of hours share: how sums, roles and years are written, and what leads to a record. */
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { monthWords } from '../days.js';
import { rounded } from '../rounding.js';
import { labelOf } from '../views/kind-forms.js';
import { choices, rowLink } from '../views/marks.js';

/**
 * @typedef {{hours: number, unsigned_hours: number, undecided_hours: number, miles: number, sign_ins: number}} Sum
 * @typedef {{word: string, kind: string, record_id: string, person_id: string|null, sentence: string}} Remark
 */

/** A month that stays on one line. @param {string} day @returns {string} November 2026 */
export const monthOf = (day) => monthWords(day).replace(' ', '\u00a0');

/** @param {number} hours @returns {string} 3.75 h */
export const hoursWords = (hours) => `${rounded(hours, 2)} h`;

/** Hours, and miles where there are any. @param {Sum} sum */
export const sumWords = (sum) => [hoursWords(sum.hours),
  ...(sum.miles ? [`${rounded(sum.miles, 1)} mi`] : [])].join(', ');

/** What of it no lead has signed for. @param {Sum} sum */
export const unsignedWords = (sum) => (!sum.unsigned_hours ? 'signed for'
  : `${hoursWords(sum.unsigned_hours)} not signed for`);

/** @param {import('../views/router.js').Stage} stage @param {string} role */
export const roleWords = (stage, role) => (role === 'none' ? 'No role noted'
  : labelOf(stage.phone, 'person', 'role', role));

/** @param {number[]} years @param {number|null} year @param {(year: number|null) => void} pick */
export const yearChoices = (years, year, pick) => choices({ name: 'year', legend: 'Year', value: year, pick,
  choices: [...years.map((value) => ({ value, label: String(value) })), { value: null, label: 'All' }] });

/**
 * A page or a file that the server makes.
 * @param {string} path @param {string} words @param {string} of whose, for who hears the link
 */
export const made = (path, words, of) => html`<a class="pill plain tap" href=${path} target="_blank"
  rel="noopener">${words}<span class="unseen"> ${of}</span></a>`;

/** @param {Remark} remark where its record is corrected */
const placeOf = (remark) => (remark.word === 'two-awards' ? `#/hours/${remark.person_id}`
  : `#/record/${remark.kind}/${remark.record_id}`);

/** @param {Remark[]} rows */
export const remarkRows = (rows) => rows.map((remark) => rowLink({ href: placeOf(remark), said: remark.sentence }));
