/** A tilt by rod and tape where no level is at hand: two points of the rim, how far apart in height and in a line. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { fault } from './marks.js';
import { typedNumber } from './words.js';
import { rounded } from '../rounding.js';
import { tiltFromRimDeg } from '../survey/grades.js';

const SIZES = [
  { name: 'rim_rise_mm', title: 'Difference in height', hint: 'highest point of the rim above its lowest' },
  { name: 'rim_chord_mm', title: 'Distance', hint: 'between these two points, in a straight line' },
];

export class RimTilt {
  /** @param {import('./record-form.js').RecordForm} form of the check; its tilt is written here */
  constructor(form) {
    this.form = form;
    /** @type {Record<string, string>} */ this.typed = {};
    /** Whether the tilt in the form came from here. */ this.isSet = false;
    this.isOpen = false;
  }

  get isEmpty() {
    return SIZES.every(({ name }) => !this.typed[name]);
  }

  /** @returns {{tilt: string|null, sentence: string|null}} the tilt in degrees, or why what is typed gives none */
  read() {
    const none = (/** @type {string|null} */ sentence) => ({ tilt: null, sentence });
    if (this.isEmpty) return none(null);
    const missing = SIZES.find(({ name }) => !this.typed[name]);
    if (missing) {
      return none(`${missing.title} is not filled in. A tilt from the rim needs both: fill it in, or clear the
        other.`);
    }
    const [rise_mm, chord_mm] = SIZES.map(({ name }) => typedNumber(this.typed[name]));
    if (rise_mm === null || chord_mm === null) {
      return none('A tilt from the rim needs two numbers in mm. Type digits, with a point or a comma for decimals.');
    }
    const tilt = tiltFromRimDeg(rise_mm, chord_mm);
    if (tilt === null) {
      return none(`The difference in height is ${rise_mm} mm; it must be between 0 mm and the distance, `
        + `${chord_mm} mm. Measure both again.`);
    }
    return { tilt: rounded(tilt, 1), sentence: null };
  }

  /** @param {string} name @param {string} value */
  set(name, value) {
    this.typed[name] = value.trim();
    this.isOpen = true;
    const { tilt } = this.read();
    if (tilt !== null || this.isSet) this.form.set('tilt_deg', tilt);
    else this.form.stage.redraw();
    this.isSet = tilt !== null;
  }

  draw() {
    const { tilt, sentence } = this.read();
    const kept = this.form.typed.tilt_deg;
    const means = kept === tilt ? 'This is saved as the tilt.' : `The tilt above says ${kept ?? 'nothing'}.`;
    const isWrong = sentence !== null && SIZES.every(({ name }) => this.typed[name]);
    return html`<details ?open=${this.isOpen}><summary>Tilt from the rim</summary>
      <div class="stack">${SIZES.map((size) => this.size(size, isWrong))}
        <div id="f-rim-said" role="status">
          ${tilt === null ? nothing : html`<small>The rim leans ${tilt}\u00b0. ${means}</small>`}
          ${isWrong ? fault(/** @type {string} */ (sentence)) : nothing}</div></div></details>`;
  }

  /** @param {typeof SIZES[number]} size @param {boolean} isWrong */
  size({ name, title, hint }, isWrong) {
    const id = `f-${name}`;
    const take = (/** @type {any} */ event) => this.set(name, event.target.value);
    return html`<div class="measure ${isWrong ? 'wrong' : ''}">
      <label for=${id}><b>${title}</b><small id="${id}-hint">${hint}</small></label>
      <div class="box"><input id=${id} name=${name} inputmode="decimal" autocomplete="off"
        aria-describedby="${id}-hint f-rim-said" .value=${this.typed[name] ?? ''} @input=${take}><i>mm</i></div></div>`;
  }
}
