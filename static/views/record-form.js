/** A form made from the pack's form description: inputs, limits shown as they are crossed, drafts, saving. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { check, complete } from '../records/validate.js';
import { formOf, inputsOf, labelOf } from './kind-forms.js';
import { choices, doubt, fault, signed } from './marks.js';
import { isSameValue, listInput, readList, typedList } from './list-input.js';
import { localText, msOfLocal } from './local-box.js';
import { fromBox, inBox, instant, isSignOnly, msOf, typedNumber } from './words.js';

/** Digits, point and sign of a number that a usual box shows whole. */
const FITS = 5;

/**
 * @typedef {import('./router.js').Stage} Stage
 * @typedef {import('../records/form.js').Input} Input
 * @typedef {import('../records/validate.js').Fault} Fault
 * @typedef {{target: {value: string}}} Typed an event of what somebody types in or chooses from
 * @typedef {import('../records/rows.js').RowOf<string>} AnyRow of a kind that only the data name
 */

const isNumber = (/** @type {Input|undefined} */ input) => input?.control === 'number';
const isList = (/** @type {Input|undefined} */ input) => input?.control === 'list';

/**
 * Only what differs is written, so that two phones that correct different fields do not disagree.
 * @param {RecordForm} form @param {Record<string, any>} fields @param {Record<string, any>} row the record as it stands
 * @returns {Record<string, any>} null for what was emptied
 */
export function changesOf(form, fields, row) {
  const changed = [...form.inputs]
    .filter(([name, input]) => !isSameValue(input, fields[name] ?? null, row[name] ?? null)).map(([name]) => name);
  // A level goes with the name of its datum, always.
  const datums = changed.filter((name) => fields[name] !== undefined)
    .map((name) => form.form.properties[name]['x-datum']).filter(Boolean);
  return Object.fromEntries([...changed, ...datums].map((name) => [name, fields[name] ?? null]));
}

/**
 * One record being filled in. Numbers stay as typed until they are saved, so a draft keeps even a half-typed one.
 */
export class RecordForm {
  /**
   * @param {Stage} stage @param {string} kind @param {string} draftKey
   * @param {{last?: AnyRow|null, base?: Record<string, any>,
   *   refs?: Record<string, {value: string, label: string}[]>}} [given]
   * last: the record whose values stand beside the inputs; base: the record that these fields change
   */
  constructor(stage, kind, draftKey, { last = null, base = {}, refs = {} } = {}) {
    this.stage = stage;
    this.kind = kind;
    this.draftKey = draftKey;
    this.last = last;
    this.base = base;
    this.refs = refs;
    /** @type {Record<string, any>} */ this.given = {};
    this.form = formOf(stage.phone, kind);
    this.inputs = inputsOf(stage.phone, kind);
    /** @type {Record<string, any>} */ this.typed = {};
    /**
     * What levels are above where nobody says otherwise, by the field that says it.
     * @type {Record<string, string|null>}
     */
    this.datums = {};
    this.tried = false;
    /** What is asked about an input before it is saved, by its field. @type {Map<string, unknown>} */
    this.asked = new Map();
    this.fromDraft = false;
    /** As it opens where no draft is kept. @type {Record<string, any>} */ this.opened = {};
    /** Photos name the record already, so its id is kept though nothing else is. */ this.hasPhoto = false;
    this.isKept = false;
    /** @type {{fields: Record<string, any>, faults: Fault[]}|null} */ this.lastRead = null;
    /** The id a new record will have: photos taken before it is saved name it already. @type {string} */
    this.recordId = '';
  }

  /**
   * @param {Record<string, any>} values start from these, unless a draft is kept
   * @param {string} [recordId] of the record that is corrected
   */
  async start(values, recordId) {
    const draft = await this.stage.phone.draft(this.draftKey);
    const { phone } = this.stage;
    if (this.kind !== 'site' && this.inputs.has('level_datum'))
      this.datums.level_datum = (await phone.row('site', phone.me.site_id))?.level_datum ?? null;
    this.opened = this.toTyped(values);
    const { _id, _photo, ...typed } = draft ?? { ...this.opened };
    Object.assign(this, { fromDraft: Boolean(draft), isKept: Boolean(draft), hasPhoto: _photo === true });
    this.recordId = recordId ?? phone.idForForm(this.kind, _id ?? null);
    this.typed = typed;
    return this;
  }

