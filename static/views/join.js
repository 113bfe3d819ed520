/** Joining: the code, where to type it, and then who you are. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, doubt, fault, inDeviceWords, section } from './marks.js';
import { byName, personName } from './names.js';
import { RecordForm } from './record-form.js';
import { has, searchBox } from './search-box.js';

/** Letters and digits of a code, without the dash. @param {string} text */
const tidy = (text) => text.toUpperCase().replace(/[^A-Z0-9]/g, '').slice(0, 8);

/** @param {string} text shown as XXXX-XXXX */
const dashed = (text) => (text.length > 4 ? `${text.slice(0, 4)}-${text.slice(4)}` : text);

const isInstalled = () => matchMedia('(display-mode: standalone)').matches
  || /** @type {any} */ (navigator).standalone === true;

/** Where a browser tab and the installed app share no storage, joining in the tab would join the wrong one. */
const isApart = () => 'standalone' in navigator && !isInstalled();

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  return stage.phone.me ? whoAreYou(stage) : typeCode(stage);
}

/** @param {import('./router.js').Stage} stage @returns {import('./router.js').Screen} */
function typeCode(stage) {
  const { phone, params } = stage;
  let code = tidy(params[0] ?? '');
  let named = '';
  let problem = '';
  let busy = false;
  const join = async () => {
    if (code.length !== 8) {
      problem = 'A code has eight letters and digits, such as ABCD-EFGH.';
      stage.redraw();
      document.getElementById('code')?.focus();
      return;
    }
    busy = true;
    problem = '';
    stage.redraw();
    try {
      await phone.join(dashed(code), named.trim() || deviceName());
      stage.go('#/join');
    } catch (error) {
      const { sentence } = /** @type {{sentence?: string}} */ (error);
      if (!sentence) throw error;
      problem = inDeviceWords(sentence);
    }
    busy = false;
    stage.redraw();
  };
  const steps = html`<ol class="steps"><li>Install the app: open the browser's share menu and choose to add this page to
    the home screen.</li><li>Open Fieldlog from the home screen.</li><li>Type the code there: <b
    class="big-code">${code ? dashed(code) : 'from your lead'}</b></li></ol>`;
  return {
    title: () => 'Join a program', where: () => 'With the code from your lead', narrow: true,
    body: () => html`${isApart()
      ? html`${doubt(
        `On this ${deviceWord()} the browser and the installed app keep separate data. Install first, then join `
          + 'inside the app.')}${steps}` : nothing}
      <form id="joining" class="stack" @submit=${(/** @type {Event} */ event) => { event.preventDefault(); join(); }}>
        <div class="field ${problem ? 'wrong' : ''}"><label class="label-text"
          for="code">Code<small>eight letters and digits</small></label>
          <input class="line code" id="code" name="code" autocomplete="off" autocapitalize="characters"
            spellcheck="false" maxlength="9" aria-describedby="code-said" .value=${dashed(code)}
            @input=${(/** @type {any} */ event) => {
              code = tidy(event.target.value);
              event.target.value = dashed(code);
            }}><div id="code-said" role="alert">${problem ? fault(problem) : nothing}</div></div>
        <div class="field"><label class="label-text"
          for="device">A name for this ${deviceWord()}<small>so a lead can find it in the list; optional</small></label>
          <input class="line" id="device" name="device" autocomplete="off" maxlength="60"
            .value=${named} @input=${(/** @type {any} */ event) => { named = event.target.value; }}></div>
      </form>
      ${isInstalled() || isApart() ? nothing : section('Install it for the shore', nothing,
        html`<p class="row">Installed, the app opens without a network and the browser keeps its data. Choose
        \u201cInstall\u201d or \u201cAdd to home screen\u201d in the browser's menu; you can join before or
        after. In a private window everything is gone when you close it.</p>`)}`,
    foot: () => html`<button class=${isApart() ? 'or' : 'do'} form="joining"
      ?disabled=${busy}>${busy ? 'Joining' : isApart() ? 'Join in the browser anyway' : 'Join'}</button>`,
  };
}

/** What kind of phone it is, no more than the browser tells everyone. */
const deviceName = () => /** @type {any} */ (navigator).userAgentData?.platform
  || navigator.platform || `A ${deviceWord()}`;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
async function whoAreYou(stage) {
  const { phone } = stage;
  /** @type {any[]} */ let people = [];
  let searched = '';
  /** @type {RecordForm|null} */ let adding = null;
  const refresh = async () => {
    people = (await phone.rows('person', {})).sort((one, other) =>
      byName(personName(one), personName(other)));
  };
  await refresh();
  const chosen = async (/** @type {string} */ id) => {
    await phone.setPerson(id);
    stage.go('#/today');
  };
  const add = async () => {
    adding = await new RecordForm(stage, 'person',
      'person:me').start({ display_name: searched.trim() || null, role: phone.me.role === 'lead' ? 'leader' : 'student',
        minor: false });
    stage.redraw();
  };
  const save = async () => {
    const fields = adding?.ready();
    if (!adding || !fields) return;
    const id = adding.recordId;
    if (!(await stage.saving(() => phone.write('person', id, fields, {})))) return;
    await adding.drop();
    await chosen(id);
  };
  const leave = async () => {
    const left = adding;
    adding = null;
    await left?.drop();
    stage.redraw();
  };
  const list = () => {
    const matching = people.filter((person) => has([personName(person)], searched));
    return html`${searchBox({ label: 'Find your name', value: searched,
      take: (text) => { searched = text; stage.redraw(); } })}
      <div>${matching.map((person) => html`<button type="button" class="row"
        @click=${() => chosen(person.record_id)}><span
        class="said">${personName(person)}</span><span class="pill plain">that is me</span></button>`)}
      ${matching.length ? nothing : html`<p class="row">${people.length ? 'No such name.'
        : 'Nobody is on the roster yet.'} Add yourself.</p>`}</div>`;
  };
  const hasForms = () => Boolean(phone.pack()?.forms);
  return {
    title: () => 'Who are you?', where: () => phone.pack()?.programme?.name ?? 'Joined', narrow: true, refresh,
    body: () => (!hasForms() ? html`<p role="status">Joined. The roster and the site are coming; keep the app open.</p>`
      : adding ? html`${adding.input('display_name',
        { hint: 'Others see this name beside what you write.' })}${adding.input('role')}${adding.input('minor')}`
        : list()),
    foot: () => (!hasForms() ? html`<button type="button" class="do" @click=${() => phone.syncNow()}>Sync now</button>`
      : adding ? html`<button type="button" class="do" @click=${save}>That is me</button><button type="button"
        class="or" @click=${leave}>Back to the roster</button>`
        : html`<button type="button" class="or" @click=${add}>Add myself</button>`),
  };
}
