/** Heads counted aloud: at arrival, when moving on, at turn-back, at the vehicles. Each count is an entry. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { partedOut, peopleOut } from './heads.js';
import { labelOf } from './kind-forms.js';
import { deviceWord, doubt, section } from './marks.js';
import { personName } from './names.js';
import { RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { onVisit, readVisits, runningOf } from './visits.js';
import { clock, counted, instant, localDay, msOf } from './words.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new CountHeads(stage);
  await screen.open();
  return screen;
}

/**
 * What a count says beside who is signed in.
 * @param {number} heads @param {number} signedIn @returns {string|null} null where they agree
 */
export function countDoubt(heads, signedIn) {
  if (heads === signedIn) return null;
  return heads < signedIn
    ? `${heads} counted and ${signedIn} signed in: ${signedIn - heads} not seen. Call the names below, then count `
      + 'again. Somebody may have left without signing out, or be signed in twice.'
    : `${heads} counted and ${signedIn} signed in: ${heads - signedIn} not signed in. Find out who, and sign them in.`;
}

class CountHeads {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.back = '#/people';
    this.narrow = true;
    /** @type {RecordForm} */ this.form = /** @type {any} */ (null);
    /** @type {import('./heads.js').Out[]} */ this.out = [];
    /** @type {any} */ this.visit = null;
    /** @type {any[]} the day's, newest first */ this.counts = [];
  }

  async open() {
    this.form = await new RecordForm(this.stage, 'head_count', 'head_count:new').start({});
    await this.refresh();
  }

  refresh = async () => {
    const { phone, zone } = this.stage;
    const [visits, everyone, counts] = await Promise.all([readVisits(phone), peopleOut(phone),
      phone.rows('head_count', { siteId: phone.me.site_id })]);
    const visit = runningOf(phone, visits);
    const { party, out } = partedOut(visit, visits, everyone, phone.now());
    const today = localDay(phone.now(), zone);
    Object.assign(this, { visit, out: visit ? party : out, counts: counts
      .filter((count) => localDay(msOf(count.counted_at) ?? 0, zone) === today)
      .sort((one, other) => (msOf(other.counted_at) ?? 0) - (msOf(one.counted_at) ?? 0)) });
  };

  title = () => 'Count heads';
  where = () => `${counted(this.out.length, 'person', 'people')} signed in on this ${deviceWord()}`;

  body() {
    const { form, out } = this;
    const heads = form.read().fields.counted;
    const odds = typeof heads === 'number' ? countDoubt(heads, out.length) : null;
    return html`<div class="stack">${form.input('called')}${form.input('counted', { hint: 'count aloud, twice' })}
      ${odds ? doubt(odds) : nothing}${odds ? form.input('note') : nothing}
      ${section('Names to call', out.length, out.map(({ person }) => html`<p class="row">${personName(person)}</p>`))}
      ${this.counts.length ? section('Counted today', this.counts.length, this.counts.map((count) => this.row(count)))
        : nothing}</div>`;
  }

  /** @param {any} count */
  row(count) {
    return html`<p class="row"><span class="said">${labelOf(this.stage.phone, 'head_count', 'called', count.called,
      'Count')}, ${clock(msOf(count.counted_at) ?? 0, this.stage.zone)}<small>${count.counted ?? 'no'} counted,
      ${count.signed_in ?? 'not known how many'} signed in${count.note ? html`. ${count.note}`
        : nothing}</small></span></p>`;
  }

  foot = () => html`<button type="button" class="do" @click=${() => this.save()}>Save the count</button>`;

  async save() {
    const { stage, out } = this;
    if (stage.isSecondTap()) return;
    const fields = this.form.ready({ signed_in: out.length, counted_at: instant(stage.phone.now()) });
    if (!fields) return;
    const change = { kind: 'head_count', recordId: this.form.recordId, fields, visitId: this.visit?.record_id ?? null };
    const undo = await savedWithUndo(stage, onVisit(stage.phone, this.visit, [change]));
    if (!undo) return;
    await this.form.drop();
    const agrees = fields.counted === out.length;
    stage.say(agrees ? `${fields.counted} counted, as many as are signed in.`
      : `Saved: ${fields.counted} counted, ${out.length} signed in.`, undo);
    await this.open();
    stage.redraw();
  }
}
