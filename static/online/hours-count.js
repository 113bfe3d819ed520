/** Which hours count to which award: what leads chose so far, and one more choice. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { dayWords } from '../days.js';
import { labelOf } from '../views/kind-forms.js';
import { deviceWord, rowLink, section } from '../views/marks.js';
import { byName, named, personName } from '../views/names.js';
import { RecordForm } from '../views/record-form.js';
import { savedWithUndo } from '../views/undo.js';
import { fullDay, msOf } from '../views/words.js';

/** Single records are decided where they are listed. */
const ELSEWHERE = ['of_kind', 'of_id'];

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function hoursCount(stage) {
  const { phone, zone } = stage;
  const siteId = phone.me.site_id;
  /** @type {import('../records/rows.js').AwardHours[]} */ let chosen = [];
  /** @type {Map<string, string>} */ const names = new Map();
  /** @type {Record<string, {value: string, label: string}[]>} */ const refs = {};
  const refresh = async () => {
    const [rows, awards, people, visits] = await Promise.all([phone.rows('award_hours', { siteId }),
      phone.rows('award', { siteId }), phone.rows('person', { siteId }), phone.rows('visit', { siteId })]);
    chosen = rows;
    const newest = visits.filter((visit) => visit.started_at && !visit.joined_to)
      .sort((one, other) => (msOf(other.started_at) ?? 0) - (msOf(one.started_at) ?? 0));
    refs.award_id = awards.map((award) => ({ value: award.record_id, label: named(award.name) }));
    refs.person_id = people.map((person) => ({ value: person.record_id, label: personName(person) }))
      .sort((one, other) => byName(one.label, other.label));
    refs.of_visit_id = newest.map((visit) => ({ value: visit.record_id, label: `${fullDay(msOf(visit.started_at) ?? 0,
      zone)}, ${labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit')}` }));
    for (const { value, label } of Object.values(refs).flat()) names.set(value, label);
  };
  await refresh();
  const start = () => new RecordForm(stage, 'award_hours', 'award_hours:new', { refs }).start({});
  const shown = { form: await start() };
  const save = async () => {
    const { form } = shown;
    const fields = form.ready();
    if (!fields) return;
    const undo = await savedWithUndo(stage, [{ kind: 'award_hours', recordId: form.recordId, fields }]);
    if (!undo) return;
    await form.drop();
    shown.form = await start();
    stage.say(`Saved on this ${deviceWord()}. It counts once it is sent.`, undo);
  };
  /** @param {import('../records/rows.js').AwardHours} row @returns {string} what it is of */
  const ofWhat = (row) => [row.of_visit_id ? names.get(row.of_visit_id) ?? 'a visit' : '',
    row.person_id ? names.get(row.person_id) ?? 'a person' : '',
    row.task ? labelOf(phone, 'award_hours', 'task', row.task) : '',
    row.from_day ? `from ${dayWords(row.from_day, { year: true })}` : '',
    row.to_day ? `until ${dayWords(row.to_day, { year: true })}` : '',
    row.of_id ? 'one record' : ''].filter(Boolean).join(', ');
  return {
    title: () => 'Count hours to an award', back: '#/hours', narrow: true, refresh,
    body: () => html`<div class="stack">${refs.award_id.length ? html`<p>Hours that fit all of what you choose count to
      the award. Hours that two awards claim count to neither until you choose one.</p>${shown.form.all(ELSEWHERE)}`
      : html`<p>No award is set up yet.</p>`}
      ${chosen.length ? section('Chosen so far', chosen.length, chosen.map((row) => rowLink({
        href: `#/record/award_hours/${row.record_id}`, said: names.get(row.award_id ?? '') ?? 'An award',
        small: ofWhat(row) }))) : nothing}</div>`,
    foot: () => (refs.award_id.length ? html`<button type="button" class="do" @click=${save}>Save</button>`
      : html`<a class="do" href="#/set-up/award/new">Add an award</a>`),
  };
}
