/** This phone: what is only here, what was taken, what is held and why; space, export, looks, leaving. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { handOver } from './hand-over.js';
import { entryWords, formWords } from './entry-words.js';
import { inParts } from './in-parts.js';
import { choices, deviceWord, doubt, entryMark, inDeviceWords, mark, section } from './marks.js';
import { named, personName } from './names.js';
import { OF_PLOTS, placeOfRecord } from './record-place.js';
import { RecordForm } from './record-form.js';
import { has, searchBox } from './search-box.js';
import { withRemovals } from './removed.js';
import { hasUse } from './roles.js';
import { savedWithUndo } from './undo.js';
import { counted, moment, size, spanWords } from './words.js';

const SHOWN = 40;
/** Of this phone's own entries, so many of the newest are searched. */
const LOOKED_THROUGH = 500;
const FULL_SHARE = 0.8;

/** Words of held entries that are taken when they are written anew as they are. @type {Record<string, string>} */
const SAVED_AGAIN = {
  'other-site': 'Saved with its record\u2019s site. It is sent with the next sync.',
  crowded: 'Saved in place of the values here. It is sent with the next sync.',
};

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new ThisPhone(stage);
  await screen.refresh();
  return screen;
}

class ThisPhone {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    /** @type {'phone'|'held'|'taken'|null} */ this.state = null;
    this.most = SHOWN;
    this.part = inParts(stage.redraw);
    this.searched = '';
    this.leaving = false;
    /** @type {{entry: any, form: RecordForm}|null} */ this.fixing = null;
    /** @type {any[]} */ this.entries = [];
    /** @type {any[]} */ this.drafts = [];
    /** @type {Map<string, string>} who removed which of the records, by kind and id */ this.removed = new Map();
    /** @type {any} */ this.storage = {};
    /** @type {any} */ this.me = null;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const [entries, storage, drafts] = await Promise.all([
      phone.entries({ state: this.state ?? undefined, limit: this.searched ? LOOKED_THROUGH : this.most }),
      phone.storage(), phone.drafts()]);
    const words = await Promise.all(entries.map((entry) => entryWords(phone, entry, this.stage.zone)));
    this.entries = entries.map((entry, /** @type {number} */ n) => ({ ...entry, words: words[n] }));
    this.drafts = await Promise.all(drafts.map(async (draft) => ({ ...draft, words: await formWords(phone, draft) })));
    this.storage = storage;
    this.removed = await this.readRemoved();
    this.me = phone.me?.person_id ? await phone.row('person', phone.me.person_id) : null;
  };

  /** @returns {Promise<Map<string, string>>} */
  async readRemoved() {
    const records = new Map(this.entries.map(({ kind, recordId }) => [`${kind}/${recordId}`, { kind, recordId }]));
    const rows = await Promise.all([...records].map(async ([key, { kind, recordId }]) => {
      const row = await this.stage.phone.rowOrRemoved(kind, recordId);
      const [{ removed = '' }] = row ? await withRemovals(this.stage, kind, [row]) : [{}];
      return /** @type {[string, string]} */ ([key, removed]);
    }));
    return new Map(rows.filter(([, removed]) => removed));
  }

  title = () => `This ${deviceWord()}`;
  where = () => {
    const { me } = this.stage.phone;
    if (!me) return 'Not joined';
    return me.role === 'reader' ? 'Reader' : `${this.me ? personName(this.me) : 'Nobody chosen'}, ${me.role}`;
  };

  /** A reader writes nothing, but may have been somebody else before. */
  get hasOwn() {
    const { phone, held, taken } = this.stage.phone.counts();
    return this.stage.phone.me?.role !== 'reader' || phone + held + taken > 0;
  }

  body = () => html`<div class="cols even"><div
    class="stack">${this.summary()}${this.fixing ? this.fixForm() : nothing}${this.list()}</div><div
    class="stack">${this.openForms()}${this.space()}${this.about()}</div></div>`;

  summary() {
    const { phone, zone } = this.stage;
    const counts = phone.counts();
    const sync = phone.syncState;
    const line = (/** @type {'phone'|'taken'|'held'} */ state, /** @type {string} */ word, /** @type {number} */ n) =>
      html`<dt class="marked">${mark(state)}<span>${word}</span></dt><dd>${n}</dd>`;
    return html`<div class="said-back"><dl class="pairs">${line('phone', `Only on this ${deviceWord()}`,
      counts.phone)}${line('taken', 'Sent and stored', counts.taken)}${line('held', 'Held back: needs a fix',
      counts.held)}
        <dt>Photos waiting</dt><dd>${counts.photos_waiting}</dd>${counts.oldest_unsent_ms
          ? html`<dt>Oldest waits for</dt><dd>${spanWords(phone.now() - counts.oldest_unsent_ms)}</dd>` : nothing}</dl>
      <small role="status">${sync.busy ? 'Syncing now.' : sync.last_ok_ms
        ? `Last sync ${moment(sync.last_ok_ms, phone.now(), zone || 'UTC')}.`
        : 'Not synced yet.'}${sync.last_error_sentence ? ` ${inDeviceWords(sync.last_error_sentence)}`
        : ''}</small>${sync.clock_sentence ? doubt(inDeviceWords(sync.clock_sentence)) : nothing}</div>`;
  }

  openForms() {
    if (!this.drafts?.length) return nothing;
    return section('Forms left open', this.drafts.length,
      this.drafts.map((draft) => html`<div class="row"><span
        class="said">${draft.words}<small>kept
        ${moment(draft.at_ms ?? this.stage.phone.now(), this.stage.phone.now(), this.stage.zone)}</small></span>
      ${draftHref(draft.key) ? html`<a class="pill plain tap" href=${draftHref(draft.key)}>open</a>` : nothing}<button
        type="button" class="pill plain tap" aria-label="Drop ${draft.words}"
        @click=${async () => {
          await this.stage.phone.dropDraft(draft.key);
          await this.refresh();
          this.stage.redraw();
        }}>drop</button></div>`));
  }

  /** @param {string} text */
  async search(text) {
    const before = this.searched;
    this.searched = text;
    if (Boolean(before) !== Boolean(text)) await this.refresh();
    this.stage.redraw();
  }

  list() {
    const pick = async (/** @type {ThisPhone['state']} */ state) => {
      this.state = state;
      await this.refresh();
      this.stage.redraw();
    };
    const shown = this.entries.filter(({ words, sentence, fields }) =>
      has([words, sentence, fields?.note], this.searched));
    const hasOlder = !this.searched && this.entries.length === this.most;
    return html`${choices({ name: 'state', legend: 'Which entries?', hideLegend: true, value: this.state, pick,
      choices: [{ value: null, label: 'All' }, { value: 'phone', label: `On this ${deviceWord()}` },
        { value: 'held', label: 'Held back' }, { value: 'taken', label: 'Sent' }] })}
      ${searchBox({ label: 'Find a tag, name or note', value: this.searched, take: (text) => this.search(text) })}
      ${section('Entries, newest first', hasOlder ? `newest ${shown.length}` : shown.length, html`${shown.length
        ? this.part(shown).map((entry) => this.entryRow(entry)) : html`<p class="row">${this.noneWords()}</p>`}
      ${hasOlder ? html`<button type="button" class="or"
        @click=${async () => { this.most += 200; await this.refresh(); this.stage.redraw(); }}>Show more</button>`
        : nothing}`)}`;
  }

  noneWords() {
    const { entries: { length }, searched } = this;
    if (!searched || !length) return 'None.';
    return `${length > 1 ? `None of the newest ${length} has` : 'The one entry here does not have'} `
      + `\u201c${searched}\u201d.`;
  }

  /** @param {any} entry */
  entryRow(entry) {
    const { phone } = this.stage;
    const hasForm = Boolean(phone.pack()?.forms.kinds[entry.kind]);
    const isHeld = entry.state === 'held';
    // A record that stands only by what is held looks removed, once its mending was taken back.
    const removed = isHeld ? '' : this.removed.get(`${entry.kind}/${entry.recordId}`);
    const href = placeOfRecord(phone, entry.kind, entry.recordId);
    const see = html`<a class="pill plain tap" href=${href} aria-label="See: ${entry.words}">see</a>`;
    return html`<div class="row">${entryMark(entry.state)}<span class="said">${removed ? html`<s>${entry.words}</s>
      <small>${removed}</small>` : entry.words}
      ${!isHeld ? nothing : entry.isMended ? html`<small>Fixed: a newer entry says it again.</small>`
        : doubt(whyHeld(entry))}</span>
      ${isHeld && !entry.isMended && hasForm ? this.wayOut(entry) : href ? see : nothing}</div>`;
  }

  /** What a person can do about a held entry. @param {any} entry */
  wayOut(entry) {
    if (Object.hasOwn(SAVED_AGAIN, entry.why ?? '')) return html`<button type="button" class="pill look tap"
      @click=${() => this.saveAgain(entry)}>save again</button>`;
    return entry.why === 'not-yours' ? nothing
      : html`<button type="button" class="pill look tap" @click=${() => this.fix(entry)}>fix</button>`;
  }

  /** Written anew it names its record's own site, and the values that stand there now. @param {any} entry */
  async saveAgain({ kind, recordId, fields, visitId, entryId, why }) {
    const undo = await savedWithUndo(this.stage, [{ kind, recordId, fields, visitId, fixes: entryId }]);
    if (undo) this.stage.say(SAVED_AGAIN[why], undo);
  }

  /** @param {any} entry */
  async fix(entry) {
    const base = (await this.stage.phone.row(entry.kind, entry.recordId)) ?? {};
    this.fixing = { entry, form: await new RecordForm(this.stage, entry.kind, `fix:${entry.entryId}`,
      { base }).start(entry.fields) };
    this.stage.redraw();
    queueMicrotask(() => document.getElementById('fixing')?.focus());
  }

  fixForm() {
    const { entry, form } = /** @type {{entry: any, form: RecordForm}} */ (this.fixing);
    const save = async () => {
      const fields = form.ready();
      if (!fields) return;
      const { kind, recordId, visitId, entryId } = entry;
      // Fixed once and taken back, it was removed.
      const isGone = (await this.stage.phone.rowOrRemoved(kind, recordId))?._deleted;
      const undo = await savedWithUndo(this.stage, [{ kind, recordId, visitId, fixes: entryId,
        fields: { ...fields, ...(isGone ? { _deleted: false } : {}) } }]);
      if (!undo) return;
      await form.drop();
      this.fixing = null;
      this.stage.say('Fixed and saved. It is sent with the next sync.', undo);
    };
    return html`<section class="stack" id="fixing" tabindex="-1"><div
      class="bar"><h2>Fix the held entry</h2></div>${doubt(whyHeld(entry))}${form.all(['in_visit'])}
      <div class="two"><button type="button" class="or"
        @click=${async () => { await form.drop(); this.fixing = null; this.stage.redraw(); }}>Cancel</button><button
        type="button" class="do" @click=${save}>Save the fix</button></div></section>`;
  }

  space() {
    const { usage = 0, quota = 0, persisted } = this.storage ?? {};
    return section('Space', nothing, html`<dl
      class="pairs"><dt>Used</dt><dd>${size(usage)}${quota ? ` of ${size(quota)}` : ''}</dd>
      <dt>Safe from browser cleanup</dt><dd>${persisted ? 'yes' : 'not sure'}</dd></dl>
      ${persisted ? nothing
        : doubt('The browser may clear an app that is not installed or rarely opened. Install it, and sync on the '
          + 'day you write.')}
      ${this.stage.phone.isFull
        ? doubt(`No space is left for photos. Text is still saved. Sync, so that photos can leave this `
          + `${deviceWord()}.`) : nothing}
      ${quota && usage / quota > FULL_SHARE && !this.stage.phone.isFull
        ? doubt(`Space is nearly used up. Sync, so that photos can leave this ${deviceWord()}.`) : nothing}
      ${this.hasOwn ? html`<button type="button" class="or" @click=${() => this.exportFile()}>Save this
        ${deviceWord()}'s own entries as a file</button>` : nothing}
      ${hasUse(this.stage.phone.me?.role ?? '', 'add-photos') ? html`<a class="or" href="#/add-photos">Add photos from a
        camera</a>` : nothing}
      ${this.me ? html`<a class="or" href="#/own-hours">Your hours</a>` : nothing}
      ${this.stage.phone.me ? html`<a class="or" href="#/data">Download the program\u2019s data</a>` : nothing}`);
  }

  async exportFile() {
    this.stage.say(await handOver(await this.stage.phone.exportFile()));
  }

  about() {
    const { phone } = this.stage;
    const leave = async () => {
      if (await this.stage.saving(async () => { await phone.leave(); })) this.stage.go('#/join');
    };
    return html`${section('About', nothing, html`<p>Fieldlog keeps what a crew sees on the shore, with or without a
      network. Tides are predictions, not for navigation.</p>
      ${(phone.pack()?.attribution ?? []).map((/** @type {string} */ line) => html`<p class="small">${line}</p>`)}`)}
      ${phone.me ? section('Leave the program', nothing, this.leaving
        ? html`<p>This clears this ${deviceWord()}. It is not possible while anything waits to be sent.</p><div
          class="two"><button
          type="button" class="or" @click=${() => { this.leaving = false; this.stage.redraw(); }}>Stay</button><button
          type="button" class="do stop" @click=${leave}>Clear and leave</button></div>`
        : html`<button type="button" class="or" @click=${() => { this.leaving = true; this.stage.redraw(); }}>Leave
          the program</button>`) : html`<a class="do" href="#/join">Join a program</a>`}`;
  }

  foot = () => {
    const { phone } = this.stage;
    if (!phone.me) return nothing;
    const counts = phone.counts();
    return html`<button type="button" class="do"
      ?disabled=${phone.syncState.busy} @click=${() => phone.syncNow()}>${phone.syncState.busy ? 'Syncing'
        : counts.phone ? `Sync now, ${counted(counts.phone, 'entry', 'entries')}` : 'Sync now'}</button>`;
  };
}

/** @param {{sentence?: string|null, why?: string|null}} entry a held one @returns {string} */
const whyHeld = ({ sentence, why }) => named(inDeviceWords(sentence),
  why ? `Held: ${why}.` : `Held; the reason is not on this ${deviceWord()}.`);

/** @param {string} key @returns {string|null} where the form is filled in */
function draftHref(key) {
  const [kind, id, of] = key.split(':');
  if (kind === 'correct') return `#/record/${id}/${of}`;
  if (kind === 'unit_check' || kind === 'position_fix') return `#/units/${id}/check`;
  if (kind === 'stakes' || OF_PLOTS.includes(kind)) return `#/plots/${id}/${kind}`;
  if (kind === 'fix') return null;
  return { sighting: '#/sighting', visit: '#/visit', level_word: '#/visit', flag_decision: `#/flags/${id}`,
    unit_event: `#/units/${id}`, plot_event: `#/plots/${id}`, preparation: '#/own-hours',
    mileage: '#/own-hours', award_hours: '#/hours/count',
    method_note: '#/closing/methods', season_closing: '#/closing/successors', walk_up: `#/desk/${id}`,
    head_count: '#/count-heads' }[kind]
    ?? (key === 'person:new' || key === 'person:me' ? '#/people'
    : `#/set-up/${kind}/${id}`);
}
