/** The columns of a file that is brought in: which field each is, how it is read, and the questions that are open. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, doubt, isWide, mark, pill, section } from '../views/marks.js';
import { named } from '../views/names.js';
import { counted } from '../views/words.js';

const ORDERS = { mdy: 'month first', dmy: 'day first', ymd: 'year first' };

/**
 * @typedef {{path: string[], value: any}[]} Sets what an answer sets in the mapping
 * @typedef {{column: string, about: string, ask: string, answers: {label: string, sets: Sets}[], note: string,
 *   rows: number, typed: string|null, path: string[]}} Question
 * @typedef {{header: string, samples: string[], path: string[], said: string}} Column
 * @typedef {{name: string, title: string, type: string, units: string[]}} Field
 * @typedef {{kind: string, kind_is_sure: boolean, kinds: {name: string, title: string}[], sheet: string,
 *   sheets: string[], notes: string[], rows: number, mapping: any, columns: Column[], fields: Field[],
 *   questions: Question[], site_id: string|null,
 *   first: {row: number, head: string, rest: string, mends: string[]}|null}} Looked
 */

/**
 * A mapping with answers in it; `fieldlog/imports/mapping.py` does the same.
 * @param {any} mapping @param {Sets} sets @returns {any}
 */
export function settled(mapping, sets) {
  const made = structuredClone(mapping);
  for (const { path, value } of sets) {
    let group = made;
    for (const name of path.slice(0, -1)) group = group[name] ??= {};
    group[path[path.length - 1]] = value;
  }
  return made;
}

/** @param {any} mapping @param {string[]} path @returns {any} how a column is read */
const readAs = (mapping, path) => path.reduce((group, name) => group?.[name], mapping) ?? {};

/** @param {import('./bring-in.js').BringIn} screen @param {Looked} looked */
export const columnsOf = (screen, looked) => html`${looked.questions.length ? doubt(
  `${counted(looked.questions.length, 'question')} before you can try it.`) : nothing}
  ${keeping(screen)}
  <div class="cols importcols"><div class="stack">${kept(screen, looked)}${about(screen, looked)}
    ${section('Your columns', 'guessed. Change what is wrong', html`<div class="scroll" tabindex="0" role="region"
      aria-label="Columns"><table class="plain map"><thead><tr><th scope="col">In the file</th><th scope="col">goes
      to</th><th scope="col">read as</th><th scope="col">to settle</th></tr></thead><tbody>
      ${looked.columns.map((column) => row(screen, looked, column))}</tbody></table></div>`)}</div>
    <div class="stack">${looked.questions.map((question, n) => (isBeside(looked, question) ? nothing
      : asked(screen, looked, question, n)))}
      ${looked.first ? section(`Row ${looked.first.row} will read`, `1 of ${looked.rows}`, html`<div
        class="said-back"><b>${looked.first.head}</b><small>${looked.first.rest}</small></div>`)
        : nothing}</div></div>`;

/** @param {import('./bring-in.js').BringIn} screen */
const keeping = (screen) => (screen.keptAs === null ? nothing : html`<div class="field"><label class="label-text"
  for="kept-as">A name for these choices</label><input class="line" id="kept-as" maxlength="80"
  .value=${screen.keptAs} @input=${(/** @type {any} */ event) => { screen.keptAs = event.target.value; }}>
  <button type="button" class="or" @click=${screen.keep}>Keep them</button></div>`);

/**
 * Choices that were kept for a file with these columns: one tap.
 * @param {import('./bring-in.js').BringIn} screen @param {Looked} looked
 */
function kept(screen, looked) {
  const headers = new Set([...looked.columns.map(({ header }) => header),
    ...Object.keys(looked.mapping.columns ?? {})]);
  const fitting = screen.mappings.filter(({ mapping }) =>
    Object.keys(mapping.columns ?? {}).every((header) => headers.has(header)));
  return fitting.map(({ name, mapping }) => html`<button type="button" class="or"
    @click=${() => screen.again({ ...mapping, sheet: looked.sheet })}>Use “${name}”</button>`);
}

/** All choices that were kept, each of which goes with a button. @param {import('./bring-in.js').BringIn} screen */
export const keptChoices = (screen) => (screen.mappings.length ? section('Kept choices of columns',
  String(screen.mappings.length), screen.mappings.map((kept) => html`<div class="row wrap"><span
    class="said">${kept.name}<small>${screen.kindTitle(kept.kind)}</small></span><button type="button"
    class="pill plain tap" @click=${() => screen.forget(kept)}>Remove<span class="unseen"> ${kept.name}</span></button>
    </div>`)) : nothing);

/**
 * The kind, the sheet, the line of the headers.
 * @param {import('./bring-in.js').BringIn} screen @param {Looked} looked
 */
