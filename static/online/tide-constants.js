/** What a way to a site's own tide is made of: its offsets, or its constants with their intervals. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { rounded, shortest } from '../rounding.js';
import { counted, length } from '../views/words.js';

/** What is not plain of a constant. @param {import('./water-record.js').Constant} constant */
const noteOf = (constant) => (constant.inferred_from ? `from ${constant.inferred_from}`
  : constant.is_lost ? 'lost in noise, left out' : '');

/** @param {import('./water-record.js').Way} way @param {boolean} feet */
export function constantsOfWay(way, feet) {
  if (way.offsets) {
    const { minutes_high: high, minutes_low: low, times, plus_high_m: up, plus_low_m: down, events } = way.offsets;
    const come = (/** @type {number} */ minutes) =>
      `${rounded(Math.abs(minutes), 0)} min ${minutes < 0 ? 'before' : 'after'}`;
    const then = (/** @type {number} */ metres) =>
      `${length(Math.abs(metres), feet)} ${metres < 0 ? 'taken off' : 'added'}`;
    return html`<p>Highs come ${come(high)} the port's, lows ${come(low)}. Heights are ${shortest(times, 2)} times the
      port's, with ${then(up)} at high and ${then(down)} at low. From ${events} highs and lows.</p>`;
  }
  if (!way.constants) return nothing;
  // What is taken over from the port has no interval of this record.
  const within = (/** @type {import('./water-record.js').Constant} */ constant, /** @type {string} */ half) =>
    (constant.inferred_from === 'the reference port'
    ? '' : ` \u00b1\u00a0${half}`);
  return html`<div class="wide-scroll" tabindex="0" role="group" aria-label="Constants"><table
    class="plain stacks"><thead><tr><th>Constituent</th><th class="num">Amplitude, m</th><th
    class="num">Phase lag, \u00b0</th><th class="num">Needs, days</th></tr></thead><tbody>
      ${way.constants.map((constant) => html`<tr><th scope="row">${constant.name}<small
        class="small">${noteOf(constant)}</small></th><td class="num"
        data-head="Amplitude, m">${rounded(constant.amplitude_m, 3)}${
          within(constant, rounded(constant.amplitude_ci_m, 3))}</td><td class="num"
        data-head="Phase lag, \u00b0">${rounded(constant.phase_deg, 1)}${
          within(constant, rounded(constant.phase_ci_deg, 1))}</td><td
        class="num" data-head="Needs, days">${Math.ceil(constant.needs_days)}</td></tr>`)}</tbody></table></div>
    ${way.not_parted?.length ? html`<p class="small">Too short to tell apart by a whole turn:
      ${way.not_parted.map((group) =>
        `${group.name} from ${group.beside ?? 'the mean level'} (${
          counted(Math.ceil(group.needs_days), 'day')})`).join(', ')}. Greenwich phase
        lags; \u00b1 is half the 95 % interval; what is taken from another constituent counts too.</p>`
        : nothing}`;
}
