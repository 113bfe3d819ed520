/**
 * Who this phone is to the programme, and whether its storage is still the one it had.
 *
 * @typedef {{device_id: string, role: string, sites: string[]|null, person_id: string|null, site_id: string|null}} Me
 * @typedef {{busy: boolean, last_ok_ms: number|null, last_error_sentence: string|null, clock_sentence: string|null,
 *   waiting: boolean, portal: boolean, needs_join: boolean, revoked: boolean, update_app: boolean}} SyncState how the
 *   last sync went
 */
import { START } from '../sync/line.js';
import { NotSaved, SENTENCES } from './db.js';

/**
 * Where the phone stands in the protocol: one small document, read and written with every entry and every reply.
 *
 * @typedef {{n: number, ch: string, durable: number, blank: number}} Lane the highest number and the chain there; how far
 *   a backup covers it; the highest number whose text is no longer kept here
 * @typedef {{lane: string, lanes: Record<string, Lane>, cursor: [number, string]|null, hlc: string, newest: string,
 *   rid: string|null, from: number, offsetMs: number, skewMs: number, isAskingAll: boolean}} Head
 */

/** @returns {Lane} */
export const newLane = () => ({ n: 0, ch: '', durable: 0, blank: 0 });

/** @param {string} lane @returns {Head} */
export const newHead = (lane) => ({
  lane, lanes: { [lane]: newLane() }, cursor: null, hlc: START, newest: START, rid: null, from: 1, offsetMs: 0, skewMs: 0,
  isAskingAll: false,
});

/** @param {any} tx @returns {Promise<Head|undefined>} */
const storedHead = (tx) => tx.objectStore('meta').get('head');

/** @param {any} tx @returns {Promise<Head>} */
export async function readHead(tx) {
  const head = await storedHead(tx);
  if (!head) throw new NotSaved(SENTENCES.cleared);
  return head;
}

/** @param {any} tx @param {Head} head */
export const putHead = (tx, head) => { tx.objectStore('meta').put(head, 'head'); };

/**
 * Take the phone's place in the protocol up, or begin one.
 * @param {import('./db.js').Store} store @param {(bits: number) => string} random
 * @returns {Promise<Head>}
 */
export async function openHead(store, random) {
  const head = await store.run(['meta'], 'readonly', storedHead);
  if (head) return head;
  const lane = random(128);
  return store.run(['meta'], 'readwrite', async (tx) => {
    const other = await storedHead(tx);
    if (other) return other;
    const made = newHead(lane);
    putHead(tx, made);
    return made;
  });
}

/** A stamp of the log moves the phone's clock on. @param {Head} head @param {string} eff */
export function observe(head, eff) {
  if (eff > head.hlc) head.hlc = eff;
  if (eff > head.newest) head.newest = eff;
}

/** @returns {SyncState} */
export const neverSynced = () => ({
  busy: false, last_ok_ms: null, last_error_sentence: null, clock_sentence: null, waiting: false, portal: false,
  needs_join: false, revoked: false, update_app: false,
});

/** Outside the database, so that one is missed when the browser clears the other. */
const MARK = 'fieldlog-kept';

/** @param {string} name of the database */
const markName = (name) => `${MARK}:${name}`;

/**
 * Whether the browser cleared the database while it kept the mark beside it.
 * @param {string} name @param {boolean} isNew whether the database holds nothing
 * @returns {{unsent: number}|null}
 */
export function clearedSince(name, isNew) {
  const mark = localStorage.getItem(markName(name));
  return isNew && mark ? { unsent: Number(mark) || 0 } : null;
}

/** @param {string} name @param {number} unsent how many entries and photos only this phone has */
export const setMark = (name, unsent) => localStorage.setItem(markName(name), String(unsent));

/** @param {string} name */
export const dropMark = (name) => localStorage.removeItem(markName(name));

/**
 * Me after joining: somebody who joins again is still the same person.
 * @param {any} answer of /api/join @param {Me|null} before @returns {Me}
 */
export const joinedAs = (answer, before) => ({
  device_id: answer.device_id, role: answer.role, sites: answer.sites,
  person_id: answer.person_id ?? before?.person_id ?? null, site_id: siteOf(answer.sites, before?.site_id ?? null),
});

/** @param {string[]|null} sites null: the whole programme @param {string|null} chosen @returns {string|null} */
export const siteOf = (sites, chosen) => (sites === null || (chosen && sites.includes(chosen)) ? chosen : sites[0] ?? null);
