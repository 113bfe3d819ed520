/**
 * Where the phone stands in the protocol: one small document, read and written with every entry and every reply.
 *
 * @typedef {{n: number, ch: string, durable: number, blank: number}} Lane the highest number and the chain there; how far
 *   a backup covers it; the highest number whose text is no longer kept here
 * @typedef {{lane: string, lanes: Record<string, Lane>, cursor: [number, string]|null, hlc: string, newest: string,
 *   rid: string|null, from: number, offsetMs: number, skewMs: number, isAskingAll: boolean}} Head
 */
import { START } from '../sync/clock.js';
import { NotSaved, SENTENCES } from './faults.js';

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
