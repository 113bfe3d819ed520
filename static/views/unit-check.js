/**
 * One unit's check, short: last time, how it was found, height, tilt, damage, photo. Grades, position and the rest fold
 * up, and open by themselves where something is off.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, deviceWord } from './marks.js';
import { personName, standsWhere, unitTag } from './names.js';
import { keepPhoto, photoButtons, Photos } from './photo-box.js';
import { PositionForm } from './position-form.js';
import { RimTilt } from './rim-tilt.js';
import { inputsOf, labelOf } from './kind-forms.js';
import { changesOf, RecordForm } from './record-form.js';
import { followed } from './plan.js';
import { openFlags } from './open-flags.js';
import { readShore } from './shore.js';
import { surveyedOf } from './surveyed.js';
import { checkedWhen, checkWords, gradesOf, hasHeight, lastRead, MEASURED, placedMs, readUnits, saidBack,
  tellsMeasures, wasFound } from './unit-facts.js';
import { contradictions, Sure } from './sure.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { whyNoVisit } from './why-no-visit.js';
import { instant, msOf, nearDay, turnMs } from './words.js';

/** Which measures belong to which damage. */
const DAMAGE = [
  { name: 'crack', word: 'Crack', fields: ['crack_width_mm'] },
  { name: 'piece', word: 'Piece off', fields: ['chip_depth_mm', 'chip_across_mm', 'lost_volume_pct'] },
  { name: 'worn', word: 'Surface worn', fields: ['scaling_depth_mm'] },
];
const GRADED = ['body', 'stance', 'toe', 'cover'];

/** What is read now and then, in a fold of its own. */
const APART = ['scour_depth_mm', 'rocking', 'crest_level_mm', 'crest_datum', 'water_depth_m', 'note'];
/** From this grade on something is off. */
const OFF_GRADE = 2;
/** Flags that ask for a position. */
const OF_PLACE = ['displaced', 'not_found'];
const DAY_MS = 86_400_000;

/** @param {any} values @param {string} name */
const has = (values, name) => values?.[name] !== null && values?.[name] !== undefined;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new UnitCheck(stage, stage.params[0]);
  await screen.open();
  return screen;
}

class UnitCheck {
  /** @param {import('./router.js').Stage} stage @param {string} unitId */
  constructor(stage, unitId) {
    this.stage = stage;
    this.unitId = unitId;
    this.back = '#/units';
    this.photos = new Photos(stage.phone, stage);
    /** @type {Set<string>} */ this.shown = new Set();
    this.withPosition = false;
    /** "Seen" is not somebody's own word, and goes with what was measured. */ this.saysFound = false;
    /** It was said that this is a single look, where no visit runs. */ this.isSingle = false;
    /** When it was last placed or reset, ms: heights of before say nothing about now. */ this.since = 0;
    /** @type {any} the newest check before this one that measured */ this.last = null;
    /** @type {any[]} the checks before this one that measured, newest first */ this.earlier = [];
    /** Who wrote the last check. */ this.lastBy = '';
    /** @type {any[]} its positions */ this.fixes = [];
    /** @type {any} the check of this visit that is corrected here */ this.corrected = null;
    this.form = /** @type {RecordForm} */ (/** @type {unknown} */ (null));
    this.rim = /** @type {RimTilt} */ (/** @type {unknown} */ (null));
    this.sure = /** @type {Sure} */ (/** @type {unknown} */ (null));
    this.position = /** @type {PositionForm} */ (/** @type {unknown} */ (null));
  }

  async open() {
    const { stage, unitId } = this;
    const { phone } = stage;
    await this.refresh();
    const [marks, visits, fixes, events] = await Promise.all([
      phone.rows('control_mark', { siteId: phone.me.site_id }), phone.rows('visit', { siteId: phone.me.site_id }),
      phone.rowsOf('position_fix', { kind: 'unit', id: unitId }),
      phone.rowsOf('unit_event', { kind: 'unit', id: unitId }),
    ]);
    Object.assign(this, { since: placedMs(events), fixes });
    await this.openForm(this.known?.checkedNow ? this.known.last : null);
    const { unit, design } = this.known ?? {};
    const rows = { unit, design, site: this.shore?.site, marks, visits, fixes, events };
    const of = { id: unitId, visitId: this.shore?.visit?.record_id ?? null, ...surveyedOf(stage, rows) };
    this.position = await new PositionForm(stage, { kind: 'unit', ...of }).start();
    this.withPosition = !this.position.isEmpty
      || Boolean(this.known?.flags.some(({ rule }) => OF_PLACE.includes(rule)));
  }