function about(screen, looked) {
  const { sheet, header_row: line } = looked.mapping;
  return html`${looked.kind_is_sure ? nothing : doubt('Which kind of record the rows are is not certain.')}
    <div class="field"><label class="label-text" for="kind">Each row is</label><select class="line" id="kind"
      @change=${(/** @type {any} */ event) => screen.again({ sheet, header_row: line, kind: event.target.value })}>
      ${looked.kinds.map(({ name, title }) => html`<option value=${name}
        ?selected=${name === looked.kind}>${title}</option>`)}</select></div>
    ${looked.sheets.length > 1 ? html`<div class="field"><label class="label-text" for="sheet">Sheet</label><select
      class="line" id="sheet" @change=${(/** @type {any} */ event) => screen.again({ sheet: event.target.value })}>
      ${looked.sheets.map((name) => html`<option value=${name} ?selected=${name === looked.sheet}>${name}${
        screen.upload?.taken_sheets.includes(name) ? ', imported' : ''}</option>`)}</select></div>`
      : nothing}
    <div class="field"><label class="label-text" for="line">Line of the headers</label><input class="line" id="line"
      type="number" min="1" max="1000" .value=${String(line)} @change=${(/** @type {any} */ event) =>
        screen.again({ sheet, kind: looked.kind, header_row: Number(event.target.value) || 1 })}></div>
    ${looked.notes.map((note) => html`<p class="small">${note}</p>`)}`;
}

/**
 * Where all stands in one column, a question is asked below its column's row; else it has the other column of the page.
 * @param {Looked} looked @param {Question} question
 */
const isBeside = (looked, { column }) => !isWide() && looked.columns.some(({ header }) => header === column);

/** @param {import('./bring-in.js').BringIn} screen @param {Looked} looked @param {string} header */
const askedBelow = (screen, looked, header) => looked.questions.map((question, n) => (question.column === header
  && isBeside(looked, question) ? html`<tr class="asking"><td colspan="4">${asked(screen, looked, question, n)}</td>
    </tr>`
  : nothing));

/** @param {import('./bring-in.js').BringIn} screen @param {Looked} looked @param {Column} column */
function row(screen, looked, { header, samples, path, said: beside }) {
  const read = readAs(looked.mapping, path);
  const field = looked.fields.find(({ name }) => name === read.field);
  const open = looked.questions.filter(({ column }) => column === header);
  return html`<tr><th scope="row">${header}<small class="small">${samples.join(', ')}</small></th>
    <td><select class="line" aria-label="${header}: field" @change=${(/** @type {any} */ event) => screen.settle([
      { path, value: { ...(read.words ? { words: {} } : {}), field: event.target.value || null } }])}>
      <option value="" ?selected=${!field}>Leave out</option>${looked.fields.map(({ name, title }) => html`<option
        value=${name} ?selected=${name === read.field}>${title}</option>`)}</select></td>
    <td>${field ? reading(screen, header, path, read, field, open) : nothing}</td>
    <td class="saying">${open.length ? pill('look', open.length === 1 ? WORDS[open[0].about] ?? 'open'
      : `${open.length} open`) : beside}</td></tr>${askedBelow(screen, looked, header)}`;
}

/** What is open, in a word. @type {Record<string, string>} */
const WORDS = { order: 'order?', unit: 'unit?', decimal: 'point or comma?', word: '1 word', reference: '1 new',
  night: 'which hour?', days_from: 'which day?', repeated: 'twice', claimed: 'twice', column: 'not here' };

/**
 * @param {import('./bring-in.js').BringIn} screen @param {string} header @param {string[]} path @param {any} read
 * @param {Field} field @param {Question[]} open
 */
function reading(screen, header, path, read, { type, units }, open) {
  const [name, options] = units.length ? ['unit', Object.fromEntries(units.map((unit) => [unit, unit]))]
    : ['instant', 'date'].includes(type) ? ['order', ORDERS] : ['', {}];
  const unsaid = open.some(({ about }) => about === name) ? 'not said yet' : 'as written';
  if (!name) return type === 'ref' ? 'a name' : type === 'number' || type === 'whole' ? 'number' : 'words';
  return html`<select class="line" aria-label="${header}: read as" @change=${(/** @type {any} */ event) =>
    screen.settle([{ path: [...path, name], value: event.target.value || null }])}><option value=""
    ?selected=${!read[name]}>${unsaid}</option>${Object.entries(options).map(([value, label]) => html`<option
      value=${value} ?selected=${value === read[name]}>${label}</option>`)}</select>`;
}

/**
 * @param {import('./bring-in.js').BringIn} screen @param {Looked} looked @param {Question} question @param {number} n
 */
function asked(screen, looked, { column, ask, answers, note, typed, path }, n) {
  const legend = html`${mark('look')} ${column ? `${named(column)}: ` : ''}${ask}`;
  const small = note ? html`<small class="small">${note}</small>` : nothing;
  if (typed) return html`<div class="askbox"><label class="label-text" for="asked-${n}">${legend}</label><input
    class="line" id="asked-${n}" type=${typed === 'day' ? 'date' : 'text'} @change=${(/** @type {any} */ event) =>
      event.target.value && screen.settle([{ path, value: event.target.value }])}>${small}</div>`;
  return html`<div class="askbox">${choices({ name: `asked-${n}-${looked.questions.length}`, legend, value: null,
    shape: 'lines', choices: answers.map(({ label }, value) => ({ value, label })),
    pick: (value) => screen.settle(answers[value].sets) })}${small}</div>`;
}
