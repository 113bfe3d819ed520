/**
 * Where something stands: tapes from the marks, typed coordinates or the phone's own position, with the verdict at
 * once.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, deviceWord, doubt, fault, mark } from './marks.js';
import { byName, named } from './names.js';
import { RecordForm } from './record-form.js';
import { zeroOf } from './readings.js';
import { movementOf, placeOf } from './unit-facts.js';
import { counted, instant, length } from './words.js';
import { rounded } from '../rounding.js';

const SLOTS = [1, 2, 3, 4];
/** What a second set takes over from the first: how, and from which marks. */
const KEPT = /^(method|mark_\d_id|tape_sigma_m)$/;
const GNSS_WAIT_MS = 30_000;
const ways = () => [
  { value: 'tapes', label: 'Tapes from marks' },
  { value: 'typed', label: 'Typed, site grid' },
  { value: 'rtk', label: 'RTK rover' },
  { value: 'phone_gnss', label: `This ${deviceWord()}` },
];

/** @param {import('../survey/movement.js').TapeScale} scale what the site's own tapes show */
const scaleWords = ({ factor, tapes }) =>
  `Tapes at this site vary ${rounded(factor, 1)} times as much as stated (${counted(tapes ?? 0, 'tape')}). That is `
  + 'allowed for.';

export class PositionForm {
  /**
   * @param {import('./router.js').Stage} stage
   * @param {{kind: 'unit'|'plot'|'control_mark', id: string, visitId: string|null} & import('./readings.js').Surveyed}
   *   of
   */
  constructor(stage, of) {
    this.stage = stage;
    this.of = of;
    this.asked = '';
    /** Sets taken before on this visit, not saved yet. @type {RecordForm[]} */ this.taken = [];
    this.form = this.formOfSet();
  }

  formOfSet() {
    const { stage, of, taken } = this;
    const marks = of.marks.map((mark) => ({ value: mark.record_id, label: named(mark.label) }))
      .sort((one, other) => byName(one.label, other.label));
    return new RecordForm(stage, 'position_fix', `position_fix:${of.id}${taken.length ? `:${taken.length + 1}` : ''}`, {
      refs: Object.fromEntries(SLOTS.map((n) => [`mark_${n}_id`, marks])),
    });
  }

  /** The marks of the zero epoch are proposed: from the same marks, their own errors cancel. */
  async start() {
    const { of } = this;
    const zero = zeroOf(of.fixes, of, instant(this.stage.phone.now()));
    /** @type {import('./readings.js').Fix} */ const last = zero?.epoch.method === 'tapes' ? zero.fixes[0] : {};
    await this.form.start({ method: 'tapes',
      ...Object.fromEntries(SLOTS.map((n) => `mark_${n}_id`)
        .map((name) => [name, last[/** @type {'mark_1_id'} */ (name)]])) });
    while (await this.stage.phone.draft(`position_fix:${of.id}:${this.taken.length + 2}`)) await this.second();
    return this;
  }

  /** Another set, from the same marks; both are saved, and count as one position. */
  async second() {
    const { typed } = this.form;
    this.taken.push(this.form);
    this.form = this.formOfSet();
    await this.form.start({});
    if (!this.form.fromDraft) for (const name of Object.keys(typed)) if (KEPT.test(name))
      this.form.typed[name] = typed[name];
    this.stage.redraw();
  }

  get isEmpty() {
    return !this.taken.length && this.hasNoReading;
  }

  /** Marks alone are no reading: they stand there before anything is typed. */
  get hasNoReading() {
    return Object.keys(this.form.typed).every((name) => KEPT.test(name));
  }

  get method() {
    return this.form.typed.method ?? 'tapes';
  }

