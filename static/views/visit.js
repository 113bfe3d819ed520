/** A visit: start it on a window, write what is seen while it runs, end it when everyone is back. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { meansWords } from './alarm.js';
import { floodedWords } from './floods.js';
import { LeadsWord } from './leads-word.js';
import { leftNotice, leftOpenWords } from './left-out.js';
import { choices, deviceWord, doubt, rowLink, section } from './marks.js';
import { byName, personName, siteName } from './names.js';
import { labelOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { lowToStart, lowWords, readShore, rowLevels, turnBack, waterNow, whereFrom,
  whyBack } from './shore.js';
import { savedWithUndo } from './undo.js';
import { endForm, startTakenBack, summaryOf } from './visit-end.js';
import { endedOf, endings, endOf, ownPart, partBegins, partsOf, readVisits } from './visits.js';
import { clock, clockOf, instant, length, msOf } from './words.js';
import { readWrittenOn, writtenOn } from './written-on.js';

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
    /** @type {import('./visit-end.js').Summary|null} asked whether to end */ this.ending = null;
    /** @type {any[]} */ this.visits = [];
    /** @type {any[]} the phones' parts of visits */ this.parts = [];
    /** @type {any[]} visits of this tide that ended */ this.ended = [];
    this.shore = /** @type {import('./shore.js').Shore} */ (/** @type {unknown} */ (null));
    /** @type {{value: string, label: string}[]} */ this.leaders = [];
    /** @type {import('./shore.js').Window[]} */ this.near = [];
    /** @type {{name: string, bedM: number}[]} */ this.rows = [];
    /** @type {Map<string, string>} */ this.names = new Map();
    /** @type {RecordForm|null} */ this.start = null;
    /** @type {RecordForm|null} */ this.running = null;
    this.word = new LeadsWord(stage);
    /** @type {string|null} */ this.runningId = null;
    /** @type {import('./written-on.js').Written[]} */ this.written = [];
  }

  async open() {
    await this.refresh();
    const { phone } = this.stage;
    this.start = await new RecordForm(this.stage, 'visit', 'visit:start', { refs: { leader_id: this.leaders } })
      .start({ purpose: 'monitoring',
        leader_id: this.leaders.some((leader) => leader.value === phone.me.person_id) ? phone.me.person_id
        : null, window_id: lowToStart(this.near, phone.now())?.id ?? null });
    await this.openRunning();
  }

  async openRunning() {
    const { visit } = this.shore;
    this.running = visit ? await new RecordForm(this.stage, 'visit',
      `visit:${visit.record_id}`).start({ conditions: visit.conditions }) : null;
    this.runningId = visit?.record_id ?? null;
    await this.word.open(this.shore);
  }

  refresh = async () => {
    const { phone } = this.stage;
    const [shore, known, rows] = await Promise.all([readShore(phone), readVisits(phone), rowLevels(phone)]);
    Object.assign(this, { shore, ...known, rows });
    this.ended = endedOf(phone, this);
    const people = await phone.rows('person', { siteId: phone.me.site_id });
    this.leaders = people.filter((person) => person.role === 'leader' || person.role === 'staff')
      .map((person) => ({ value: person.record_id, label: personName(person) }))
      .sort((one, other) => byName(one.label, other.label));
    this.names = new Map(people.map((person) => [person.record_id, personName(person)]));
    const now = phone.now();
    this.near = this.shore.windows.filter((window) => window.opensMs !== null
      && (window.closesMs ?? window.lowMs) > now - HOUR_MS
      && window.lowMs < now + 30 * HOUR_MS).slice(0, 3);
    this.written = shore.visit ? await readWrittenOn(this.stage, shore.visit, this.visits) : [];
    await this.word.open(this.shore);
    if (this.start && this.runningId !== (this.shore.visit?.record_id ?? null)) await this.openRunning();
  };

  title = () => 'Visit';
  where = () => (this.shore.visit
    ? `${labelOf(this.stage.phone, 'visit', 'purpose', this.shore.visit.purpose, 'Visit')} at `
      + `${siteName(this.shore.site)}` : siteName(this.shore.site));
  narrow = true;

  // While what is read of a visit comes, a redraw finds its form not there yet.
  body = () => (!this.shore.visit ? this.startBody() : this.running ? this.runningBody() : nothing);

  startBody() {
    const { zone } = this.stage;
    const form = /** @type {RecordForm} */ (this.start);
    const windows = this.near.map((window) => ({ value: window.id, label: lowWords(window, zone) }))
      .concat({ value: null, label: 'Not on a low tide' });
    const chosen = this.near.find((window) => window.id === form.typed.window_id);
    const nowMs = this.stage.phone.now();
    // What the clock will say of it once it is started.
    const begun = /** @type {import('./shore.js').Visit} */ ({ window_id: chosen?.id, started_at: instant(nowMs) });
    const back = chosen ? turnBack({ ...this.shore, party: [], visit: begun }, nowMs) : null;
    return html`<div class="stack">${leftNotice(this.shore.left)}${form.input('purpose',
      { title: 'What is the visit for?' })}
      ${choices({ name: 'window_id', legend: 'Which low tide?', shape: 'lines', choices: windows,
        value: form.typed.window_id ?? null, pick: (value) => form.set('window_id', value) })}
      ${chosen ? html`<p><b>${back === null ? 'No turn-back time is known'
        : `Turn back by ${clock(back.atMs, zone)}`}</b>${back?.reason ? `: ${back.reason}`
          : nothing}. Low ${clock(chosen.lowMs, zone)} at ${length(chosen.lowM, this.stage.settings.feet)}.</p>
        ${chosen.cautions.filter(({ word }) => word !== 'predicted').map((caution) => doubt(caution.sentence))}`
          : doubt('Without a predicted low tide the app knows no turn-back time. Agree on one before anyone goes '
            + 'out.')}
      <div class="why">${whereFrom(this.shore, this.stage).map((line) => html`<p>${line}</p>`)}</div>
      ${this.endedRows()}${form.input('leader_id',
        { title: 'Who leads?' })}${rowLink({ href: '#/visits', said: 'Past visits' })}</div>`;
  }

  /** The ended visit of the low that is chosen: it is gone on with, never begun a second time. */
  get again() {
    const windowId = this.start?.typed.window_id;
    return windowId ? this.ended.find((visit) => visit.window_id === windowId) ?? null : null;
  }

  endedRows() {
    const { phone, zone } = this.stage;
    if (!this.ended.length || !this.mayWrite) return nothing;
    return section('Ended', nothing, this.ended.map((visit) => html`<div class="row"><span
      class="said">${labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit')}<small>${visit.time_known === false
        ? clockOf(visit, 0, zone) : `${clock(msOf(visit.started_at) ?? 0, zone)} to ${
          clock(endOf(visit, this.visits, this.parts), zone)}`}</small></span>
      <button type="button" class="pill plain tap" @click=${() => this.goOn(visit)}>Continue it</button></div>`));
  }

  get mayWrite() { return this.stage.phone.me.role === 'crew' || this.stage.phone.me.role === 'lead'; }

  /** The visit that runs: what hangs on it is offered while one does. */
  get visit() { return /** @type {import('./shore.js').Visit} */ (this.shore.visit); }

  /** The phones that are on the running visit. */
  get openParts() { return partsOf(this.visit, this.visits, this.parts).filter((part) => !part.until_at); }

  /** Who leads on the running visit, each phone's leader; on one begun by an app of before the visit's own. */
  leaderNames() {
    const parts = partsOf(this.visit, this.visits, this.parts);
    const ids = [...new Set([...parts.map((part) => part.leader_id), this.visit.leader_id])];
    return ids.flatMap((id) => (id ? [this.names.get(id) ?? `not on this ${deviceWord()} yet`] : [])).join(', ')
      || 'not named';
  }

  runningBody() {
    const { zone, settings, phone } = this.stage;
    const { visit } = this;
    const form = /** @type {RecordForm} */ (this.running);
    const walkOutMin = this.shore.site?.walk_out_min;
    const back = turnBack(this.shore, phone.now());
    const flooded = floodedWords(this.shore, this.rows, phone.now(), zone);
    const heads = [this.shore.party.length, leftOpenWords(this.shore.left, phone.now(), zone)].filter(String)
      .join(', not counted: ');
    const read = visit.observed_at
      ? `last ${length(visit.observed_level_m, settings.feet)}, read at ${clock(msOf(visit.observed_at) ?? 0, zone)}`
      : 'read it at the staff or a mark of known level';
    return html`<dl class="pairs"><dt>Started</dt><dd>${clock(msOf(visit.started_at) ?? 0, zone)}</dd><dt>Leader</dt>
      <dd>${this.leaderNames()}</dd>
        <dt>Turn back by</dt><dd>${back ? clock(back.atMs, zone) : 'no time known'}</dd><dt>Water</dt>
          <dd>${waterNow(this.shore, phone.now(), this.stage).sentence}</dd>
        ${flooded ? html`<dt>Under water</dt><dd>${flooded}</dd>` : nothing}
        <dt>People out</dt><dd>${heads}</dd></dl>
      <div class="why">${(back ? whyBack(back, this.shore, this.stage) : []).concat(whereFrom(this.shore, this.stage))
        .map((line) => html`<p>${line}</p>`)}</div>
      <section class="stack"><div class="bar"><h2>Water as you see it</h2>
        </div>${form.input('observed_level_m', { title: 'Level now', hint: read })}
        <button type="button" class="or" @click=${() => this.saveLevel()}>Save the level</button><p
          class="small">Higher water than predicted brings the turn-back time forward at once. Lower water gives more
          time only if a lead allows it.</p>${this.word.draw(this.shore)}</section>
      <section class="stack"><div class="bar"><h2>Walk, as timed</h2>
        </div>${form.input('walk_timed_min', { title: 'Far row to firm ground',
          hint: visit.walk_timed_min ? `last ${visit.walk_timed_min} min`
          : `${typeof walkOutMin === 'number' ? `the site says ${walkOutMin} min` : 'the site says no time yet'}; time `
            + 'the slowest person' })}
        <button type="button" class="or" @click=${() => this.saveWalk()}>Save the walk</button></section>
      <section class="stack"><div class="bar"><h2>Conditions</h2>
        </div>${form.input('conditions', { title: 'Wind, waves, rain, sight, ground',
          hint: 'as they are now' })}<button type="button" class="or"
            @click=${() => this.saveConditions()}>Save conditions</button></section>
      ${section('Briefing', visit.briefing_done ? 'given' : 'not yet',
        html`<p class="row">Tide and turn-back time; path out and back; who leads; signals; cold; whom to call.</p>
        <button type="button" class="or" aria-pressed=${String(Boolean(visit.briefing_done))} @click=${() =>
          this.change({ briefing_done: !visit.briefing_done },
            visit.briefing_done ? 'Briefing marked as not given.' : 'Briefing given.')}>${visit.briefing_done
            ? 'Briefing given' : 'The briefing was given'}</button>`)}
      ${section('Go on', nothing,
        html`${rowLink({ href: '#/turn-back', said: 'Turn-back clock',
          small: `large; alarm: ${meansWords()}` })}${rowLink({ href: '#/people',
          said: 'Sign people in and out' })}${rowLink({ href: '#/units',
          said: 'Check units' })}${rowLink({ href: '#/sighting', said: 'Note a sighting' })}`)}
      ${writtenOn(this.stage, visit, this.written)}
      ${this.ending ? this.endForm(this.ending) : nothing}`;
  }

  /**
   * Who must be signed out before this phone leaves: everyone, or those it signed in itself where other phones stay.
   */
  stillOut() {
    const { party } = this.shore;
    return this.others().length ? party.filter(({ signIn }) => signIn.entry_state !== undefined) : party;
  }

  /** The parts of other phones that stay. */
  others() {
    return this.openParts.filter((part) => part.device !== this.stage.phone.me.device_id);
  }

  /** @param {import('./visit-end.js').Summary} summary */
  endForm(summary) {
    const of = {
      summary, out: this.shore.party.length, still: this.stillOut(), others: this.others(), names: this.names,
      isLead: this.stage.phone.me.role === 'lead', reason: this.reason,
    };
    return endForm(of, {
      type: (text) => { this.reason = text; }, end: (forAll) => this.end(forAll),
      cancel: () => { this.ending = null; this.stage.redraw(); },
    });
  }

  foot = () => {
    if (!this.mayWrite) return nothing;
    const { visit } = this.shore;
    if (!visit) {
      return this.again ? html`<button type="button" class="do"
        @click=${() => this.goOn(this.again)}>Continue it</button>`
        : html`<button type="button" class="do" @click=${() => this.begin()}>Start the visit</button>`;
    }
    const left = ownPart(this.stage.phone, visit.record_id, this.parts)?.until_at;
    return left ? html`<button type="button" class="do" @click=${() => this.goOn(visit)}>Continue it</button>`
      : html`<button type="button" class="do" @click=${() => this.askEnd()}>End the visit</button>`;
  };

  async begin() {
    const { stage } = this;
    const { phone } = stage;
    const form = /** @type {RecordForm} */ (this.start);
    const fields = form.ready({ started_at: instant(phone.now()) });
    if (!fields) return;
    stage.alarm.ringer.unlock();
    const { leader_id: leaderId = null, ...ownFields } = fields;
    const windowId = fields.window_id ?? null;
    const recordId = windowId ? await phone.visitId(phone.me.site_id, windowId) : form.recordId;
    const stands = await phone.row('visit', recordId);
    if (stands) {
      // Another phone's start came meanwhile, or it ended: a start never overwrites a start.
      await this.goOn(stands, leaderId);
      return;
    }
    const begun = [{ kind: 'visit', recordId, fields: ownFields, visitId: recordId },
      ...partBegins(phone, recordId, this.parts, leaderId)];
    /** @type {{recordId: string}[]} */ let written = [];
    if (!(await stage.saving(async () => { written = await phone.writeMany(begun); }))) return;
    stage.alarm.arm(recordId, phone.me.site_id);
    await form.drop();
    stage.say('Visit started.', () => startTakenBack(stage, recordId, written[1]?.recordId));
    stage.go('#/people');
  }

  /** @param {any} visit that ended, or that others are on @param {string|null} [leaderId] */
  async goOn(visit, leaderId = null) {
    const { stage } = this;
    stage.alarm.ringer.unlock();
    const reopened = visit.ended_at ? [{ kind: 'visit', recordId: visit.record_id, fields: { ended_at: null },
      visitId: visit.record_id }] : [];
    const changes = [...reopened, ...partBegins(stage.phone, visit.record_id, this.parts, leaderId)];
    const undo = changes.length ? await savedWithUndo(stage, changes) : undefined;
    if (undo === null) return;
    stage.alarm.arm(visit.record_id, stage.phone.me.site_id);
    await this.start?.drop();
    const isNew = changes.some((change) => change.kind === 'visit_part' && change.recordId === null);
    stage.say('Visit continued.', isNew ? undefined : undo);
    stage.go('#/people');
  }

  /** @param {Record<string, any>} fields @param {string} sentence */
  async change(fields, sentence) {
    const { visit } = this;
    const id = visit.record_id;
    const undo = await savedWithUndo(this.stage, [{ kind: 'visit', recordId: id, fields, visitId: id }]);
    if (undo) this.stage.say(sentence, undo);
    return Boolean(undo);
  }

  async saveWalk() {
    const form = /** @type {RecordForm} */ (this.running);
    const { fields, faults } = form.read();
    const wrong = faults.find((fault) => fault.field === 'walk_timed_min');
    if (wrong?.hard || fields.walk_timed_min === undefined) {
      this.stage.refuse(wrong?.sentence ?? 'Type the minutes first.');
      return;
    }
    if (await this.change({ walk_timed_min: fields.walk_timed_min }, 'Walk saved; the turn-back time follows it.'))
      form.set('walk_timed_min', '');
  }

  async saveLevel() {
    const form = /** @type {RecordForm} */ (this.running);
    const { fields, faults } = form.read();
    const wrong = faults.find((fault) => fault.field === 'observed_level_m');
    if (wrong || fields.observed_level_m === undefined) {
      this.stage.refuse(wrong?.sentence ?? 'Type the level first.');
      return;
    }
    if (await this.change({ observed_level_m: fields.observed_level_m, level_datum: fields.level_datum,
      observed_at: instant(this.stage.phone.now()) }, 'Level saved; the turn-back time follows it.'))
      form.set('observed_level_m', '');
  }

  async saveConditions() {
    const { fields } = /** @type {RecordForm} */ (this.running).read();
    await this.change({ conditions: fields.conditions ?? null }, 'Conditions saved.');
  }

  async askEnd() {
    this.ending = await summaryOf(this.stage.phone, this.visit, this.visits);
    this.stage.redraw();
    queueMicrotask(() => {
      document.getElementById('ending')?.focus({ preventScroll: true });
      document.getElementById('ending')?.scrollIntoView({ block: 'center' });
    });
  }

  /** @param {boolean} forAll a lead's word, which ends it for every phone */
  async end(forAll) {
    const { phone } = this.stage;
    const { visit } = this;
    const still = forAll ? this.shore.party : this.stillOut();
    const reason = this.reason.trim();
    if (still.length && !reason) { this.stage.refuse('Write a reason first: who stays out, and who knows.'); return; }
    const closings = still.map(({ signIn }) =>
      ({ kind: 'sign_in', recordId: signIn.record_id, fields: { no_out_reason: reason }, visitId: signIn.visit_id }));
    const others = this.others();
    const ending = this.openParts.filter((part) => forAll || !others.includes(part));
    const undo = await savedWithUndo(this.stage, [...closings, ...endings(phone, visit, ending)]);
    if (!undo) return;
    await this.running?.drop();
    this.ending = null;
    this.stage.say(others.length && !forAll ? `Ended on this ${deviceWord()}. The visit continues with the others.`
      : 'Visit ended.', async () => { if (await undo()) this.stage.alarm.arm(visit.record_id, phone.me.site_id); });
    this.stage.go('#/phone');
  }
}
