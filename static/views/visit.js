/** A visit: start it on a window, write what is seen while it runs, end it when everyone is back. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, doubt, mark, rowLink, section } from './marks.js';
import { byName, personName, siteName } from './names.js';
import { labelOf, RecordForm } from './record-form.js';
import { readShore, turnBack, whereFrom } from './shore.js';
import { clock, counted, day, instant, length, msOf } from './words.js';

const HOUR_MS = 3_600_000;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new Visit(stage);
  await screen.open();
  return screen;
}

class Visit {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.reason = '';
    this.asksReason = false;
    this.shore = /** @type {import('./shore.js').Shore} */ (/** @type {unknown} */ (null));
    /** @type {{value: string, label: string}[]} */ this.leaders = [];
    /** @type {import('./shore.js').Window[]} */ this.near = [];
    /** @type {Map<string, string>} */ this.names = new Map();
    /** @type {RecordForm|null} */ this.start = null;
    /** @type {RecordForm|null} */ this.running = null;
    /** @type {RecordForm|null} */ this.word = null;
    /** @type {string|null} */ this.runningId = null;
  }

  async open() {
    await this.refresh();
    const { phone } = this.stage;
    this.start = await new RecordForm(this.stage, 'visit', 'visit:start', { refs: { leader_id: this.leaders } })
      .start({ purpose: 'monitoring', leader_id: this.leaders.some((/** @type {any} */ one) => one.value === phone.me.person_id) ? phone.me.person_id : null, window_id: this.near[0]?.id ?? null });
    await this.openRunning();
  }

  async openRunning() {
    const { visit } = this.shore;
    this.running = visit ? await new RecordForm(this.stage, 'visit', `visit:${visit.record_id}`).start({ conditions: visit.conditions }) : null;
    this.runningId = visit?.record_id ?? null;
    await this.openWord();
  }

  async openWord() {
    const { visit, seenM } = this.shore;
    if (this.word || !visit || this.stage.phone.me.role !== 'lead' || seenM === null || seenM >= 0) return;
    this.word = await new RecordForm(this.stage, 'level_word', `level_word:${visit.record_id}`).start({});
  }

  refresh = async () => {
    const { phone } = this.stage;
    this.shore = await readShore(phone);
    const people = await phone.rows('person', { siteId: phone.me.site_id });
    this.leaders = people.filter((/** @type {any} */ one) => one.role === 'leader' || one.role === 'staff').map((/** @type {any} */ one) => ({ value: one.record_id, label: personName(one) })).sort((/** @type {any} */ one, /** @type {any} */ other) => byName(one.label, other.label));
    this.names = new Map(people.map((/** @type {any} */ one) => [one.record_id, personName(one)]));
    const now = phone.now();
    this.near = this.shore.windows.filter((one) => one.opensMs !== null && (one.closesMs ?? one.lowMs) > now - HOUR_MS && one.lowMs < now + 30 * HOUR_MS).slice(0, 3);
    await this.openWord();
    if (this.start && this.runningId !== (this.shore.visit?.record_id ?? null)) await this.openRunning();
  };

  title = () => 'Visit';
  where = () => (this.shore.visit ? `${labelOf(this.stage.phone, 'visit', 'purpose', this.shore.visit.purpose, 'Visit')} at ${siteName(this.shore.site)}` : siteName(this.shore.site));
  narrow = true;

  body = () => (this.shore.visit ? this.runningBody() : this.startBody());

  startBody() {
    const { zone } = this.stage;
    const form = /** @type {RecordForm} */ (this.start);
    const windows = this.near.map((one) => ({ value: one.id, label: `${day(one.lowMs, zone)}, ${clock(one.opensMs ?? one.lowMs, zone)} to ${one.closesMs ? clock(one.closesMs, zone) : 'no end'}` })).concat({ value: null, label: 'Outside every window' });
    const chosen = this.near.find((one) => one.id === form.typed.window_id);
    return html`<div class="stack">${form.input('purpose', { title: 'What is the visit for?' })}
      ${choices({ name: 'window_id', legend: 'Which low water?', shape: 'lines', choices: windows, value: form.typed.window_id ?? null, pick: (value) => form.set('window_id', value) })}
      ${chosen ? html`<p><b>${chosen.backMs ? `Turn back at ${clock(chosen.backMs, zone)}` : 'No turn-back time: the path stays dry, or never dries out'}</b>, low ${clock(chosen.lowMs, zone)} at ${length(chosen.lowM, this.stage.settings.feet)}.</p>
        ${chosen.cautions.filter(({ word }) => word !== 'predicted').map((one) => doubt(one.sentence))}` : doubt('Outside a predicted window the app knows no time to turn back. Agree one before anyone walks out.')}
      <div class="why">${whereFrom(this.shore, this.stage).map((line) => html`<p>${line}</p>`)}</div>
      ${form.input('leader_id', { title: 'Who leads?' })}</div>`;
  }

  runningBody() {
    const { zone, settings, phone } = this.stage;
    const { visit } = this.shore;
    const form = /** @type {RecordForm} */ (this.running);
    const back = turnBack(this.shore, phone.now());
    const read = visit.observed_at ? `last ${length(visit.observed_level_m, settings.feet)}, read at ${clock(msOf(visit.observed_at) ?? 0, zone)}` : 'read it at the staff or a mark of known level';
    return html`<dl class="pairs"><dt>Started</dt><dd>${clock(msOf(visit.started_at) ?? 0, zone)}</dd><dt>Leader</dt><dd>${this.names.get(visit.leader_id) ?? 'not named'}</dd>
        <dt>Turn back at</dt><dd>${back ? clock(back.atMs, zone) : 'no time known'}</dd><dt>People out</dt><dd>${this.shore.out.length}</dd></dl>
      <div class="why">${whereFrom(this.shore, this.stage).map((line) => html`<p>${line}</p>`)}</div>
      <section class="stack"><div class="bar"><h2>Water as you see it</h2></div>${form.input('observed_level_m', { title: 'Level now', hint: read })}
        <button type="button" class="or" @click=${() => this.saveLevel()}>Save the level</button><p class="small">Higher water than predicted brings the turn-back time forward at once. Lower water gives more time only if a lead allows it.</p>${this.leadsWord()}</section>
      <section class="stack"><div class="bar"><h2>Walk, as timed</h2></div>${form.input('walk_timed_min', { title: 'Far row to firm ground', hint: visit.walk_timed_min ? `last ${visit.walk_timed_min} min` : `${typeof this.shore.site.walk_out_min === 'number' ? `the site says ${this.shore.site.walk_out_min} min` : 'the site says no time yet'}; time the slowest person` })}
        <button type="button" class="or" @click=${() => this.saveWalk()}>Save the walk</button></section>
      <section class="stack"><div class="bar"><h2>Conditions</h2></div>${form.input('conditions', { title: 'Wind, waves, sight, ground' })}<button type="button" class="or" @click=${() => this.saveConditions()}>Save conditions</button></section>
      ${section('Briefing', visit.briefing_done ? 'given' : 'not yet', html`<p class="row">Tide and turn-back time; path out and back; who leads; signals; cold; whom to call.</p>
        <button type="button" class="or" aria-pressed=${String(Boolean(visit.briefing_done))} @click=${() => this.change({ briefing_done: !visit.briefing_done }, visit.briefing_done ? 'Briefing marked as not given.' : 'Briefing given.')}>${visit.briefing_done ? 'Briefing given' : 'The briefing was given'}</button>`)}
      ${section('Go on', nothing, html`${rowLink({ href: '#/turn-back', said: 'Turn-back clock', small: 'large, with sound' })}${rowLink({ href: '#/people', said: 'Sign people in and out' })}${rowLink({ href: '#/units', said: 'Check units' })}${rowLink({ href: '#/sighting', said: 'Note a sighting' })}`)}
      ${this.asksReason ? this.reasonForm() : nothing}`;
  }

  reasonForm() {
    return html`<section class="stack" id="still-out"><div class="notice stop" role="alert">${mark('stop')}<div class="said"><p>${counted(this.shore.out.length, 'person is', 'people are')} still out: ${this.shore.out.map((/** @type {any} */ one) => personName(one.person)).join(', ')}. Sign them out first.</p></div></div>
      <div class="field"><label class="label-text" for="why-end">Or give a reason</label><input class="line" id="why-end" .value=${this.reason} @input=${(/** @type {any} */ event) => { this.reason = event.target.value; }}></div>
      <div class="two"><a class="or" href="#/people">Sign out</a><button type="button" class="or" @click=${() => this.endAllTheSame()}>End anyway</button></div></section>`;
  }

  foot = () => {
    if (this.stage.phone.me.role === 'reader' || this.stage.phone.me.role === 'desk') return nothing;
    return this.shore.visit
      ? html`<button type="button" class="do" @click=${() => this.end()}>End the visit</button>`
      : html`<button type="button" class="do" @click=${() => this.begin()}>Start the visit</button>`;
  };

  async begin() {
    const { stage } = this;
    const { phone } = stage;
    const form = /** @type {RecordForm} */ (this.start);
    const fields = form.ready({ started_at: instant(phone.now()) });
    if (!fields) return;
    const windowId = fields.window_id ?? null;
    const recordId = windowId ? await phone.visitId(phone.me.site_id, windowId) : form.recordId;
    if (!(await stage.saving(() => phone.write('visit', recordId, fields, { visitId: recordId })))) return;
    await form.drop();
    stage.say('Visit started.');
    stage.go('#/people');
  }

  /** @param {Record<string, any>} fields @param {string} said */
  async change(fields, said) {
    const { visit } = this.shore;
    const saved = await this.stage.saving(() => this.stage.phone.write('visit', visit.record_id, fields, { visitId: visit.record_id }));
    if (saved) this.stage.say(said);
    return saved;
  }

  /** A lead's word that lower water may count; asked only where the water was read lower, and never more than was read. */
  leadsWord() {
    const { phone, settings } = this.stage;
    const { seenM, allowsM } = this.shore;
    if (phone.me.role !== 'lead' || seenM === null || seenM >= 0) return nothing;
    const form = /** @type {RecordForm} */ (this.word);
    return html`<div class="tight"><p>The water was read ${length(-seenM, settings.feet)} lower than predicted. ${allowsM ? `${length(allowsM, settings.feet)} of it may count, on a lead's word.` : 'It gives no extra time unless you allow it.'}</p>
      ${form.input('allows_m')}${form.input('reason', { title: 'Why' })}<button type="button" class="or" @click=${() => this.saveWord()}>Let lower water count</button></div>`;
  }

  async saveWord() {
    const { phone } = this.stage;
    const fields = /** @type {RecordForm} */ (this.word).ready({ of_visit_id: this.shore.visit.record_id, said_at: instant(phone.now()) });
    if (!fields) return;
    if (!(await this.stage.saving(() => phone.write('level_word', null, fields, { visitId: this.shore.visit.record_id })))) return;
    await this.word?.drop();
    this.word = null;
    this.stage.say('Extra time is on. Read the level again in 15 minutes.');
  }

  async saveWalk() {
    const form = /** @type {RecordForm} */ (this.running);
    const { fields, faults } = form.read();
    const wrong = faults.find((one) => one.field === 'walk_timed_min');
    if (wrong?.hard || fields.walk_timed_min === undefined) { this.stage.say(wrong?.sentence ?? 'Type the minutes first.'); return; }
    if (await this.change({ walk_timed_min: fields.walk_timed_min }, 'Walk saved; the turn-back time follows it.')) form.set('walk_timed_min', '');
  }

  async saveLevel() {
    const form = /** @type {RecordForm} */ (this.running);
    const { fields, faults } = form.read();
    const wrong = faults.find((one) => one.field === 'observed_level_m');
    if (wrong || fields.observed_level_m === undefined) { this.stage.say(wrong?.sentence ?? 'Type the level first.'); return; }
    if (await this.change({ observed_level_m: fields.observed_level_m, level_datum: fields.level_datum, observed_at: instant(this.stage.phone.now()) }, 'Level saved; the turn-back time follows it.')) form.set('observed_level_m', '');
  }

  async saveConditions() {
    const { fields } = /** @type {RecordForm} */ (this.running).read();
    await this.change({ conditions: fields.conditions ?? null }, 'Conditions saved.');
  }

  async end() {
    if (this.shore.out.length) {
      this.asksReason = true;
      this.stage.redraw();
      queueMicrotask(() => document.getElementById('still-out')?.scrollIntoView({ block: 'center' }));
      return;
    }
    await this.finish([]);
  }

  async endAllTheSame() {
    const reason = this.reason.trim();
    if (!reason) { this.stage.say('Write a reason first: who stays out, and who knows.'); return; }
    await this.finish(this.shore.out.map(({ signIn }) => ({ kind: 'sign_in', recordId: signIn.record_id, fields: { no_out_reason: reason }, visitId: signIn.visit_id })));
  }

  /** @param {any[]} closings sign-ins closed with a reason, in the same transaction */
  async finish(closings) {
    const { phone } = this.stage;
    const { visit } = this.shore;
    const ended = { kind: 'visit', recordId: visit.record_id, fields: { ended_at: instant(phone.now()) }, visitId: visit.record_id };
    if (!(await this.stage.saving(() => phone.writeMany([...closings, ended])))) return;
    await this.running?.drop();
    this.asksReason = false;
    this.stage.say('Visit ended.');
    this.stage.go('#/phone');
  }
}