  /** @param {Record<string, any>} values */
  toTyped(values) {
    const { feet } = this.stage.settings;
    return Object.fromEntries(
      Object.entries(values)
        .filter(([name, value]) => this.inputs.has(name) && value !== null && value !== undefined)
        .map(([name, value]) => {
          const input = /** @type {Input} */ (this.inputs.get(name));
          return [name, isList(input) ? typedList(input, value, feet) : isNumber(input)
            ? inBox(value, feet && input.unit === 'm') : value];
        }),
    );
  }

  /** @param {Record<string, any>} values set several at once */
  fill(values) {
    Object.assign(this.typed, this.toTyped(values));
    this.keep(Object.keys(values)[0]);
  }

  /** @param {string} name @param {unknown} value '' or null: emptied */
  set(name, value) {
    if (value === '' || value === null || (Array.isArray(value) && !value.length)) delete this.typed[name];
    else this.typed[name] = value;
    this.keep(name);
  }

  /** Nothing is entered: it stands as it opened. */
  get isAsOpened() {
    const names = Object.keys({ ...this.opened, ...this.typed });
    const text = (/** @type {unknown} */ value) => (typeof value === 'object' ? JSON.stringify(value) : String(value));
    return !this.hasPhoto && names.every((name) => text(this.typed[name] ?? '') === text(this.opened[name] ?? ''));
  }

  /** @param {string} field */
  keep(field) {
    if (field === 'photo') this.hasPhoto = true;
    this.lastRead = null;
    this.asked.delete(field);
    this.stage.unsay();
    if (!this.isAsOpened) {
      this.isKept = true;
      const photo = this.hasPhoto ? { _photo: true } : {};
      this.stage.phone.keepDraft(this.draftKey, { ...this.typed, _id: this.recordId, ...photo }, { field });
    } else if (this.isKept) this.drop();
    this.stage.redraw();
  }

  /** @returns {{fields: Record<string, any>, faults: Fault[]}} what is typed, as values of the record */
  read() {
    this.lastRead ??= this.readAnew();
    return { fields: { ...this.lastRead.fields }, faults: [...this.lastRead.faults] };
  }

  /** What is typed, but for what no such record can have: nothing is worked out from that. */
  possible() {
    const { fields, faults } = this.read();
    for (const { field, hard } of faults) if (hard) delete fields[field];
    return fields;
  }

  /** Every input asks what is wrong with it at each drawing, so what is typed is judged once a change. */
  readAnew() {
    const { feet } = this.stage.settings;
    /** @type {Record<string, any>} */ const fields = {};
    const faults = [];
    for (const [name, value] of Object.entries(this.typed)) {
      const input = this.inputs.get(name);
      if (input && isList(input)) {
        const read = readList(input, value, feet);
        faults.push(...read.faults);
        if (read.value.length) fields[name] = read.value;
        continue;
      }
      if (!input || !isNumber(input)) { fields[name] = value; continue; }
      const number = typedNumber(String(value));
      if (number === null) faults.push({ field: name, word: 'bad-type', hard: true,
        sentence: isSignOnly(String(value)) ? 'Type the digits after the minus.'
          : `\u201c${value}\u201d is not a number. Type digits, with a point or a comma for decimals.` });
      else fields[name] = fromBox(number, feet && input.unit === 'm');
    }
    for (const name of Object.keys(fields)) {
      const datum = this.form.properties[name]['x-datum'];
      if (datum && this.datums[datum]) fields[datum] ??= this.datums[datum];
    }
    const unread = new Set(faults.map(({ field }) => field));
    return { fields, faults: faults.concat(check(this.form, fields).filter(({ field }) => !unread.has(field))) };
  }