  /**
   * A unit checked on this visit opens with that check, to be corrected.
   * @param {any} checked that check, or null for a new one
   */
  async openForm(checked) {
    const visitId = this.shore?.visit?.record_id;
    this.earlier = (this.known?.checks ?? [])
      .filter((check) => tellsMeasures(check) && !(checked && check.visit_id === visitId));
    this.last = this.earlier[0] ?? null;
    const writer = await this.stage.phone.row('person', this.known?.before?.created_by);
    this.lastBy = writer ? ` By ${personName(writer)}.` : '';
    const form = new RecordForm(this.stage, 'unit_check', `unit_check:${this.unitId}`, { last: this.last });
    form.datums.crest_datum = this.last?.crest_datum ?? null;
    this.form = await form.start(checked ?? {}, checked?.record_id);
    this.rim = new RimTilt(this.form);
    this.sure = new Sure(this.stage, this.form);
    this.isSingle ||= this.form.fromDraft;
    this.corrected = this.form.recordId === checked?.record_id ? checked : null;
    await this.photos.read([{ kind: 'unit_check', id: this.form.recordId }]);
    this.shown = new Set(DAMAGE.filter((damage) => damage.fields.some((name) => has(this.form.typed, name)))
      .map((damage) => damage.name));
  }

  /** A second check on the same visit, as after a unit was righted. */
  async anew() {
    await this.form.drop();
    await this.openForm(null);
    this.stage.redraw();
  }

  refresh = async () => {
    const { phone } = this.stage;
    this.shore = await readShore(phone);
    this.all = await readUnits(phone, this.shore.visit, openFlags(phone));
    this.known = this.all.find((facts) => facts.unit.record_id === this.unitId) ?? null;
    this.next = (await followed(this.stage, this.shore, this.all)).next(this.unitId);
  };

  title = () => (this.known ? unitTag(this.known.unit) : 'No such unit');
  where = () => (this.known
    ? `${standsWhere({ unit: this.known.unit, row: this.known.row })}${this.form?.fromDraft ? '. A form you left '
      + 'open.' : this.corrected ? '. Checked at '
      + `${checkedWhen(this.corrected, this.stage.phone.now(), this.stage.zone)}.` : ''}` : nothing);
  aside = () => this.stage.alarm.pill();

  close() {
    this.photos.close();
  }

  get found() {
    return wasFound(this.form.typed);
  }

  /** How it was found is never chosen beforehand; whoever measures a unit has found it. */
  sayFound() {
    const { typed } = this.form;
    const isMeasured = MEASURED.some((name) => has(typed, name)) || !(this.position?.isEmpty ?? true);
    if (isMeasured ? typed.found_state : !this.saysFound) return;
    this.saysFound = isMeasured;
    if (isMeasured || typed.found_state === 'seen') this.form.set('found_state', isMeasured ? 'seen' : null);
  }

