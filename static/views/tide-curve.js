/** A low in small: a bar on the day's clock. SVG only. */
import { html, svg, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { workEndsMs } from '../tides/turning.js';
import { clock } from './words.js';

const HOUR_MS = 3_600_000;

/**
 * One low for a list: its minutes as a bar on the day's clock, midnight to midnight, noon marked; hollow where it is
 * not one to use.
 * @param {import('./shore.js').Window} window @param {string} zone
 */
export function spark(window, zone) {
  const at = (/** @type {number} */ ms) => {
    const [hours, minutes] = clock(ms, zone).split(':').map(Number);
    return 2 + ((hours + minutes / 60) / 24) * 100;
  };
  const low = at(window.lowMs);
  const [from, until] = [window.fromMs, workEndsMs(window)];
  // Measured from the low, so that a bar over midnight runs out at the edge and not back to the other one.
  const x = (/** @type {number} */ ms) => Math.min(102,
    Math.max(2, low + ((ms - window.lowMs) / (24 * HOUR_MS)) * 100));
  return html`<svg class="draw spark" viewBox="0 0 104 44" aria-hidden="true"><path class="axis" d="M2 34H102M52 30v8"/>
    ${from === null || until === null ? nothing
      : svg`<rect class=${window.safe ? 'dry' : 'spare'} x=${x(from).toFixed(1)} y="14"
      width=${Math.max(2, x(until) - x(from)).toFixed(1)} height="16"/>`}
    <path class="ink" d="M${(low - 3.5).toFixed(1)} 42h7l-3.500-6z"/></svg>`;
}