  /** @param {string} name what is wrong or odd with one field, shown as it is typed */
  saidOf(name) {
    const { fields, faults } = this.read();
    const missing = this.tried ? complete(this.form, { ...this.base, ...fields, ...this.given }) : [];
    return faults.concat(missing.filter((fault) =>
      !faults.some((other) => other.field === fault.field && other.word === fault.word)))
      // An item that was added is filled in before it is asked for.
      .filter(({ field, word }) => field === name
        && (word !== 'missing' || this.tried || !isList(this.inputs.get(name))));
  }

  /**
   * @param {Record<string, any>} [given] fields that the screen adds by itself
   * @returns {Record<string, any>|null} null where something must be mended first; the first such input gets the focus
   */
  ready(given = {}) {
    this.tried = true;
    const { fields, faults } = this.read();
    const all = { ...fields, ...given };
    this.given = given;
    const wrong = faults.filter((fault) => fault.hard).concat(complete(this.form, { ...this.base, ...all }));
    if (!wrong.length) return all;
    this.stage.redraw();
    this.stage.refuse(wrong[0].sentence);
    queueMicrotask(() => document.querySelector(`[name="${CSS.escape(wrong[0].field)}"]`)
      ?.scrollIntoView({ block: 'center' }));
    queueMicrotask(() =>
      /** @type {HTMLElement|null} */ (document.querySelector(`[name="${CSS.escape(wrong[0].field)}"]`))?.focus());
    return null;
  }

  /** @param {string} name @param {{title?: string, hint?: unknown}} [instead] */
  input(name, instead = {}) {
    const input = this.inputs.get(name);
    if (!input || (input.across && this.refs[name]?.length === 0 && !this.typed[name])) return nothing;
    const faults = this.saidOf(name);
    const words = [...faults.map((wrong) => (wrong.hard || wrong.word !== 'implausible' ? fault(wrong.sentence)
      : doubt(wrong.sentence))), ...(this.asked.has(name) ? [this.asked.get(name)] : [])];
    const title = instead.title ?? input.title;
    if (isNumber(input)) return this.numberInput(input, title, instead.hint ?? this.lastOf(input), words);
    if (isList(input)) return listInput(this, input, title, instead.hint ?? this.lastOf(input), words);
    if (input.control === 'choices' || input.control === 'yesno'
      || (input.control === 'ref' && (this.refs[name]?.length ?? 0) <= 6)) {
      const saidBy = `f-${name}-said`;
      return html`<div class="field ${words.length ? 'wrong' : ''}">${choices({ name, legend: title,
        value: this.typed[name], pick: (value) => this.set(name, value), wrong: this.isWrong(name), saidBy,
        // A grade's words are long: each has a line of its own.
        choices: this.choicesOf(input), shape: input.whole ? 'lines' : undefined })}
        ${this.refs[name]?.length === 0 ? html`<small>None yet.</small>` : nothing}
        ${instead.hint ? html`<small>${instead.hint}</small>` : nothing}<div id=${saidBy}>${words}</div></div>`;
    }
    return this.lineInput(input, title, instead.hint ?? this.lastOf(input), words);
  }

  /** @param {Input} input @returns {{value: string|number|boolean, label: string}[]} */
  choicesOf(input) {
    if (input.control === 'yesno') return [{ value: true, label: 'Yes' }, { value: false, label: 'No' }];
    return input.control === 'ref' ? (this.refs[input.name] ?? []) : input.choices;
  }

  /** @param {Input} input */
  unitOf(input) {
    return input.unit === 'm' && this.stage.settings.feet ? 'ft' : input.unit;
  }

  /** @param {Input} input */
  lastOf(input) {
    const value = this.last?.[input.name];
    const unit = this.unitOf(input);
    if (value === null || value === undefined) return input.about || nothing;
    const shown = isNumber(input) ? inBox(value, this.stage.settings.feet && input.unit === 'm')
      : labelOf(this.stage.phone, this.kind, input.name, value);
    return `last ${shown}${unit === '\u00b0' ? '' : ' '}${unit}`;
  }

