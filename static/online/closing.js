/**
 * Close the season, for leads: who leaves, what is open, what is measured otherwise, what the next leads are left. Each
 * step is a page; what was done stands in one record of the site and season, so that any lead goes on with it.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, fault, rowLink, section } from '../views/marks.js';
import { siteName } from '../views/names.js';
import { labelOf } from '../views/kind-forms.js';
import { changesOf, RecordForm } from '../views/record-form.js';
import { progressLine } from '../views/progress.js';
import { isSetUp, stepList } from '../views/steps.js';
import { savedWithUndo } from '../views/undo.js';
import { counted, fullDay, localDay, msOf } from '../views/words.js';
import { Leavers } from './closing-people.js';
import { refusedBy } from '../views/refused.js';

/** @typedef {import('../views/router.js').Stage} Stage */
/** @typedef {Partial<import('../records/rows.js').SeasonClosing> & {season_year: number}} Closing */

/** Where each kind of open thing is settled. @type {Record<string, string>} */
const SETTLED_AT = { flags: '#/flags', held: '#/access/tray', unsent: '#/access/devices', visits: '#/visits',
  people: '#/people', plots: '#/plan' };

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  const [part] = stage.params;
  const at = await readClosing(stage);
  if (part === 'people') return new Leavers(stage, at.closing, at.write).opened();
  if (part === 'open') return new OpenMatters(stage, at).opened();
  if (part === 'methods') return new Methods(stage, at).opened();
  if (part === 'successors') return new Successors(stage, at).opened();
  return new Season(stage, at).opened();
}

/**
 * The closing that is not done yet, else this year's, and how to write it.
 * @typedef {{closing: Closing, read: () => Promise<void>, write: (fields: Record<string, any>, sentence: string)
 *   => Promise<boolean>}} Reading
 * @param {Stage} stage @returns {Promise<Reading>}
 */
async function readClosing(stage) {
  const { phone } = stage;
  const siteId = phone.me.site_id;
  /** @type {Reading} */
  const at = {
    closing: { season_year: 0 },
    read: async () => {
      const rows = await phone.rows('season_closing', { siteId });
      rows.sort((one, other) => (other.season_year ?? 0) - (one.season_year ?? 0));
      const year = at.closing.season_year || Number(localDay(phone.now(), stage.zone).slice(0, 4));
      const begun = rows.find((row) => !row.closed_on) ?? rows.find((row) => row.season_year === year);
      at.closing = { ...begun, season_year: begun?.season_year ?? year };
    },
    write: async (fields, sentence) => {
      const { record_id: recordId = null, season_year: year } = at.closing;
      const undo = await savedWithUndo(stage, [{ kind: 'season_closing', recordId, siteId,
        fields: recordId ? fields : { season_year: year, ...fields } }]);
      if (undo) stage.say(sentence, undo);
      return Boolean(undo);
    },
  };
  await at.read();
  return at;
}

/** What is written of a season beside its closing. */
class Part {
  back = '#/closing';
  narrow = true;

  /** @param {Stage} stage @param {Reading} at */
  constructor(stage, at) {
    this.stage = stage;
    this.at = at;
  }

  where = () => `Season ${this.at.closing.season_year}`;

  /** Marks a step as done, and goes back to the list of steps. @param {string} step @param {string} sentence */
  async done(step, sentence) {
    if (await this.at.write({ [step]: true }, sentence)) this.stage.go('#/closing');
  }
}

class Season extends Part {
  back = '#/set-up';
  narrow = false;
  /** @type {import('../views/steps.js').Step[]} */ steps = [];

