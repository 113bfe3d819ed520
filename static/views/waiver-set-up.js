/** Set-up, for leads: the institution's own waiver, typed or from a text file; a text that was saved never changes. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { waiverInUse } from '../records/waivers.js';
import { labelOf } from './kind-forms.js';
import { deviceWord, fault, pill, rowLink, section } from './marks.js';
import { named } from './names.js';
import { changesOf, RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { dayWords } from '../days.js';
import { counted, instant, localDay } from './words.js';

const BACK = '#/set-up/waiver';
/** Signed waivers are kept for years: our own proposal, which the lead changes to what the institution asks for. */
const KEPT_YEARS = 3;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [, id] = stage.params;
  return id === 'new' ? newWaiver(stage) : id ? oneWaiver(stage, id) : waivers(stage);
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
async function waivers(stage) {
  const { phone } = stage;
  /** @type {any[]} */ let list = [];
  const refresh = async () => {
    list = (await phone.rows('waiver', { siteId: phone.me.site_id }))
      .sort((one, other) => ((one.used_from_at ?? '') < (other.used_from_at ?? '') ? 1 : -1));
  };
  await refresh();
  const inUse = () => waiverInUse(list, phone.now())?.version;
  return {
    title: () => 'Waiver', back: '#/set-up', where: () => counted(list.length, 'text'), narrow: true, refresh,
    body: () => html`<p>Your institution\u2019s own words, read and signed at the desk. Fieldlog brings no text of its
      own, and whether one is valid where you work is for your institution to say.</p>${list.length
        ? list.map((waiver) => rowLink({ href: `${BACK}/${waiver.record_id}`, said: `Version ${
          named(waiver.version)}, ${labelOf(phone, 'waiver', 'language', waiver.language, 'no language')}`,
          small: waiver.keep_until ? `signed ones kept until ${dayWords(waiver.keep_until, { year: true })}`
            : 'nobody said how long signed ones are kept',
          pill: waiver.version === inUse() ? pill('plain', 'in use') : undefined })) : html`<p>None yet.</p>`}`,
    foot: () => html`<a class="do" href="${BACK}/new">Add a waiver</a>`,
  };
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
async function newWaiver(stage) {
  const { phone } = stage;
  const today = localDay(phone.now(), stage.zone);
  const form = await new RecordForm(stage, 'waiver', 'waiver:new').start({ language: 'en',
    keep_until: `${Number(today.slice(0, 4)) + KEPT_YEARS}${today.slice(4)}`.replace('-02-29', '-03-01') });
  let problem = '';
  const text = () => (form.typed.paragraphs ?? []).map((/** @type {any} */ item) => item.paragraph).join('\n\n');
  let typed = text();
  /** Paragraphs are parted by an empty line. @param {string} words */
  const take = (words) => {
    typed = words;
    form.set('paragraphs', words.split(/\n\s*\n/).map((paragraph) => paragraph.trim()).filter(Boolean)
      .map((paragraph) => ({ paragraph })));
  };
  const upload = async (/** @type {any} */ event) => {
    const [file] = event.target.files ?? [];
    if (!file) return;
    const words = (await file.text()).replaceAll('\r\n', '\n').trim();
    problem = !words || words.includes('\u0000') || words.includes('\ufffd')
      ? `${file.name} is not plain text in UTF-8. Save it as a text file, or paste the words.` : '';
    if (!problem) take(words);
    stage.redraw();
  };
  const save = async () => {
    const fields = form.ready({ used_from_at: instant(phone.now()) });
    if (!fields) return;
    const undo = await savedWithUndo(stage, [{ kind: 'waiver', recordId: form.recordId, fields }]);
    if (!undo) return;
    await form.drop();
    stage.say(`Saved on this ${deviceWord()}. Whoever signed another version signs this one when they next `
      + 'come.', undo);
    stage.go(BACK);
  };
  return {
    title: () => 'New waiver', back: BACK, narrow: true,
    body: () => html`<div class="stack">${form.input('version')}${form.input('language')}<div class="field"><label
      class="or file">Take the text from a file<input type="file" accept=".txt,text/plain" @change=${upload}></label>${
      problem ? fault(problem) : nothing}</div><div class="field"><label
      class="label-text" for="waiver-text">Text<small>an empty line between paragraphs</small></label><textarea
      class="line" id="waiver-text" name="paragraphs" .value=${typed} @input=${(/** @type {any} */ event) =>
        take(event.target.value)}></textarea>${form.saidOf('paragraphs').map(({ sentence }) => fault(sentence))}</div>${
      form.input('keep_until')}<p class="small">The proposed
      day is ${KEPT_YEARS} years from now, our suggestion. Ask your institution how long it must keep them.</p></div>`,
    foot: () => html`<button type="button" class="do" @click=${save}>Save</button>`,
  };
}

/** @param {import('./router.js').Stage} stage @param {string} id @returns {Promise<import('./router.js').Screen>} */
async function oneWaiver(stage, id) {
  const { phone } = stage;
  const waiver = await phone.row('waiver', id);
  if (!waiver) return { title: () => 'Waiver', back: BACK, narrow: true,
    body: () => html`<p>This waiver is not on this ${deviceWord()}.</p>` };
  const form = await new RecordForm(stage, 'waiver', `waiver:${id}`, { base: waiver })
    .start({ keep_until: waiver.keep_until });
  const save = async () => {
    const fields = form.ready();
    if (!fields) return;
    const { keep_until: day } = changesOf(form, { ...waiver, ...fields }, waiver);
    if (!day) { stage.say('Nothing was changed.'); return; }
    const undo = await savedWithUndo(stage, [{ kind: 'waiver', recordId: id, fields: { keep_until: day } }]);
    if (!undo) return;
    await form.drop();
    stage.say(`Saved on this ${deviceWord()}.`, undo);
    stage.go(BACK);
  };
  return {
    title: () => `Waiver ${named(waiver.version)}`, back: BACK, narrow: true,
    where: () => labelOf(phone, 'waiver', 'language', waiver.language, 'no language'),
    body: () => html`<div class="stack">${form.input('keep_until')}${section('Text', nothing, html`<p
      class="lines-of-text" lang=${waiver.language ?? nothing}>${named((waiver.paragraphs ?? []).join('\n\n'),
        'No text')}</p><p class="small">A text that people signed stays as it is. Other words are another
      version.</p>`)}</div>`,
    foot: () => html`<button type="button" class="do" @click=${save}>Save the day</button>`,
  };
}
