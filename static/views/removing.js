/** Removing what is set up: what hangs on it is said first, and moved or taken out of use with it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isOut } from '../records/heads-out.js';
import { byName, recordName, siteName } from './names.js';
import { formOf } from './kind-forms.js';
import { savedWithUndo } from './undo.js';
import { counted, instant } from './words.js';

/** Many of a kind, where its title and an s are not the word. @type {Record<string, [string, string]>} */
const WORDS = {
  unit_check: ['check', 'checks'], unit_event: ['event', 'events'], position_fix: ['position', 'positions'],
  casting_batch: ['casting batch', 'casting batches'], person: ['person', 'people'], species: ['species', 'species'],
  visit_part: ['phone on a visit', 'phones on a visit'], flag_decision: ['decision on a flag', 'decisions on flags'],
  level_word: ['decision on lower water', 'decisions on lower water'], datum_offset: ['datum', 'datums'],
  import: ['import', 'imports'],
  people_photo: ['photo of people', 'photos of people'], preparation: ['entry of preparation hours',
    'entries of preparation hours'], mileage: ['entry of miles', 'entries of miles'],
  award_hours: ['choice of hours for an award', 'choices of hours for awards'],
  hours_signed: ['signature for hours', 'signatures for hours'],
};
/** Most names that are said. */
const NAMED = 8;

/** @typedef {{kind: string, rows: any[], fields: string[]}} Hanging of a kind, and the fields by which they name it */

/**
 * What names a record: a row's units, a mark's positions, everything of a site.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} id @returns {Promise<Hanging[]>}
 */
export async function hangingOn(phone, kind, id) {
  const forms = Object.entries(phone.pack()?.forms?.kinds ?? {});
  const hanging = await Promise.all(forms.map(async ([named, form]) => {
    const refs = Object.keys(form.properties)
      .filter((name) => [kind, 'of_kind'].includes(form.properties[name]['x-ref']));
    const fields = kind !== 'site' ? refs : named === 'site' ? [] : ['site_id'];
    if (!fields.length) return { kind: named, rows: [], fields };
    const isOf = (/** @type {any} */ row) =>
      fields.some((name) => row[name] === id && (name !== 'of_id' || row.of_kind === kind));
    // A design or a species is used at every site of this phone.
    return { kind: named, rows: (await phone.rows(named, {})).filter(isOf), fields };
  }));
  return hanging.filter(({ rows }) => rows.length);
}

/** @param {import('./router.js').Phone} phone @param {Hanging} hanging @returns {string} 12 units */
const countWords = (phone, { kind, rows }) => {
  const title = (formOf(phone, kind)?.title ?? kind.replaceAll('_', ' ')).toLowerCase();
  return counted(rows.length, ...(WORDS[kind] ?? [title, `${title}s`]));
};

export class Removing {
  /**
   * @param {import('./router.js').Stage} stage @param {{kind: string, id: string, name: string}} of
   * @param {() => Promise<void>} done once it is removed
   */
  constructor(stage, of, done) {
    this.stage = stage;
    this.of = of;
    this.done = done;
    this.isAsked = false;
    /** @type {Hanging[]} */ this.hanging = [];
    /** @type {{value: string, label: string}[]} where what hangs on it may be moved */ this.others = [];
    this.to = '';
  }

  async ask() {
    const { stage, of } = this;
    const { phone } = stage;
    this.hanging = await hangingOn(phone, of.kind, of.id);
    const rows = of.kind === 'site' ? [] : await phone.rows(of.kind, { siteId: phone.me.site_id });
    this.others = rows.filter((row) => row.record_id !== of.id)
      .map((row) => ({ value: row.record_id, label: recordName(row) }))
      .sort((one, other) => byName(one.label, other.label));
    this.isAsked = true;
    this.to = '';
    stage.redraw();
    queueMicrotask(() => document.getElementById('removing')?.focus());
  }

  /** Units that stand there. */
  get units() { return this.hanging.find(({ kind }) => kind === 'unit')?.rows ?? []; }

