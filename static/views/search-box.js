/** One box that finds rows by what stands on them: a tag, a name, a note. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';

/**
 * Whether every word that is looked for stands in one of these texts; case and accents do not count.
 * @param {(string|null|undefined)[]} texts @param {string} searched
 */
export function has(texts, searched) {
  const all = plain(texts.filter((text) => typeof text === 'string').join('\n'));
  return plain(searched).split(/\s+/).every((word) => all.includes(word));
}

/** Without case and accents. @param {string} text */
export const plain = (text) => text.trim().normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();

/** Whether names read the same, but for case, accents and spaces. @param {string} one @param {string} other */
export const isSameName = (one, other) => plain(one).replace(/\s+/g, ' ') === plain(other).replace(/\s+/g, ' ');

/**
 * @param {{label: string, value: string, take: (searched: string) => void, hint?: string, id?: string, name?: string}}
 *   of `label` is its name, and stands in it while it is empty, or with a hint above it
 */
export const searchBox = ({ label, value, take, hint = undefined, id = 'search', name = undefined }) => html`<div
  class="field"><label class=${hint ? 'label-text' : 'unseen'} for=${id}>${label}${hint ? html`<small>${hint}</small>`
    : nothing}</label><input class="line" id=${id} name=${name ?? nothing} type="search"
    placeholder=${hint ? nothing : label} autocomplete="off" spellcheck="false" aria-keyshortcuts="/"
    .value=${value} @input=${(/** @type {any} */ event) => take(event.target.value)}></div>`;
