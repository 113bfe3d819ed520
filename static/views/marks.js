/** The shapes: four states, the octagon, icons, and the small parts that screens share. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isMinus, withSignTurned } from './words.js';

/** @param {'phone'|'taken'|'held'} state */
const stateWords = (state) => ({ phone: `on this ${deviceWord()}`, taken: 'sent', held: 'held back' })[state];

/**
 * @param {'phone'|'taken'|'held'|'look'|'stop'} state
 * @param {string|null} [words] what a screen reader says; null where text beside it says it already
 */
export function mark(state, words = null) {
  const full = state === 'phone' ? '' : ' full';
  return words === null
    ? html`<svg class="mark${full}" aria-hidden="true"><use href="#m-${state}"/></svg>`
    : html`<svg class="mark${full}" role="img" aria-label=${words}><use href="#m-${state}"/></svg>`;
}

/** @param {'phone'|'taken'|'held'} state */
export const entryMark = (state) => (state ? mark(state, stateWords(state)) : nothing);

/** @param {string} name */
export const icon = (name) => html`<svg aria-hidden="true"><use href="#i-${name}"/></svg>`;

export const chevron = html`<svg class="chevron" aria-hidden="true"><use href="#i-on"/></svg>`;

/** As wide as a laptop: ways at the side, two columns. */
export const isWide = () => matchMedia('(min-width: 56.25em)').matches;

/** Text of about twice the usual size on a phone: what a drawing says in small letters is read below it. */
export const isLargeText = () => matchMedia('(max-width: 18em)').matches;

/** What one holds, or has before oneself. @returns {'phone'|'device'} */
export const deviceWord = () => (isWide() ? 'device' : 'phone');

/**
 * What the store or the server says of this phone: they do not know that a laptop reads it.
 * @template {string|null|undefined} Sentence @param {Sentence} sentence @returns {Sentence}
 */
export const inDeviceWords = (sentence) => /** @type {Sentence} */ (isWide()
  ? sentence?.replace(/\b(this) phone\b/gi, '$1 device') : sentence);

/** @param {'look'|'stop'|'plain'} tone @param {unknown} text */
export const pill = (tone, text) =>
  html`<span class="pill ${tone}">${tone === 'plain' ? nothing : mark(tone)}${text}</span>`;

/** @param {string} sentence */
export const fault = (sentence) => html`<p class="fault">${mark('stop')}<span>${sentence}</span></p>`;

/** @param {string} sentence */
export const doubt = (sentence) => html`<p class="doubt">${mark('look')}<span>${sentence}</span></p>`;

/**
 * Rules instead of boxes: a heading over rows.
 * @param {string} heading @param {unknown} aside @param {unknown} rows
 */
export const section = (heading, aside, rows) =>
  html`<section><div class="bar"><h2>${heading}</h2><span>${aside}</span></div>${rows}</section>`;

/**
 * @typedef {{undo: (() => void)|null, isRemoved?: boolean}} JustSaved undo: null where it is too late, and the button's
 *   place stays empty; isRemoved: what was saved is a removal
 */

/**
 * What was just saved says so on its own row. The line of the header has read it out.
 * @param {JustSaved} saved @param {unknown} name whose row this is, for who hears the button
 */
export const savedHere = ({ undo, isRemoved }, name) => html`<button type="button" class="pill plain tap saved-here"
  ?disabled=${!undo} @click=${undo}><span>${isRemoved ? 'Removed.' : 'Saved.'}<br><u>Undo</u><span
  class="unseen"> ${name}</span></span></button>`;

/**
 * One row that leads somewhere.
 * @param {{href: string, tag?: string, said: unknown, small?: unknown, pill?: unknown, aside?: unknown, next?: boolean,
 *   chosen?: boolean, saved?: JustSaved|null}} row pill: beside the words, below them where that would squeeze them;
 *   chosen: it stands open beside its list; saved: just now
 */
export const rowLink = ({ href, tag, said: words, small, pill: marked, aside, next, chosen, saved }) => {
  const lines = html`<span class="said">${words}${small ? html`<small>${small}</small>` : nothing}</span>`;
  const inside = html`${tag ? html`<span class="tag">${tag}</span>` : nothing}
    ${marked ? html`<span class="beside">${lines}${marked}</span>` : lines}`;
  const current = chosen ? 'true' : nothing;
  return saved ? html`<div class="row${next ? ' next' : ''}"><a class="leads" href=${href}
      aria-current=${current}>${inside}</a>${savedHere(saved, tag ?? words)}</div>`
    : html`<a class="row${next ? ' next' : ''}" href=${href} aria-current=${current}>${inside}${aside ?? chevron}</a>`;
};

/**
 * A number that may be below zero, with a button for its sign: the keypad of digits on some phones has no minus.
 * @param {{title: string, value: string, take: (text: string) => void, box: unknown}} of `box` holds the input
 */
export const signed = ({ title, value, take, box }) => html`<div class="signed"><button type="button" class="or sign"
  aria-label="Minus: ${title}" aria-pressed=${String(isMinus(value))} @click=${(/** @type {any} */ event) => {
    take(withSignTurned(value));
    event.currentTarget.parentElement.querySelector('input').focus();
  }}>\u2212</button>${box}</div>`;

/** So that no choice is left alone on a line. @type {Record<number, string>} */
const COLUMNS = { 2: 'by-two', 4: 'by-two', 5: 'by-three' };

/**
 * Large radio choices.
 * @param {{name: string, legend: unknown, choices: {value: unknown, label: unknown, words?: string}[], value: unknown,
 *   pick: (value: any) => void, shape?: 'grades'|'lines', hideLegend?: boolean, wrong?: boolean, saidBy?: string}} of
 *   wrong: it must be mended before it can be saved; saidBy: the id of what says so
 */
export const choices = ({ name, legend, choices: list, value, pick, shape = undefined, hideLegend = false,
  wrong = false, saidBy = undefined }) =>
  html`<fieldset role="radiogroup" aria-invalid=${wrong ? 'true' : nothing}
    aria-describedby=${saidBy ?? nothing}><legend class=${hideLegend ? 'unseen' : ''}>${legend}</legend>
    <div class="choices ${shape ?? COLUMNS[list.length] ?? ''}">${list.map(
      (choice) => html`<label class="choice"><input type="radio" name=${name} .checked=${choice.value === value}
        aria-label=${choice.words ?? nothing} @change=${() => pick(choice.value)}><span>${choice.label}</span></label>`,
    )}</div></fieldset>`;
