/** Where something stands: tapes from the marks, typed coordinates or the phone's own position, with the verdict at once. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, doubt, fault, mark } from './marks.js';
import { byName, named } from './names.js';
import { RecordForm } from './record-form.js';
import { movementOf, placeOf } from './unit-facts.js';
import { instant, length } from './words.js';

const SLOTS = [1, 2, 3, 4];
const GNSS_WAIT_MS = 30_000;
const WAYS = [
  { value: 'tapes', label: 'Tapes from marks' },
  { value: 'typed', label: 'Typed, site grid' },
  { value: 'rtk', label: 'RTK rover' },
  { value: 'phone_gnss', label: 'This phone' },
];

export class PositionForm {
  /**
   * @param {import('./router.js').Stage} stage
   * @param {{kind: 'unit'|'plot'|'control_mark', id: string, planned: {east_m: number, north_m: number}|null, marks: any[], fixes: any[], events: any[], azimuthDeg: number}} of
   */
  constructor(stage, of) {
    this.stage = stage;
    this.of = of;
    this.asked = '';
    const marks = of.marks.map((one) => ({ value: one.record_id, label: named(one.label) })).sort((one, other) => byName(one.label, other.label));
    this.form = new RecordForm(stage, 'position_fix', `position_fix:${of.id}`, {
      refs: Object.fromEntries(SLOTS.map((n) => [`mark_${n}_id`, marks])),
    });
  }

  async start() {
    await this.form.start({ method: 'tapes' });
    return this;
  }

  get isEmpty() {
    return Object.keys(this.form.typed).every((name) => name === 'method');
  }

  get method() {
    return this.form.typed.method ?? 'tapes';
  }

  /** Ask the phone for its position; the number it gives is a 95 % radius by the standard. */
  askPhone() {
    const { stage, form } = this;
    if (!navigator.geolocation) { this.asked = 'This phone gives no position to the app.'; stage.redraw(); return; }
    this.asked = 'Asking the phone.';
    stage.redraw();
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        this.asked = '';
        form.fill({ lat_deg: Number(coords.latitude.toFixed(8)), lon_deg: Number(coords.longitude.toFixed(8)), accuracy_m: Number(coords.accuracy.toFixed(1)), platform: navigator.userAgent.slice(0, 80) });
      },
      (error) => { this.asked = `The phone gave no position: ${error.message || 'not allowed'}. Use tapes instead.`; stage.redraw(); },
      { enableHighAccuracy: true, timeout: GNSS_WAIT_MS, maximumAge: 0 },
    );
  }

  /** @returns {Record<string, any>|null} */
  fields() {
    if (this.isEmpty) return null;
    return this.form.ready({ of_kind: this.of.kind, of_id: this.of.id, method: this.method, fixed_at: instant(this.stage.phone.now()) });
  }

  /** What is typed, as a fix of now. */
  typedFix() {
    return { ...this.form.read().fields, method: this.method, fixed_at: instant(this.stage.phone.now()) };
  }

  movement() {
    return this.method === 'phone_gnss' ? null : movementOf(this.typedFix(), this.of);
  }

  /** What the readings mean, said while still at the mark. */
  said() {
    const { feet } = this.stage.settings;
    const place = placeOf(this.typedFix(), this.of.marks, this.of.planned);
    if (!place) return nothing;
    if (!('covariance' in place)) return fault(place.sentence);
    return html`<div class="said-back" role="status"><b>${this.movement()?.sentence ?? 'Nothing to compare it with yet.'}</b>
      <small>${length(place.east_m, feet)} east, ${length(place.north_m, feet)} north, within ${length(place.radius_m, feet)} (95 % sure)</small>
      ${place.warnings.map((warning) => doubt(warning))}</div>`;
  }

  draw() {
    const { form, method } = this;
    return html`<div class="stack">
      ${choices({ name: 'method', legend: 'How is it measured?', choices: WAYS, value: method, pick: (value) => form.set('method', value) })}
      ${method === 'tapes' ? this.tapes() : nothing}
      ${method === 'typed' || method === 'rtk' ? html`${form.input('east_m')}${form.input('north_m')}${form.input('sigma_m')}` : nothing}
      ${method === 'phone_gnss' ? this.gnss() : nothing}
      ${this.said()}</div>`;
  }

  tapes() {
    if (this.of.marks.length < 2) return fault('Tapes need two control marks or more, and the site has fewer. Type coordinates instead.');
    const shown = SLOTS.filter((n) => n <= 2 || this.form.typed[`range_${n - 1}_m`]);
    return html`${shown.map((n) => html`<div class="tape">${this.form.input(`mark_${n}_id`, { title: `From mark, tape ${n}` })}${this.form.input(`range_${n}_m`, { title: `Distance, tape ${n}` })}</div>`)}
      <p class="small">Two tapes give a place, a third one checks it. Hold the tape level and pull it straight.</p>`;
  }

  gnss() {
    const { accuracy_m, lat_deg, lon_deg } = this.form.typed;
    return html`<button type="button" class="or" @click=${() => this.askPhone()}>Take this phone's position</button>
      ${this.asked ? html`<p role="status">${this.asked}</p>` : nothing}
      ${accuracy_m ? html`<div class="said-back"><b>Within ${accuracy_m} m (95 % sure)</b><small>${lat_deg}, ${lon_deg}</small></div>` : nothing}
      <p class="why"><span>${mark('look')} Phone GPS is good enough to find the row. It cannot show that a unit moved.</span></p>`;
  }
}
