/**
 * One short form in a volunteer's own hands: nothing but it is on the screen, and no way leads from it but the desk's.
 * It is kept while it is typed, so a device that dies goes on with it.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import * as english from '../languages/en.js';
import * as spanish from '../languages/es.js';
import { lackingOf, waiverInUse } from '../records/waivers.js';
import { HandBack } from './hand-back.js';
import { inputsOf } from './kind-forms.js';
import { choices, fault } from './marks.js';
import { SignaturePad } from './signature-pad.js';
import { keepForm, takeBack, waitingForm } from './walk-ups.js';

/** @type {Record<string, typeof english|typeof spanish>} */
export const LANGUAGES = { en: english, es: spanish };
/** @typedef {keyof import('./walk-ups.js').KeptWalkUp} Field */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new WalkUpScreen(stage);
  await screen.open();
  return screen;
}

/** Of which kind a field of the form becomes part. @type {Record<string, string>} */
const KIND_OF = { display_name: 'person', medical_note: 'sign_in_private', signed_name: 'waiver_signed' };

class WalkUpScreen {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.alone = true;
    this.narrow = true;
    /** @type {import('./walk-ups.js').KeptWalkUp} */ this.form = { _id: '', _begun_ms: 0 };
    /** @type {import('../records/waivers.js').InUse|null} */ this.inUse = null;
    /** @type {any} */ this.site = null;
    this.isTried = false;
    this.isGone = false;
    this.handBack = new HandBack(stage, () => this.words, () => takeBack(stage));
    this.pad = new SignaturePad((signature) => this.set('signature', signature));
  }

  async open() {
    const { phone } = this.stage;
    const id = phone.me.handed_over?.draft ?? '';
    const form = await waitingForm(phone, id);
    this.isGone = !form;
    if (form) this.form = { ...form };
    await this.refresh();
    // What somebody signed is the text that they read: another version is signed again.
    if (this.form.waiver_version && this.form.waiver_version !== this.inUse?.version) this.unsign();
    this.pad.start(this.form.signature);
  }

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [waivers, site] = await Promise.all([phone.rows('waiver', { siteId }), phone.row('site', siteId)]);
    Object.assign(this, { site, inUse: waiverInUse(waivers, phone.now()) });
  };

  get language() { return this.form.language === 'es' && this.site?.spanish_form ? 'es' : 'en'; }
  get words() { return LANGUAGES[this.language].words; }
  title = () => this.words.title;

  /** The institution's text, in the language of the form where it has one. */
  get waiver() { return this.inUse?.texts.get(this.language) ?? [...this.inUse?.texts.values() ?? []][0] ?? null; }

  /** @param {Field} name @param {any} value */
  set(name, value) {
    if (value === '' || value === null) delete this.form[name];
    else Object.assign(this.form, { [name]: value });
    keepForm(this.stage.phone, this.form);
    this.stage.redraw();
  }

  get lacking() { return lackingOf(this.form, Boolean(this.waiver)); }

  unsign() {
    for (const name of /** @type {Field[]} */ (['signed_name', 'signature', 'by_name_only', 'waiver_id',
      'waiver_version'])) delete this.form[name];
  }

  /** @param {string} name */
  saidOf(name) {
    const lack = this.isTried ? this.lacking.find(({ field }) => field === name) : undefined;
    return lack ? fault(/** @type {any} */ (this.words)[lack.key]) : nothing;
  }

  /** No name that a browser fills in by itself. @param {Field} name @param {string} label @param {string} [hint] */
  line(name, label, hint = '') {
    const id = `w-${name}`;
    const letters = inputsOf(this.stage.phone, KIND_OF[name] ?? 'person_private').get(name)?.letters ?? 80;
    const take = (/** @type {any} */ event) => this.set(name, event.target.value);
    const lack = this.saidOf(name);
    const shared = { value: String(this.form[name] ?? ''), invalid: lack === nothing ? nothing : 'true' };
    return html`<div class="field ${lack === nothing ? '' : 'wrong'}"><label class="label-text"
      for=${id}>${label}<small>${hint}</small></label>${name === 'medical_note'
        ? html`<textarea class="line" id=${id} maxlength=${letters} autocomplete="off" spellcheck="false"
          .value=${shared.value} @input=${take}></textarea>`
        : html`<input class="line" id=${id} maxlength=${letters} autocomplete="off" autocorrect="off"
          spellcheck="false" inputmode=${name.endsWith('phone') ? 'tel' : 'text'} aria-invalid=${shared.invalid}
          aria-describedby="${id}-said" .value=${shared.value} @input=${take}>`}
      <div id="${id}-said">${lack}</div></div>`;
  }

  /** @param {'minor'|'photos_allowed'} name @param {string} legend @param {string} [hint] */
  yesNo(name, legend, hint = '') {
    const { words } = this;
    return html`<div class="field">${choices({ name: `w-${name}`, legend, value: this.form[name],
      pick: (value) => this.set(name, value), wrong: this.saidOf(name) !== nothing, saidBy: `w-${name}-said`,
      choices: [{ value: true, label: words.yes }, { value: false, label: words.no }] })}
      ${hint ? html`<small>${hint}</small>` : nothing}<div id="w-${name}-said">${this.saidOf(name)}</div></div>`;
  }

  languageSwitch() {
    if (!this.site?.spanish_form) return nothing;
    return choices({ name: 'w-language', legend: this.words.language, hideLegend: true, value: this.language,
      pick: (value) => this.set('language', value),
      choices: Object.entries(LANGUAGES).map(([value, { name }]) => ({ value, label: name })) });
  }

  waiverPart() {
    const { words, waiver, form } = this;
    if (!waiver) return html`<p>${words.noWaiver}</p>`;
    return html`<section class="stack"><div class="bar"><h2>${words.waiverTitle}</h2><span>${words.waiverVersion}
      ${waiver.version}</span></div>${waiver.language === this.language ? nothing : html`<p
        class="small">${words.otherLanguage}</p>`}
      <div class="paper lines-of-text" tabindex="0" role="region" aria-label=${words.waiverTitle}
        lang=${waiver.language}>${(waiver.paragraphs ?? []).join('\n\n')}</div>
      ${this.line('signed_name', form.minor ? words.signedNameGuardian : words.signedName)}
      ${form.by_name_only ? nothing : html`<div class="field"><p class="label-text">${words.draw}</p>${
        this.pad.draw(words.draw)}<p class="small" role="status">${form.signature?.length ? words.drawn
          : words.notDrawn}</p>${form.signature?.length ? html`<button type="button" class="or"
          @click=${() => this.pad.clear()}>${words.clear}</button>` : nothing}${this.saidOf('signature')}</div>`}
      <button type="button" class="or" aria-pressed=${String(form.by_name_only === true)}
        @click=${() => this.set('by_name_only', form.by_name_only ? null : true)}>${words.byNameOnly}</button>
      ${this.yesNo('photos_allowed', words.photos, words.photosHint)}</section>`;
  }

  briefing() {
    const { words, site } = this;
    const own = this.language === 'es' ? site?.emergency_card_es : site?.emergency_card;
    const card = own ?? site?.emergency_card ?? site?.emergency_card_es;
    return html`<section><div class="bar"><h2>${words.briefingTitle}</h2></div><ul class="steps">${
      words.briefing.map((line) => html`<li>${line}</li>`)}</ul></section>
      <section><div class="bar"><h2>${words.cardTitle}</h2></div><p class="lines-of-text">${card
        ?? words.noCard}</p>${card && !own ? html`<p class="small">${words.otherCard}</p>` : nothing}</section>`;
  }

  body = () => {
    const { words, form } = this;
    if (this.isGone || form.is_done) return html`<div class="stack" lang=${this.language}><p
      class="thanks">${words.thanks}</p><p>${words.giveBack}</p></div>`;
    return html`<div class="stack" lang=${this.language}>${this.languageSwitch()}<p>${words.intro}</p>
      ${this.line('display_name', words.name, words.nameHint)}${this.yesNo('minor', words.minor)}
      ${form.minor ? html`<section class="stack"><div class="bar"><h2>${words.guardianTitle}</h2></div><p>${
        words.guardianWhy}</p>${this.line('guardian_name', words.guardianName)}${
        this.line('guardian_phone', words.guardianPhone)}</section>` : nothing}
      ${this.line('phone', words.phone)}${this.line('emergency_name', words.emergencyName)}
      ${this.line('emergency_phone', words.emergencyPhone)}${
        this.line('medical_note', words.medical, words.medicalHint)}${this.waiverPart()}${this.briefing()}</div>`;
  };

  foot = () => html`<div class="stack" lang=${this.language}>${this.isGone || this.form.is_done ? nothing
    : html`<button type="button" class="do" @click=${() => this.done()}>${this.words.done}</button>`}${
    this.handBack.draw()}</div>`;

  done() {
    this.isTried = true;
    const [first] = this.lacking;
    if (first) {
      this.stage.refuse(/** @type {any} */ (this.words)[first.key]);
      this.stage.redraw();
      queueMicrotask(() => this.showFirst(first.field));
      return;
    }
    const { waiver } = this;
    if (waiver) Object.assign(this.form, { waiver_id: waiver.record_id, waiver_version: waiver.version });
    this.set('is_done', true);
    window.scrollTo(0, 0);
  }

  /** @param {string} field */
  showFirst(field) {
    const place = /** @type {HTMLElement|null} */ (document.getElementById(`w-${field}`)
      ?? document.querySelector(`[name="w-${field}"]`));
    place?.scrollIntoView({ block: 'center' });
    place?.focus();
  }
}
