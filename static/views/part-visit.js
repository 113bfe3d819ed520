/**
 * One visit that was two: the records that are chosen move to a visit of their own. Each says so itself, so what a
 * phone that was away still sends to the first visit stays there.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inputsOf } from './kind-forms.js';
import { choices, deviceWord, section } from './marks.js';
import { siteName } from './names.js';
import { AT, readPast } from './past-visit-read.js';
import { savedWithUndo } from './undo.js';
import { readEntries } from './visit-entries.js';
import { isOfThisTide } from './visits.js';
import { clock, counted, fullDay, instant, msOf } from './words.js';

/** @typedef {import('./visit-entries.js').Entry} Entry */

/** @param {import('./past-visit-read.js').Past} past @param {import('./router.js').Stage} stage */
const isRunning = ({ endedMs, visit }, { phone }) => endedMs === null && isOfThisTide(visit, phone.now());

export class PartVisit {
  /** @param {import('./router.js').Stage} stage @param {string} visitId */
  constructor(stage, visitId) {
    this.stage = stage;
    this.narrow = true;
    this.visitId = visitId;
    this.back = `#/visits/${visitId}/correct`;
    /** @type {import('./past-visit-read.js').Past|null} */ this.past = null;
    /** @type {Entry[]} one a record */ this.entries = [];
    /** @type {Set<string>} the records that move */ this.chosen = new Set();
    /** @type {string|null} */ this.purpose = null;
  }

  open() { return this.refresh(); }

  refresh = async () => {
    const past = await readPast(this.stage.phone, this.visitId);
    this.past = past;
    if (!past) return;
    this.purpose ??= past.visit.purpose ?? null;
    this.entries = (await readEntries(this.stage, past)).filter(({ kind, field, row }) => AT[kind] === field
      && !row.removed);
  };

  title = () => 'Part this visit in two';
  where = () => (this.past ? `${siteName(this.past.shore.site)}, ${fullDay(this.past.startedMs, this.stage.zone)}`
    : nothing);

  body = () => {
    const { past, entries, chosen, stage } = this;
    if (!past) return html`<p>This visit is not on this ${deviceWord()}.</p>`;
    if (isRunning(past, stage)) return html`<p>This visit has not ended. Whoever is moved off it would no longer be
      counted on it, and the turn-back alarm counts them. End it first, then part it in two.</p>`;
    if (!entries.length) return html`<p>Nothing is written on this visit, so there is nothing to part.</p>`;
    const writers = [...new Set(entries.map(({ row }) => row.created_by))].filter((id) => past.names.has(id));
    const pick = (/** @type {(entry: Entry) => boolean} */ isIts) => {
      for (const entry of entries) if (isIts(entry)) chosen.add(entry.row.record_id);
      stage.redraw();
    };
    return html`<p>Choose what belongs to the other visit. The rest stays here.</p>
      ${writers.length > 1 ? html`<div class="two">${writers.map((id) => html`<button type="button" class="or"
        @click=${() => pick(({ row }) => row.created_by === id)}>All by ${past.names.get(id)}</button>`)}</div>`
        : nothing}
      ${section('Written on this visit', `${chosen.size} of ${entries.length} chosen`, entries.map((entry) =>
        this.row(entry)))}
      ${chosen.size ? choices({ name: 'purpose', legend: 'Purpose of the other visit', value: this.purpose,
        choices: inputsOf(stage.phone, 'visit').get('purpose')?.choices ?? [],
        pick: (purpose) => { this.purpose = purpose; stage.redraw(); } }) : nothing}`;
  };

  /** @param {Entry} entry */
  row({ row, words, atMs, isDayOnly }) {
    const { stage, chosen } = this;
    const id = row.record_id;
    const turn = () => {
      if (!chosen.delete(id)) chosen.add(id);
      stage.redraw();
    };
    return html`<button type="button" class="row" aria-pressed=${String(chosen.has(id))} @click=${turn}><span
      class="said">${chosen.has(id) ? html`<b>${words}</b>` : words}<small>${isDayOnly ? fullDay(atMs, stage.zone)
        : clock(atMs, stage.zone)}${chosen.has(id) ? ', goes to the other visit' : ''}</small></span></button>`;
  }

  foot = () => (this.chosen.size && this.past && !isRunning(this.past, this.stage) ? html`<button type="button"
    class="do" @click=${() => this.save()}>Part off ${counted(this.chosen.size, 'record')}</button>` : nothing);

  async save() {
    const { stage, past, chosen } = this;
    if (!past || stage.isSecondTap()) return;
    const moving = this.entries.filter(({ row }) => chosen.has(row.record_id));
    if (moving.length === this.entries.length) {
      stage.refuse('All of it is chosen, so nothing would be left here. Leave at least one record.');
      return;
    }
    const { phone } = stage;
    const times = moving.flatMap(({ row, kind }) => [row[AT[kind]], row.out_at].flatMap((at) => msOf(at) ?? []));
    const recordId = phone.newId(phone.me.site_id);
    const isDayOnly = moving.every((entry) => entry.isDayOnly);
    const undo = await savedWithUndo(stage, [{ kind: 'visit', recordId, visitId: recordId, fields: {
      purpose: this.purpose ?? 'walk', started_at: instant(Math.min(...times)), ended_at: instant(Math.max(...times)),
      ...(isDayOnly ? { time_known: false } : {}) } },
    ...moving.map(({ kind, row }) => ({ kind, recordId: row.record_id, fields: { in_visit: recordId },
      visitId: row.visit_id ?? null }))]);
    if (!undo) return;
    chosen.clear();
    stage.say(`Parted: ${counted(moving.length, 'record')} moved. Join the two to take it back later.`, undo);
    stage.go(`#/visits/${recordId}`);
  }
}