  body = () => {
    if (!this.known) return html`<p>This unit is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    if (this.isAsked) return whyNoVisit(this.stage, this.known.last, () => this.lookOnce());
    const { form, known } = this;
    this.sayFound();
    const last = lastRead(this.earlier, this.since);
    const saidAgain = saidBack(form.possible(), last, known.design, this.shore?.site?.reading_repeat_mm);
    const mayMeasure = this.found || !form.typed.found_state;
    return html`<div class="cols even"><div class="stack">${this.lastTime()}
      ${form.input('found_state', { title: 'Found' })}
      ${mayMeasure ? this.measures() : nothing}
      ${saidAgain ? html`<div class="said-back" role="status"><b>${saidAgain.what}</b>
        <small>${saidAgain.means}</small></div>`
        : nothing}${this.photo()}</div>
      <div class="stack tight">${mayMeasure ? this.axes() : nothing}${this.place()}${this.rest(mayMeasure)}
        <a class="or" href="#/units/${this.unitId}">History of ${this.title()}</a></div></div>`;
  };

  lastTime() {
    const { phone, zone } = this.stage;
    const { before, design } = /** @type {import('./unit-facts.js').Known} */ (this.known);
    if (!before) return html`<p>Never checked before.</p>`;
    const stateWord = (/** @type {any} */ check) => labelOf(phone, 'unit_check', 'found_state', check.found_state,
      'Looked at');
    const words = checkWords(before, design, stateWord);
    return html`<p><b>Last time, ${nearDay(msOf(before.checked_at) ?? 0, phone.now(), zone)}</b><br><small>${
      words.slice(0, 1).toUpperCase()}${words.slice(1)}.${this.lastBy}</small></p>`;
  }

  /** Outside a visit it is asked first why. */
  get isAsked() { return !this.shore?.visit && !this.isSingle; }

  lookOnce() {
    this.isSingle = true;
    this.stage.redraw();
    queueMicrotask(() => document.getElementById('content')?.focus());
  }

  measures() {
    const { form, known } = this;
    const of = hasHeight(known?.design) ? ` of ${known?.design?.height_mm} mm` : '';
    const last = has(this.last, 'exposed_height_mm') ? `last ${this.last.exposed_height_mm}${of}` : of
      ? `whole height${of}` : 'no whole height on record';
    return html`${form.input('exposed_height_mm', { hint: last })}${form.input('tilt_deg')}${this.rim.draw()}
      ${form.typed.found_state === 'probed' ? form.input('probe_depth_mm') : nothing}${this.damage()}`;
  }

  /** What is measured now and then, and a note. @param {boolean} mayMeasure */
  rest(mayMeasure) {
    const { form } = this;
    const names = APART.filter((name) => mayMeasure || name === 'note');
    const filled = names.filter((name) => has(form.typed, name)).length;
    return html`<details ?open=${filled > 0}><summary><span class="said">${mayMeasure
      ? 'Toe, crest level, water, note' : 'Note'}<small>${filled ? `${filled} filled in` : 'nothing entered'}</small>
      </span></summary><div class="stack">${names.map((name) => form.input(name))}</div></details>`;
  }

  /** Where it stands: asked for where a flag asks, else folded. */
  place() {
    const { phone, zone } = this.stage;
    const newest = [...this.fixes].sort((one, other) => turnMs(other, other.fixed_at) - turnMs(one, one.fixed_at))[0];
    const when = newest ? nearDay(msOf(newest.fixed_at) ?? 0, phone.now(), zone) : '';
    const method = newest ? labelOf(phone, 'position_fix', 'method', newest.method).toLowerCase() : '';
    return html`<details ?open=${this.withPosition} @toggle=${(/** @type {any} */ event) => {
      if (event.target !== event.currentTarget || event.target.open === this.withPosition) return;
      this.withPosition = event.target.open;
      this.stage.redraw();
    }}><summary><span class="said">Position<small>${newest ? `last by ${method}, ${when}`
      : 'not measured yet'}</small></span></summary><div class="stack">${this.withPosition ? this.position?.draw()
      : nothing}</div></details>`;
  }

  damage() {
    const { form, shown, stage } = this;
    const none = () => {
      shown.clear();
      for (const name of DAMAGE.flatMap((damage) => damage.fields)) delete form.typed[name];
      form.set('body_grade', 0);
    };
    const toggle = (/** @type {typeof DAMAGE[number]} */ damage) => {
      if (shown.delete(damage.name)) for (const name of damage.fields) form.set(name, null);
      else shown.add(damage.name);
      if (form.typed.body_grade === 0) form.set('body_grade', null);
      stage.redraw();
    };
    return html`<fieldset><legend>Damage</legend><div class="choices by-two">
      <button type="button" class="or" aria-pressed=${String(!shown.size
        && form.typed.body_grade === 0)} @click=${none}>None</button>
      ${DAMAGE.map((damage) => html`<button type="button" class="or"
        aria-pressed=${String(shown.has(damage.name))}
          @click=${() => toggle(damage)}>${damage.word}</button>`)}</div></fieldset>
      ${DAMAGE.filter(({ name }) => shown.has(name)).flatMap(({ fields }) => fields).map((name) => form.input(name))}`;
  }

  /** The computed grade beside the observer's own. Place is only computed. */
  axes() {
    const { form, known } = this;
    const computed = gradesOf(form.possible(), known?.design,
      this.position && !this.position.isEmpty ? this.position.movement() : null, known?.flags);
    const inputs = inputsOf(this.stage.phone, 'unit_check');
    const worst = (/** @type {typeof computed[number]} */ axis) =>
      Math.max(axis.value ?? 0, form.typed[`${axis.name}_grade`] ?? 0);
    const off = computed.filter((axis) => worst(axis) >= OFF_GRADE);
    return html`<details ?open=${off.length > 0}><summary><span class="said">Grades, 0 to 4<small>${off.length
      ? off.map((axis) => `${axis.title.toLowerCase()} ${worst(axis)}`).join(', ')
      : 'from your measurements, and your own'}</small></span>
      </summary><div class="stack">${computed.map((axis) => {
      const name = `${axis.name}_grade`;
      return html`<div class="axis"><div class="said"><b>${axis.title}</b><span
        class="grade">${axis.value ?? '\u2013'}</span></div><small>${axis.reason}</small>
        ${GRADED.includes(axis.name) && inputs.has(name) ? choices({
          name, legend: `Your own grade for ${axis.title.toLowerCase()}`, hideLegend: true, shape: 'grades',
          value: form.typed[name],
          pick: (value) => form.set(name, value),
          choices: (inputs.get(name)?.choices ?? []).map((choice) =>
            ({ value: choice.value, label: choice.value, words: `${axis.title} ${choice.value}: ${choice.label}` })),
        }) : nothing}${form.asked.get(name) ?? nothing}</div>`;
    })}</div></details>`;
  }

  photo() {
    const take = async (/** @type {File} */ file) => {
      this.form.keep('photo');
      await keepPhoto(this.stage, this.photos, file,
        { of_kind: 'unit_check', of_id: this.form.recordId, shows: this.title(),
          visitId: this.shore?.visit?.record_id ?? null });
    };
    return html`${photoButtons(take)}${this.photos.draw((photo) => photo.shows ?? '')}`;
  }

  foot = () => {
    if (!this.known || this.isAsked) return nothing;
    if (this.corrected) {
      return html`<div class="two"><button type="button" class="or" @click=${() => this.anew()}>Check again</button>
        <button type="button" class="do" @click=${() => this.save()}>Save the correction</button></div>`;
    }
    const onTo = !this.shore?.visit ? '' : this.next ? `, go to ${unitTag(this.next.unit)}` : ', back to the list';
    return this.canLookUnchanged
      ? html`<button type="button" class="do" @click=${() => this.save({ looked_only: true })}>Looks
        unchanged${onTo}</button>`
      : html`<button type="button" class="do" @click=${() => this.save()}>Save${onTo}</button>`;
  };

  /**
   * Nothing is entered, it was seen last time, nothing is flagged, and it was measured lately: what is only felt with
   * the probe cannot look unchanged, and a look never takes the place of a measurement that is due.
   */
  get canLookUnchanged() {
    const { form, known } = this;
    const isUntouched = [undefined, 'seen'].includes(form.typed.found_state)
      && Object.keys(form.typed).every((name) => name === 'found_state') && !this.shown.size && this.rim.isEmpty;
    return isUntouched && Boolean(this.position?.isEmpty) && known?.last?.found_state === 'seen' && !known.flags.length
      && !this.isDue;
  }

  /** Whether a measurement is due: as often as the site asks for a check, and anew once a unit was placed. */
  get isDue() {
    const measured = msOf(this.last?.checked_at) ?? 0;
    const every = this.shore?.site?.check_every_days;
    return !measured || measured < this.since
      || (typeof every === 'number' && this.stage.phone.now() - measured >= every * DAY_MS);
  }

  /**
   * @param {{looked_only?: true}} [seen] a look is stored as a look: no measure of last time is written as if it were
   *   read again
   */
  async save(seen = {}) {
    const { stage, form, unitId } = this;
    if (stage.isSecondTap()) return;
    const { phone } = stage, { corrected } = this;
    const fault = this.found ? this.rim.read().sentence : null;
    if (fault) { stage.refuse(fault); return; }
    const fields = form.ready(corrected ? {} : { unit_id: unitId, checked_at: instant(phone.now()),
      ...(seen.looked_only ? { found_state: 'seen' } : {}), ...seen });
    const fixes = this.position.isEmpty ? [] : this.position.ready();
    if (!fields || !fixes) return;
    if (!this.found) for (const name of MEASURED) delete fields[name];
    if (!seen.looked_only && (!this.found || MEASURED.some((name) => has(fields, name)))) delete fields.looked_only;
    const list = contradictions(fields, this.known?.design, this.shore?.site?.reading_repeat_mm);
    if (!this.sure.isSure(list, () => this.save(seen))) return;
    const visitId = this.shore?.visit?.record_id ?? null;
    const written = corrected ? changesOf(form, fields, corrected) : fields;
    const writes = Object.keys(written).length
      ? [{ kind: 'unit_check', recordId: form.recordId, fields: written, visitId }] : [];
    for (const fix of fixes) writes.push({ kind: 'position_fix', ...fix, visitId });
    const next = visitId && !corrected ? this.next : null;
    const onTo = next ? `#/units/${next.unit.record_id}/check` : visitId ? '#/units' : `#/units/${unitId}`;
    const undo = writes.length ? await savedWithUndo(stage, onVisit(phone, this.shore?.visit ?? null, writes),
      next && { from: onTo, to: `#/units/${unitId}/check` }) : undefined;
    if (undo === null) return;
    stage.say(undo ? `${this.title()} saved on this ${deviceWord()}.` : 'Nothing was changed.', undo);
    await Promise.all([form.drop(), this.position?.drop()]);
    stage.go(onTo);
  }
}
