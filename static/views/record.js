/** One record by itself: what it says, who wrote what of it and when. Corrected, removed and taken back from here. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isRemoved } from '../records/mistaken.js';
import { saidOf } from './difference.js';
import { subjectWords } from './entry-words.js';
import { refsOf } from './form-refs.js';
import { deviceWord, entryMark, mark, section } from './marks.js';
import { recordName } from './names.js';
import { PHOTO_KINDS } from './photo-box.js';
import { PhotoPart } from './photo-part.js';
import { hasScreen, READINGS } from './record-place.js';
import { formOf, inputsOf } from './kind-forms.js';
import { changesOf, RecordForm } from './record-form.js';
import { SightingForm } from './sighting-form.js';
import { removal, takenBack, writerName } from './removed.js';
import { contradictions, Sure } from './sure.js';
import { MEASURED, wasFound } from './unit-facts.js';
import { savedWithUndo } from './undo.js';
import { VISIT_MS } from './visits.js';
import { counted, moment, msOf } from './words.js';

const OF_PHOTOS = ['of_kind', 'of_id', 'bytes', 'media_type', 'width_px', 'height_px', 'taken_at', 'lat_deg', 'lon_deg',
  'accuracy_m'];
/** What tells of something that stays what it was: another one is another record. @type {Record<string, string[]>} */
const FIXED = {
  sign_in: ['person_id', 'waiver_version'], position_fix: ['of_kind', 'of_id', 'platform', 'accuracy_m'],
  photo: OF_PHOTOS, people_photo: [...OF_PHOTOS, 'recognizable', 'consent'],
  unit_check: ['looked_only'], visit: ['window_id', 'joined_to'],
};
/** What is written on a visit, so that it would be left without one. */
const ON_A_VISIT = ['unit_check', 'sighting', 'sign_in', 'unit_event', 'position_fix', 'plot_event',
  ...READINGS];

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new RecordScreen(stage, stage.params[0], stage.params[1]);
  await screen.refresh();
  if (screen.mayChange && (await stage.phone.draft(screen.draftKey))) await screen.correct();
  return screen;
}

class RecordScreen {
  /** @param {import('./router.js').Stage} stage @param {string} kind @param {string} id */
  constructor(stage, kind, id) {
    this.stage = stage;
    this.kind = kind;
    this.id = id;
    this.narrow = true;
    /** @type {any} */ this.row = undefined;
    /** @type {any[]} what was written, oldest first, each with `who` */ this.history = [];
    /** @type {RecordForm|null} */ this.form = null;
    this.sure = /** @type {Sure} */ (/** @type {unknown} */ (null));
    this.isAsked = false;
    this.subject = '';
    /** @type {Map<string, string>} of the records that it names */ this.names = new Map();
    /** @type {number} records of a visit, that it cannot leave behind */ this.onIt = 0;
    this.photo = PHOTO_KINDS.includes(kind) ? new PhotoPart(stage) : null;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const { kind, id } = this;
    this.row = hasScreen(phone, kind) ? await phone.rowOrRemoved(kind, id) : undefined;
    if (!this.row) return;
    const history = await phone.historyOf(kind, id);
    this.history = await Promise.all(history.map(async (entry) =>
      ({ ...entry, who: await writerName(phone, entry.by) })));
    this.subject = await subjectWords(phone, kind, this.row);
    await this.readNames();
    await this.photo?.read(kind, this.row);
    this.onIt = kind === 'visit' ? await this.countOnVisit() : 0;
  };

  async readNames() {
    const { phone } = this.stage;
    const refs = [...inputsOf(phone, this.kind).values()].filter(({ control }) => control === 'ref');
    const versions = [this.row, ...this.history.map((entry) => entry.fields)];
    await Promise.all(versions.flatMap((fields) => refs.map(async ({ name, refers }) => {
      const value = fields[name];
      if (typeof value !== 'string' || this.names.has(value)) return;
      const row = await phone.rowOrRemoved(fields[refers ?? ''] ?? this.row[refers ?? ''] ?? refers, value);
      this.names.set(value, row ? recordName(row) : `not on this ${deviceWord()}`);
    })));
  }

  async countOnVisit() {
    const { phone } = this.stage;
    const lists = await Promise.all(ON_A_VISIT.map(async (kind) => {
      const rows = await phone.rows(kind, { siteId: phone.me.site_id });
      return rows.filter((row) => row.visit_id === this.id && !isRemoved(kind, row));
    }));
    return lists.flat().length;
  }

  /**
   * Phones begin one low's visit under one name without knowing of each other: removed, it would vanish under a crew on
   * the shore.
   */
  get isRecentVisit() {
    return this.kind === 'visit' && (msOf(this.row.started_at) ?? 0) > this.stage.phone.now() - VISIT_MS;
  }

  /** What hangs on a visit, or who may be on it, keeps it. */
  get isKept() { return this.onIt > 0 || this.isRecentVisit; }

  get isGone() { return isRemoved(this.kind, this.row); }