  async opened() {
    await this.refresh();
    return this;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const { at } = this;
    await at.read();
    const { closing } = at;
    const siteId = phone.me.site_id;
    const [people, notes] = await Promise.all([phone.rows('person', { siteId }),
      phone.rows('method_note', { siteId })]);
    const ofSeason = (/** @type {string|null|undefined} */ day) => day?.startsWith(`${closing.season_year}-`);
    const left = people.filter(({ left_on: day }) => ofSeason(day)).length;
    const noted = notes.filter(({ from_day: day }) => ofSeason(day)).length;
    const leads = phone.pack()?.programme?.leads;
    this.steps = [
      { name: 'people', said: 'Who leaves', why: 'Their devices lose access; what they wrote stays.', count: left,
        missing: closing.people_done ? null : 'Not done yet.', needed: true, href: '#/closing/people' },
      { name: 'open', said: 'What is open', why: 'Flags, held entries, unsent devices, visits, plots.', count: null,
        missing: closing.open_done ? null : 'Not looked at yet.', needed: true, href: '#/closing/open' },
      { name: 'methods', said: 'What changed in methods', why: 'So that the numbers of two years can be compared.',
        count: noted, missing: closing.methods_done ? null : 'Not noted yet.', needed: true,
        href: '#/closing/methods' },
      { name: 'leads', said: 'Two leads', why: 'If the only one leaves, nobody can invite people.',
        count: leads ?? null, missing: (leads ?? 0) > 1 ? null : 'Only one lead has joined.', needed: false,
        href: '#/access/invitations/lead' },
      { name: 'successors', said: 'For your successors', why: 'Contacts by role, keys, permits, what comes first.',
        missing: closing.role_contacts && closing.word ? null : 'Not written yet.', needed: true, count: null,
        href: '#/closing/successors' },
    ];
  };

  title = () => 'Close the season';
  where = () => siteName(this.stage.phone.sites().find(({ record_id: id }) => id === this.stage.phone.me.site_id));

  body = () => {
    const { closing } = this.at;
    const { phone } = this.stage;
    return html`<div class="cols even">${section(`Season ${closing.season_year}`, nothing, html`${closing.record_id
      ? nothing : this.whichSeason()}${closing.closed_on
      ? html`<p role="status">Closed on ${fullDay(msOf(closing.closed_on) ?? 0, 'UTC')}.</p>` : nothing}
      ${progressLine(this.steps)}${stepList(this.steps)}`)}
      ${section('On paper', nothing, html`<a class="row" target="_blank"
        href="/api/sites/${phone.me.site_id}/successors"><span class="said">Page for your successors<small>where things
          stand, contacts, addresses, invitations, marks, what is open, methods; names no person</small></span></a>
        <p class="small">Steps stay done, so you or another lead can go on another day.</p>`)}</div>`;
  };

  whichSeason() {
    const year = Number(localDay(this.stage.phone.now(), this.stage.zone).slice(0, 4));
    return choices({ name: 'season', legend: 'Which season?', value: this.at.closing.season_year,
      choices: [year - 1, year].map((value) => ({ value, label: String(value) })),
      pick: async (value) => {
        this.at.closing.season_year = value;
        await this.refresh();
        this.stage.redraw();
      } });
  }

  foot = () => {
    const { at } = this;
    if (at.closing.closed_on) {
      return html`<button type="button" class="or"
        @click=${() => at.write({ closed_on: null }, 'The season is open again.')}>Open it again</button>`;
    }
    const year = at.closing.season_year;
    return isSetUp(this.steps) ? html`<button type="button" class="do" @click=${() => at.write({ closed_on:
      localDay(this.stage.phone.now(), this.stage.zone) }, `Season ${year} is closed.`)}>Close season
        ${year}</button>` : nothing;
  };
}

class OpenMatters extends Part {
  problem = '';
  /** @type {{word: string, count: number, sentence: string, details: string[]}[]} */ matters = [];

  async opened() {
    this.problem = await refusedBy(async () => {
      const path = `/api/sites/${this.stage.phone.me.site_id}/open-matters`;
      this.matters = (await this.stage.phone.api('GET', path)).matters;
    });
    return this;
  }

  title = () => 'What is open';

  body = () => html`<p>Settle what you can. The rest is on the page for your successors.</p>
    ${this.problem ? fault(this.problem) : html`<div>${this.matters.map((matter) => (matter.count
      ? rowLink({ href: SETTLED_AT[matter.word] ?? '#/today', said: matter.sentence,
        small: matter.details.length ? html`${matter.details.map((line) => html`${line}<br>`)}` : undefined })
      : html`<p class="row">${matter.sentence}</p>`))}</div>`}`;

