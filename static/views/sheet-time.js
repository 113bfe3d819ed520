/** A time of day as paper has it, made a moment of the visit that the sheet is of. */
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { msOfLocal } from './local-box.js';
import { clock, fullDay, instant, localDay } from './words.js';

const DAY_MS = 86_400_000;

/**
 * The moment of a time on the sheet: of the days around the visit's beginning the one nearest to it, since a low may
 * lie on both sides of midnight.
 * @param {string} time HH:MM @param {number} startedMs @param {string} zone @returns {number|null}
 */
export function momentOnSheet(time, startedMs, zone) {
  if (!/^\d{2}:\d{2}$/.test(time)) return null;
  const near = [-DAY_MS, 0, DAY_MS].flatMap((shift) =>
    msOfLocal(`${localDay(startedMs + shift, zone)}T${time}`, zone) ?? []);
  return near.sort((one, other) => Math.abs(one - startedMs) - Math.abs(other - startedMs))[0] ?? null;
}

/**
 * @param {string} time @param {number} startedMs when the visit began @param {import('./router.js').Stage} stage
 * @returns {string|null} the instant; null where something is said and nothing must be saved
 */
export function sheetTime(time, startedMs, stage) {
  const ms = momentOnSheet(time, startedMs, stage.zone);
  if (ms === null) {
    stage.say('Type the time that stands on the sheet, such as 07:40. Where none was written, take the visit\u2019s.');
    return null;
  }
  if (ms > stage.phone.now()) {
    stage.say(`${clock(ms, stage.zone)} on ${fullDay(ms, stage.zone)} is still to come. Look at the sheet again.`);
    return null;
  }
  return instant(ms);
}

/**
 * A box for a time of day.
 * @param {{name: string, title: string, value: string, take: (text: string) => void}} box
 */
export const timeBox = ({ name, title, value, take }) => html`<div class="field"><label class="label-text"
  for="f-${name}">${title}</label><input class="line" id="f-${name}" name=${name} type="time" autocomplete="off"
  .value=${value} @input=${(/** @type {any} */ event) => take(event.target.value)}></div>`;
