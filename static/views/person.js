/** One person: role, age and waiver, whether they are out, and when they were on the shore. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { PersonContacts } from './contacts.js';
import { peopleOut } from './heads.js';
import { deviceWord } from './marks.js';
import { personName } from './names.js';
import { onTheShore } from './person-sites.js';
import { placeOfRecord } from './record-place.js';
import { labelOf } from './kind-forms.js';
import { moment, msOf } from './words.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, params: [personId] } = stage;
  const shore = onTheShore(stage, personId);
  const contacts = new PersonContacts(stage, personId);
  /** @type {any} */ let person;
  /** @type {any} a sign-in without a time out */ let out;
  const refresh = async () => {
    [person, out] = await Promise.all([
      phone.row('person', personId),
      peopleOut(phone).then((everyone) => everyone.find(({ signIn }) => signIn.person_id === personId)?.signIn),
      shore.refresh(), contacts.refresh(),
    ]);
  };
  await refresh();
  const facts = () => html`<dl class="pairs"><dt>Role</dt><dd>${labelOf(phone, 'person', 'role', person.role,
    'not noted')}</dd><dt>Minor</dt><dd>${person.minor === true ? 'yes' : person.minor === false ? 'no'
      : 'not asked, counted as one'}</dd><dt>Waiver</dt><dd>${!person.waiver_valid ? 'none on record'
        : person.waiver_version ? `yes, version ${person.waiver_version}` : 'yes'}</dd></dl>`;
  return {
    title: () => (person ? personName(person) : 'No such person'), back: '#/people', narrow: true, refresh,
    where: () => (!person ? nothing : !out ? 'Not out'
      : `Out since ${moment(msOf(out.in_at) ?? 0, phone.now(), stage.zone)}`),
    body: () => {
      if (!person) return html`<p>This person is not on this ${deviceWord()}. They may come with the next sync.</p>`;
      const place = placeOfRecord(phone, 'person', personId);
      const held = phone.me?.role === 'lead' ? `#/held/${personId}` : null;
      return html`${facts()}${place ? html`<a class="or short" href=${place}>Correct or remove</a>` : nothing}
        ${held ? html`<a class="or short" href=${held}>What is held about this person</a>` : nothing}
        ${contacts.draw()}${shore.draw()}`;
    },
  };
}
