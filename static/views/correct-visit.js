/**
 * A lead puts a past visit right: its times, a person or a check that is missing, two visits that were one, one that
 * was two. Each is an entry like any other, shown as a correction on the visit's page, and can be taken back.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { msOfLocal } from './local-box.js';
import { deviceWord, rowLink, section } from './marks.js';
import { byName, personName, siteName, unitTag } from './names.js';
import { readPast } from './past-visit-read.js';
import { changesOf, RecordForm } from './record-form.js';
import { turnOf } from './shore.js';
import { savedWithUndo } from './undo.js';
import { MEASURED, wasFound } from './unit-facts.js';
import { JoinVisits } from './join-visits.js';
import { PartVisit } from './part-visit.js';
import { fullDay, instant, localDay, msOf } from './words.js';

/** @typedef {import('./past-visit-read.js').Past} Past */

/** What is put right, by the word in the address. @type {[string, string, string][]} */
const WAYS = [
  ['times', 'Correct its times', 'when it started and ended'],
  ['person', 'Add a person', 'who was there and is not in the app'],
  ['check', 'Add a check', 'that was made and not written down'],
  ['join', 'Join with another visit', 'two that were one, or take a join back'],
  ['part', 'Part it in two', 'records of two visits that stand on one'],
];

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [visitId, , way = '', unitId] = stage.params;
  const screen = way === 'join' ? new JoinVisits(stage, visitId) : way === 'part' ? new PartVisit(stage, visitId)
    : new CorrectVisit(stage, visitId, way, unitId);
  await screen.open();
  return screen;
}

/** The forms: times, a person, a check. */
class CorrectVisit {
  /**
   * @param {import('./router.js').Stage} stage @param {string} visitId @param {string} way
   * @param {string} [unitId] of which unit a check is missing
   */
  constructor(stage, visitId, way, unitId) {
    this.stage = stage;
    this.visitId = visitId;
    this.unitId = unitId;
    this.narrow = true;
    this.back = way ? `#/visits/${visitId}/correct` : `#/visits/${visitId}`;
    this.way = way;
    /** @type {Past|null} */ this.past = null;
    /** @type {RecordForm|null} */ this.form = null;
  }

  async open() {
    await this.refresh();
    if (this.past && FORMS[this.way]) this.form = await FORMS[this.way].open(this.stage, this.past, this.unitId);
  }

  refresh = async () => { this.past = await readPast(this.stage.phone, this.visitId); };

  title = () => WAYS.find(([way]) => way === this.way)?.[1] ?? 'Correct this visit';
  where = () => (this.past ? `${siteName(this.past.shore.site)}, ${fullDay(this.past.startedMs, this.stage.zone)}`
    : nothing);

  body = () => {
    const { form, visitId } = this;
    if (!this.past) return html`<p>This visit is not on this ${deviceWord()}.</p>`;
    if (form) return html`<div class="stack">${FORMS[this.way].draw(form)}</div>`;
    return html`<p>What was written stays. A correction is shown as one, with your name.</p>
      ${section('What is wrong?', nothing, [...WAYS.map(([way, title, small]) =>
        rowLink({ href: `#/visits/${visitId}/correct/${way}`, said: title, small })),
      rowLink({ href: `#/record/visit/${this.past.visit.record_id}`, said: 'Correct the rest of it',
        small: 'purpose, leader, water, conditions' })])}`;
  };

  foot = () => (this.form ? html`<button type="button" class="do" @click=${() => this.save()}>Save</button>` : nothing);

  async save() {
    const { stage, form, past } = this;
    if (!form || !past || stage.isSecondTap()) return;
    const ready = form.ready();
    if (!ready) return;
    const fields = dayAlone(ready, form, stage.zone);
    const early = [...form.inputs].find(([name, input]) => input.control === 'instant'
      && (msOf(fields[name]) ?? 0) > stage.phone.now());
    if (early) {
      stage.refuse(`${early[1].title} is still to come. Choose a time until now.`);
      return;
    }
    const changes = await FORMS[this.way].changes(stage, past, form, fields);
    if (!changes.length) {
      stage.say('Nothing was changed.');
    } else {
      const undo = await savedWithUndo(stage, changes);
      if (!undo) return;
      stage.say(`Saved on this ${deviceWord()}.`, undo);
    }
    await form.drop();
    stage.go(`#/visits/${past.visit.record_id}`);
  }
}

/**
 * @typedef {{open: (stage: import('./router.js').Stage, past: Past, unitId?: string) => Promise<RecordForm>,
 *   draw: (form: RecordForm) => unknown,
 *   changes: (stage: import('./router.js').Stage, past: Past, form: RecordForm, fields: any) =>
 *     Promise<import('./undo.js').Change[]>}} Way
 */