  /** @param {Input} input @param {string} title @param {unknown} hint @param {unknown[]} words */
  numberInput(input, title, hint, words) {
    const id = `f-${input.name}`;
    const value = this.typed[input.name] ?? '';
    const take = (/** @type {string} */ text) => this.set(input.name, text);
    const box = html`<div class="box ${String(value).length > FITS ? 'long' : ''}"><input id=${id}
      name=${input.name} inputmode=${input.whole ? 'numeric'
      : 'decimal'} autocomplete="off" aria-describedby="${id}-hint ${id}-said"
      aria-invalid=${this.isWrong(input.name) ? 'true' : nothing} .value=${value}
      @input=${(/** @type {Typed} */ event) => take(event.target.value)}><i>${this.unitOf(input)}</i></div>`;
    return html`<div class="measure ${words.length ? 'wrong' : ''}"><label for=${id}><b>${title}</b><small
      id="${id}-hint">${hint}</small></label>
      ${input.least === null || input.least < 0 ? signed({ title, value, take, box }) : box}
      <div class="fault-place" id="${id}-said">${words}</div></div>`;
  }

  /** @param {string} name @returns {boolean} whether it must be mended before it can be saved */
  isWrong(name) {
    return this.saidOf(name).some((fault) => fault.hard || fault.word !== 'implausible');
  }

  /** @param {Input} input @param {string} title @param {unknown} hint @param {unknown[]} words */
  lineInput(input, title, hint, words) {
    const id = `f-${input.name}`;
    const value = this.typed[input.name] ?? '';
    const take = (/** @type {Typed} */ event) => this.set(input.name, event.target.value);
    const parts = { id, name: input.name };
    const wrong = this.isWrong(input.name) ? 'true' : nothing;
    let control;
    if (input.control === 'ref') {
      control = html`<select class="line" id=${parts.id} name=${parts.name}
        aria-invalid=${wrong} aria-describedby="${id}-said" @change=${take}>
        <option value="" .selected=${!value}>Not chosen</option>
        ${(this.refs[input.name] ?? []).map((choice) => html`<option
          value=${choice.value} .selected=${choice.value === value}>${choice.label}</option>`)}</select>`;
    } else if (input.control === 'instant') {
      control = this.instantBox(input, value, wrong);
    } else if (input.long) {
      control = html`<textarea class="line"
        id=${parts.id} name=${parts.name} aria-invalid=${wrong} aria-describedby="${id}-said"
        .value=${value} @input=${take}></textarea>`;
    } else {
      control = html`<input class="line" id=${parts.id} name=${parts.name} type=${input.control === 'date' ? 'date'
        : 'text'} autocomplete="off" aria-invalid=${wrong} aria-describedby="${id}-said"
        .value=${value} @input=${take}>`;
    }
    return html`<div class="field ${words.length ? 'wrong' : ''}"><label class="label-text"
      for=${id}>${title}<small>${hint}</small></label>${control}<div id="${id}-said">${words}</div></div>`;
  }

  /**
   * A moment on the site's clock. What nobody touches keeps its seconds.
   * @param {Input} input @param {string} value @param {unknown} wrong
   */
  instantBox(input, value, wrong) {
    const { zone } = this.stage;
    const ms = msOf(value) || null;
    const take = (/** @type {Typed} */ event) => {
      const typed = event.target.value;
      this.set(input.name, typed ? instant(msOfLocal(typed, zone) ?? 0) : '');
    };
    return html`<input class="line" id="f-${input.name}" name=${input.name} type="datetime-local" aria-invalid=${wrong}
      aria-describedby="f-${input.name}-said" .value=${ms ? localText(ms, zone) : ''} @change=${take}>`;
  }

  /** Every input of the form but these. @param {string[]} [but] */
  all(but = []) {
    return html`<div class="stack">${[...this.inputs.keys()].filter((name) => !but.includes(name))
      .map((name) => this.input(name))}</div>`;
  }

  drop() {
    this.isKept = false;
    return this.stage.phone.dropDraft(this.draftKey);
  }
}