  /** Ask the phone for its position; the number it gives is a 95 % radius by the standard. */
  askPhone() {
    const { stage, form } = this;
    if (!navigator.geolocation) {
      this.asked = `This ${deviceWord()} does not share its position with the app.`;
      stage.redraw();
      return;
    }
    this.asked = 'Asking for the position.';
    stage.redraw();
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        this.asked = '';
        form.fill({ lat_deg: Number(rounded(coords.latitude, 8)), lon_deg: Number(rounded(coords.longitude, 8)),
          accuracy_m: Number(rounded(coords.accuracy, 1)), platform: navigator.userAgent.slice(0, 80) });
      },
      (error) => {
        this.asked = `This ${deviceWord()} gave no position: ${error.message || 'not allowed'}. Use tapes instead.`;
        stage.redraw();
      },
      { enableHighAccuracy: true, timeout: GNSS_WAIT_MS, maximumAge: 0 },
    );
  }

  /**
   * @returns {{recordId: string, fields: Record<string, any>}[]|null} the records of all sets; null where one must be
   *   mended first
   */
  ready() {
    const sets = [...this.taken, ...(this.hasNoReading ? [] : [this.form])];
    const written = sets.map((form) => ({ recordId: form.recordId,
      fields: form.ready({ of_kind: this.of.kind, of_id: this.of.id, ...this.fixOf(form, false) }) }));
    return written.every((reading) => reading.fields)
      ? /** @type {{recordId: string, fields: Record<string, any>}[]} */ (written) : null;
  }

  async drop() {
    await Promise.all([...this.taken, this.form].map((form) => form.drop()));
  }

  /** A set as a fix of now. @param {RecordForm} form @param {boolean} [whole] with what is typed and the visit */
  fixOf(form, whole = true) {
    const fix = { method: form.typed.method ?? 'tapes', fixed_at: instant(this.stage.phone.now()) };
    return whole ? { ...form.read().fields, ...fix, visit_id: this.of.visitId, record_id: form.recordId } : fix;
  }

  typedFix() {
    return this.fixOf(this.form);
  }

  movement() {
    if (this.method === 'phone_gnss') return null;
    const { of, taken } = this;
    return movementOf(this.typedFix(), { ...of, fixes: [...of.fixes, ...taken.map((form) => this.fixOf(form))] });
  }

  /** What the readings mean, said while still at the mark. */
  said() {
    const { feet } = this.stage.settings;
    const { scale, marks, planned } = this.of;
    const place = placeOf(this.typedFix(), marks, planned);
    if (!place) return nothing;
    if (!('covariance' in place)) return fault(place.sentence);
    const movement = this.movement();
    return html`<div class="said-back" role="status"><b>${movement?.sentence ?? 'Nothing to compare it with yet.'}</b>
      <small>${length(place.east_m, feet)} east, ${length(place.north_m, feet)} north, within about
        ${length(place.radius_m, feet)}</small>
      ${this.method === 'tapes' && scale ? html`<small>${scaleWords(scale)}</small>` : nothing}
      ${place.warnings.map((warning) => doubt(warning))}${movement?.asksMarks
        ? doubt(movement.asksMarks) : nothing}</div>
      ${movement?.asksSecond ? html`<button type="button" class="or"
        @click=${() => this.second()}>Take a second set</button>` : nothing}`;
  }

  draw() {
    const { form, method } = this;
    return html`<div class="stack">
      ${this.taken.length ? html`<h3>Set ${this.taken.length + 1}</h3>` : nothing}
      ${choices({ name: 'method', legend: 'How is it measured?', choices: ways(), value: method,
        pick: (value) => form.set('method', value) })}
      ${method === 'tapes' ? this.tapes() : nothing}
      ${method === 'typed' || method === 'rtk'
        ? html`${form.input('east_m')}${form.input('north_m')}${form.input('sigma_m')}` : nothing}
      ${method === 'phone_gnss' ? this.gnss() : nothing}
      ${this.said()}</div>`;
  }

  tapes() {
    if (this.of.marks.length < 2) return fault(
      'Tapes need two control marks or more, and the site has fewer. Type coordinates instead.');
    const shown = SLOTS.filter((n) => n <= 2 || this.form.typed[`range_${n - 1}_m`] || this.form.typed[`mark_${n}_id`]);
    return html`${shown.map((n) => html`<div
      class="tape">${this.form.input(`mark_${n}_id`,
        { title: `From mark, tape ${n}` })}${this.form.input(`range_${n}_m`, { title: `Distance, tape ${n}` })}</div>`)}
      <p class="small">Two tapes give a position; a third one checks it. Hold the tape level and pull it
        straight.</p>`;
  }

  gnss() {
    const { accuracy_m, lat_deg, lon_deg } = this.form.typed;
    return html`<button type="button" class="or" @click=${() => this.askPhone()}>Take this
      ${deviceWord()}'s position</button>
      ${this.asked ? html`<p role="status">${this.asked}</p>` : nothing}
      ${accuracy_m ? html`<div class="said-back"><b>Within about ${accuracy_m} m</b><small>${lat_deg},
        ${lon_deg}</small></div>` : nothing}
      <p class="why"><span>${mark('look')} Phone GPS is good enough to find the row. It cannot show that a unit
        moved.</span></p>`;
  }
}