  /** Who is out at the site that would be removed. */
  get outCount() {
    const signIns = this.of.kind === 'site' ? this.hanging.find(({ kind }) => kind === 'sign_in')?.rows ?? [] : [];
    return signIns.filter(isOut).length;
  }

  draw() {
    if (!this.isAsked) {
      return html`<button type="button" class="or short" @click=${() => this.ask()}>Remove</button>`;
    }
    const { phone } = this.stage;
    const keep = () => { this.isAsked = false; this.stage.redraw(); };
    const what = this.hanging.map((hanging) => countWords(phone, hanging)).join(', ');
    const names = this.units.slice(0, NAMED).map((row) => recordName(row)).join(', ');
    const more = this.units.length > NAMED ? ` and ${this.units.length - NAMED} more` : '';
    return html`<div class="said-back" role="alert" id="removing" tabindex="-1">
      <b>${what ? `${this.of.name} is used by: ${what}.` : `Nothing else uses ${this.of.name}.`}</b>
      ${names ? html`<p>${names}${more}</p>` : nothing}
      ${this.outCount ? html`<p>${counted(this.outCount, 'person is', 'people are')} out there. Sign them out
        first.</p>` : nothing}
      <small>Removed records stay in the log, crossed out in the list. You can restore them.</small>
      ${this.hanging.length && !this.outCount ? this.ways() : nothing}
      <div class="two"><button type="button" class="or" @click=${keep}>Keep it</button>
        ${this.outCount ? nothing : html`<button type="button" class="do stop"
          @click=${() => this.remove([])}>${what ? 'Remove it alone' : 'Remove it'}</button>`}</div></div>`;
  }

  /** What becomes of those that hang on it. */
  ways() {
    const { others } = this;
    const choose = (/** @type {any} */ event) => { this.to = event.target.value; };
    const move = others.length ? html`<div class="field"><label class="label-text" for="move-to">Move them to</label>
      <select class="line" id="move-to" @change=${choose}><option value="">Not chosen</option>
      ${others.map(({ value, label }) => html`<option value=${value}>${label}</option>`)}</select>
      <button type="button" class="or" @click=${() => this.move()}>Move them, then remove it</button></div>` : nothing;
    const retire = this.units.length ? html`<button type="button" class="or" @click=${() => this.retire()}>Take
      ${counted(this.units.length, 'unit')} out of use, then remove it</button>` : nothing;
    return html`${move}${retire}`;
  }

  move() {
    const { to, of } = this;
    if (!to) {
      this.stage.refuse('Choose where to move them first.');
      document.getElementById('move-to')?.focus();
      return;
    }
    this.remove(this.hanging.flatMap(({ kind, rows, fields }) => rows.map((row) => {
      const named = fields.filter((name) => row[name] === of.id).map((name) => [name, to]);
      return { kind, recordId: row.record_id, fields: Object.fromEntries(named), visitId: row.visit_id ?? null };
    })));
  }

  retire() {
    const at = instant(this.stage.phone.now());
    this.remove(this.units.map((unit) => ({ kind: 'unit_event', recordId: null, siteId: unit.site_id,
      fields: { unit_id: unit.record_id, event: 'retired', event_at: at } })));
  }

  /** All or nothing, and one Undo for all. @param {import('./undo.js').Change[]} before */
  async remove(before) {
    const { stage, of } = this;
    if (stage.isSecondTap()) return;
    const change = { kind: of.kind, recordId: of.id, fields: { _deleted: true } };
    const undo = await savedWithUndo(stage, [...before, change]);
    if (!undo) return;
    this.isAsked = false;
    stage.say(`${of.name} removed.`, undo);
    await this.done();
  }
}

/**
 * A phone goes on at another of its sites once the one that is chosen is removed.
 * @param {import('./router.js').Phone} phone @param {string} id of the site @returns {Promise<void>}
 */
export async function leaveSite(phone, id) {
  if (phone.me.site_id !== id) return;
  const [next] = (await phone.rows('site', {})).sort((one, other) =>
    byName(siteName(one), siteName(other)));
  if (next) await phone.setSite(next.record_id);
}