  foot = () => (this.problem ? nothing : html`<button type="button" class="do"
    @click=${() => this.done('open_done', 'What is open is on the page for your successors.')}>Hand on what is
      open</button>`);
}

class Methods extends Part {
  /** @type {import('../records/rows.js').MethodNote[]} */ notes = [];

  async opened() {
    this.form = await new RecordForm(this.stage, 'method_note', 'method_note:new').start({});
    await this.refresh();
    return this;
  }

  refresh = async () => {
    const { phone } = this.stage;
    this.notes = await phone.rows('method_note', { siteId: phone.me.site_id });
    this.notes.sort((one, other) => (one.from_day ?? '') < (other.from_day ?? '') ? 1 : -1);
  };

  title = () => 'What changed in methods';

  body = () => html`${this.notes.length ? section('Notes', counted(this.notes.length, 'note'),
    this.notes.map((note) => rowLink({
      href: `#/record/method_note/${note.record_id}`, said: `${labelOf(this.stage.phone, 'method_note', 'about',
        note.about)}, since ${note.from_day ? fullDay(msOf(note.from_day) ?? 0, 'UTC') : 'no day given'}`,
      small: note.note, saved: this.stage.justSaved(note.record_id) }))) : nothing}
    ${section('Add a note', nothing, html`<div class="stack"><p>What was measured, counted or written down
      in another way this season? One note for each kind of record, with its first day.</p>${this.form?.all()}<button
      type="button" class="or"
      @click=${this.add}>Add this note</button></div>`)}`;

  add = async () => {
    const { form, stage } = this;
    const fields = form?.ready();
    if (!form || !fields) return;
    const undo = await savedWithUndo(stage, [{ kind: 'method_note', recordId: form.recordId, fields,
      siteId: stage.phone.me.site_id }]);
    if (!undo) return;
    await form.drop();
    await this.opened();
    stage.say('Note saved.', undo);
  };

  foot = () => (this.form?.isAsOpened ? html`<button type="button" class="do"
    @click=${() => this.done('methods_done', 'Methods are noted.')}>${this.notes.some(({ from_day: day }) =>
      day?.startsWith(`${this.at.closing.season_year}-`)) ? 'All changes are noted' : 'Nothing changed this season'}
    </button>` : nothing);
}

class Successors extends Part {
  async opened() {
    const { closing } = this.at;
    this.form = await new RecordForm(this.stage, 'season_closing', `season_closing:${closing.record_id ?? 'new'}`,
      { base: closing }).start({ ...await this.earlier(), ...closing });
    return this;
  }

  /** Contacts outlast a season: those of the last closing are where this one begins. */
  async earlier() {
    const { phone } = this.stage;
    const { closing } = this.at;
    const rows = await phone.rows('season_closing', { siteId: phone.me.site_id });
    const [last] = rows.filter(({ record_id: id, role_contacts: contacts }) => id !== closing.record_id && contacts)
      .sort((one, other) => (other.season_year ?? 0) - (one.season_year ?? 0));
    return last ? { role_contacts: last.role_contacts } : {};
  }

  title = () => 'For your successors';

  body = () => html`<p>Write it so that somebody who has never met you can go on. Both texts are on the page that
      prints, and the crew can read them.</p>${this.form?.input('role_contacts')}${this.form?.input('word')}`;

  save = async () => {
    const { form, at } = this;
    const fields = form?.ready({ season_year: at.closing.season_year });
    if (!form || !fields) return;
    const { role_contacts: contacts = null, word = null } = changesOf(form, fields, at.closing);
    const changed = Object.fromEntries(Object.entries({ role_contacts: contacts, word })
      .filter(([name, value]) => value !== (/** @type {any} */ (at.closing)[name] ?? null) && name in fields));
    if (!Object.keys(changed).length) { this.stage.say('Nothing was changed.'); return; }
    if (!await at.write(changed, 'Saved for your successors.')) return;
    await form.drop();
    this.stage.go('#/closing');
  };

  foot = () => html`<button type="button" class="do" @click=${this.save}>Save</button>`;
}