/**
 * Of whom or what only the day is known stands at noon of the site's clock, as lists of days are brought in.
 * @param {Record<string, any>} fields @param {RecordForm} form @param {string} zone
 */
function dayAlone(fields, form, zone) {
  if (fields.time_known !== false) return fields;
  return Object.fromEntries(Object.entries(fields).map(([name, value]) => [name,
    form.inputs.get(name)?.control === 'instant' && value
      ? instant(msOfLocal(`${localDay(msOf(value) ?? 0, zone)}T12:00`, zone) ?? 0) : value]));
}

/** @param {any[]} rows @param {(row: any) => string} naming */
const offered = (rows, naming) => rows.map((row) => ({ value: row.record_id, label: naming(row) }))
  .sort((one, other) => byName(one.label, other.label));

/** @type {Record<string, Way>} */
const FORMS = {
  times: {
    open: (stage, { visit, endedMs }) => new RecordForm(stage, 'visit', `times:${visit.record_id}`, { base: visit })
      .start({ started_at: visit.started_at, ended_at: endedMs === null ? null : visit.ended_at ?? instant(endedMs),
        time_known: visit.time_known }, visit.record_id),
    draw: (form) => [form.input('started_at'), form.input('ended_at'), form.input('time_known')],
    changes: async (_stage, past, form, fields) => timesChanged(past, form, fields),
  },
  person: {
    open: async (stage, { visit, startedMs, endedMs }) => {
      const { phone } = stage;
      const people = await phone.rows('person', { siteId: phone.me.site_id });
      return new RecordForm(stage, 'sign_in', `missing-person:${visit.record_id}`, {
        refs: { person_id: offered(people, personName) },
      }).start({ in_at: instant(startedMs), out_at: endedMs === null ? null : instant(endedMs) });
    },
    draw: (form) => ['person_id', 'sign_in_role', 'in_at', 'out_at', 'time_known', 'no_out_reason', 'briefing_heard',
      'task'].map((name) => form.input(name)),
    changes: async ({ phone, zone }, { visit }, _form, fields) => {
      const signIns = await phone.rows('sign_in', { siteId: phone.me.site_id });
      const inMs = msOf(fields.in_at) ?? 0;
      const turn = turnOf(zone, inMs, signIns, fields.person_id);
      const recordId = phone.signInId(phone.me.site_id, localDay(inMs, zone), fields.person_id, turn);
      return [{ kind: 'sign_in', recordId, fields, visitId: visit.record_id }];
    },
  },
  check: {
    open: async (stage, { visit, startedMs }, unitId) => {
      const { phone } = stage;
      const units = await phone.rows('unit', { siteId: phone.me.site_id });
      return new RecordForm(stage, 'unit_check', `missing-check:${visit.record_id}:${unitId ?? ''}`, {
        refs: { unit_id: offered(units, unitTag) },
      }).start({ checked_at: instant(startedMs), ...(unitId ? { unit_id: unitId } : {}) });
    },
    draw: (form) => form.all(['in_visit', 'looked_only']),
    changes: async (_stage, { visit }, form, fields) => {
      const measured = wasFound(/** @type {any} */ (fields)) ? fields
        : Object.fromEntries(Object.entries(fields).filter(([name]) => !MEASURED.includes(name)));
      return [{ kind: 'unit_check', recordId: form.recordId, fields: measured, visitId: visit.record_id }];
    },
  },
};

/**
 * A visit ends when its last phone leaves: an earlier end ends the parts that are longer, too.
 * @param {Past} past @param {RecordForm} form @param {Record<string, any>} fields
 * @returns {import('./undo.js').Change[]}
 */
function timesChanged({ visit, group, parts }, form, fields) {
  const changed = changesOf(form, fields, visit);
  const own = Object.fromEntries(['started_at', 'ended_at', 'time_known'].flatMap((name) =>
    (name in changed ? [[name, changed[name]]] : [])));
  const endMs = msOf(own.ended_at);
  const isLonger = (/** @type {{until_at?: string|null}} */ part) => endMs !== null
    && (!part.until_at || (msOf(part.until_at) ?? 0) > endMs);
  const end = { ended_at: own.ended_at };
  return [...(Object.keys(own).length ? [{ kind: 'visit', recordId: visit.record_id, fields: own,
    visitId: visit.record_id }] : []),
  ...parts.filter(isLonger).map((part) => ({ kind: 'visit_part', recordId: part.record_id,
    fields: { until_at: own.ended_at }, visitId: part.visit_id })),
  ...group.filter((other) => other.record_id !== visit.record_id && endMs !== null
    && (msOf(other.ended_at) ?? 0) > endMs)
    .map((other) => ({ kind: 'visit', recordId: other.record_id, fields: end, visitId: other.record_id }))];
}