  /** Whoever wrote it on this phone, and a lead. */
  get mayChange() {
    const { me } = this.stage.phone;
    if (!this.row || !formOf(this.stage.phone, this.kind)['x-writers']?.includes(me.role)) return false;
    return me.role === 'lead' || (this.history.length ? this.history[0].own : this.row.entry_state !== undefined);
  }

  get back() {
    const unitId = this.row?.unit_id ?? (this.row?.of_kind === 'unit' ? this.row.of_id : null);
    if (unitId) return `#/units/${unitId}`;
    const plotId = this.row?.plot_id ?? (this.row?.of_kind === 'plot' ? this.row.of_id : null);
    if (plotId) return `#/plots/${plotId}`;
    const back = { sighting: '#/sighting', sign_in: '#/people', person: '#/people', visit: '#/visit' };
    return back[/** @type {keyof typeof back} */ (this.kind)] ?? '#/phone';
  }

  get draftKey() { return `correct:${this.kind}:${this.id}`; }
  get word() { return formOf(this.stage.phone, this.kind)?.title ?? 'Record'; }
  close = () => this.photo?.close();
  title = () => (this.row ? this.word : 'No such record');
  where = () => (this.row && this.subject !== this.word ? this.subject : nothing);

  body = () => {
    if (!this.row) return html`<p>This record is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    if (this.form) return html`${this.form.all(this.hidden())}`;
    const others = this.mayChange || this.stage.phone.me.role === 'reader' ? nothing
      : html`<p class="small">Another phone wrote this. A lead can correct or remove it.</p>`;
    return html`${this.isGone ? this.goneWords() : nothing}${this.photo?.draw(this.mayChange && !this.isGone)
      ?? nothing}${this.facts()}${this.isAsked ? this.ask() : nothing}
      ${this.entries()}${others}`;
  };

  goneWords() {
    const { phone, zone } = this.stage;
    const entry = this.history.findLast((entry) => isRemoved(this.kind, entry.fields));
    const who = phone.me.role === 'reader' || !entry ? '' : ` by ${entry.who}`;
    const when = entry ? `, ${moment(entry.at_ms, phone.now(), zone)}` : '';
    return html`<div class="notice look" role="status">${mark('look')}<div class="said">
      <p>Removed${who}${when}. It no longer counts.</p></div></div>`;
  }

  /** @param {string} name @param {any} value */
  words(name, value) {
    const input = inputsOf(this.stage.phone, this.kind).get(name);
    if (input?.control === 'ref' && typeof value === 'string') return this.names.get(value)
      ?? `not on this ${deviceWord()}`;
    return saidOf(this.stage.phone, this.kind, name, value, this.stage.zone, this.row);
  }

  facts() {
    const isSaid = (/** @type {any} */ { name }) => (this.row[name] ?? null) !== null && this.row[name] !== '';
    const filled = [...inputsOf(this.stage.phone, this.kind).values()].filter(isSaid);
    return html`<dl class="pairs">${filled.map(({ name, title }) => {
      const words = this.words(name, this.row[name]);
      return html`<dt>${title}</dt><dd>${this.isGone ? html`<s>${words}</s>` : words}</dd>`;
    })}</dl>`;
  }

  /** What one entry did. @param {any} entry @param {number} n its number in the history */
  didWords({ fields }, n) {
    const inputs = inputsOf(this.stage.phone, this.kind);
    if (isRemoved(this.kind, fields)) return 'Removed';
    const isBack = fields._deleted === false
      || (this.kind === 'sign_in' && n > 0 && !fields.in_at && fields.no_out_reason === null);
    if (isBack) return 'Restored';
    if (!n) return 'Written';
    const named = Object.keys(fields).filter((name) => inputs.has(name));
    return named.map((name) => `${inputs.get(name)?.title}: ${this.words(name, fields[name])}`).join(', ') || 'Changed';
  }

  entries() {
    const { phone, zone } = this.stage;
    const rows = this.history.map((entry, n) => html`<div class="row"><span class="said">${this.didWords(entry, n)}
      <small>${phone.me.role === 'reader' ? '' : `${entry.who}, `}${moment(entry.at_ms, phone.now(), zone)}</small>
      </span>${entryMark(entry.state)}</div>`);
    return section('Who wrote what', this.history.length, rows.reverse());
  }

  ask() {
    if (this.isKept) {
      const [what, todo] = this.onIt
        ? [`${counted(this.onIt, 'record belongs', 'records belong')} to this visit.`,
          'Remove those first, or end the visit instead.']
        : ['Another phone may be on this visit.', 'End it now. It can be removed tomorrow.'];
      return html`<div class="said-back" role="alert" id="ask" tabindex="-1"><b>${what}</b>
        <small>${todo}</small></div>`;
    }
    const keep = () => { this.isAsked = false; this.stage.redraw(); };
    return html`<div class="said-back" role="alert" id="ask" tabindex="-1">
      <b>Remove this ${this.word.toLowerCase()}?</b>
      <small>It stays in the log, crossed out with your name. You can restore it.</small>
      <div class="two"><button type="button" class="or" @click=${keep}>Keep it</button>
        <button type="button" class="do stop" @click=${() => this.remove()}>Remove it</button></div></div>`;
  }

  foot = () => {
    if (!this.mayChange || (this.isAsked && !this.isKept)) return nothing;
    if (this.form) {
      return html`<div class="two"><button type="button" class="or" @click=${() => this.stop()}>Cancel</button>
        <button type="button" class="do" @click=${() => this.save()}>Save the correction</button></div>`;
    }
    if (this.isGone) {
      return html`<button type="button" class="do" @click=${() => this.takeBack()}>Restore it</button>`;
    }
    const ask = () => {
      this.isAsked = true;
      this.stage.redraw();
      queueMicrotask(() => document.getElementById('ask')?.focus());
    };
    return html`<div class="two"><button type="button" class="or" @click=${ask}>Remove</button>
      <button type="button" class="do" @click=${() => this.correct()}>Correct</button></div>`;
  };

  /** Inputs that are not corrected here. */
  hidden() {
    const { phone } = this.stage;
    const { properties } = formOf(phone, this.kind);
    const isCrew = phone.me.role === 'crew';
    const kept = Object.keys(properties)
      .filter((name) => properties[name]['x-settled'] || (isCrew && properties[name]['x-crew']));
    return [...(FIXED[this.kind] ?? []), 'in_visit', ...kept];
  }

  async correct() {
    const { stage, kind, id } = this;
    const { phone } = stage;
    const given = { base: this.row, refs: await refsOf(phone, kind) };
    this.form = await (await this.emptyForm(given)).start(this.row, id);
    this.sure = new Sure(stage, this.form);
    this.isAsked = false;
    stage.redraw();
    queueMicrotask(() => document.getElementById('content')?.focus());
  }

  /** @param {NonNullable<ConstructorParameters<typeof RecordForm>[3]>} given */
  async emptyForm(given) {
    const { stage, kind } = this;
    const { phone } = stage;
    if (kind !== 'sighting') return new RecordForm(stage, kind, this.draftKey, given);
    const species = await phone.rows('species', { siteId: phone.me.site_id });
    const groups = new Map(species.map((row) => [row.record_id, row.group]));
    return new SightingForm(stage, this.draftKey, given, (id) => groups.get(id));
  }

  async stop() {
    await this.form?.drop();
    this.form = null;
    this.stage.redraw();
  }

  async save() {
    const { stage } = this;
    const form = /** @type {RecordForm} */ (this.form);
    if (stage.isSecondTap()) return;
    const fields = form.ready();
    if (!fields) return;
    const changed = changesOf(form, fields, this.row);
    for (const name of this.hidden()) delete changed[name];
    if (this.kind === 'unit_check') {
      this.settleCheck(fields, changed);
      const list = await this.doubtsOf(fields);
      if (!this.sure.isSure(list, () => this.save())) return;
    }
    const isToCome = (/** @type {string} */ name) =>
      form.inputs.get(name)?.control === 'instant' && (msOf(changed[name]) ?? 0) > stage.phone.now();
    const early = Object.keys(changed).find(isToCome);
    if (early) {
      stage.refuse(`${form.inputs.get(early)?.title} is still to come. Choose a time until now.`);
      return;
    }
    if (!Object.keys(changed).length) stage.say('Nothing was changed.');
    else if (!(await this.write(changed, `Correction saved on this ${deviceWord()}.`))) return;
    await this.stop();
  }

  /** What contradicts the unit that was checked. @param {Record<string, any>} fields */
  async doubtsOf(fields) {
    const { phone } = this.stage;
    const unit = await phone.row('unit', fields.unit_id);
    const design = unit ? await phone.row('unit_design', unit.design_id) : null;
    return contradictions(fields, design, (await phone.row('site', phone.me.site_id))?.reading_repeat_mm);
  }

  /**
   * Measures go with a unit that was found, and with more than a look.
   * @param {Record<string, any>} fields @param {Record<string, any>} changed
   */
  settleCheck(fields, changed) {
    const isFound = wasFound(fields);
    for (const name of isFound ? [] : MEASURED) {
      if ((this.row[name] ?? null) === null) delete changed[name];
      else changed[name] = null;
    }
    const isMeasured = MEASURED.some((name) => (changed[name] ?? null) !== null);
    if (this.row.looked_only && (!isFound || isMeasured)) changed.looked_only = null;
  }

  async remove() {
    if (this.stage.isSecondTap()) return;
    this.isAsked = false;
    await this.write(removal(this.kind, this.row), `${this.word} removed.`);
  }

  async takeBack() {
    if (this.stage.isSecondTap()) return;
    await this.write(takenBack(this.kind, this.row, this.history), `${this.word} is back.`);
  }

  /** @param {Record<string, any>} fields @param {string} sentence */
  async write(fields, sentence) {
    const { stage, row, kind, id } = this;
    const undo = await savedWithUndo(stage, [{ kind, recordId: id, fields, visitId: row.visit_id ?? null }]);
    if (undo) stage.say(sentence, undo);
    return Boolean(undo);
  }
}
