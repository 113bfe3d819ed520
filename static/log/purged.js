/**
 * What was purged. The server's entry names records; of each, this phone lets go of all that was written, whoever wrote
 * it and whenever this phone hears of it. Number, name and chain of an own line stay, as of one that a backup covers.
 *
 * @typedef {{until: string|null, keeps: string|null}} Purged up to which stamp a record's entries are gone, null for
 *   ever; `keeps`: the one entry that stays
 */
import { lineState } from './folding.js';
import { recordKey } from './line.js';

export const PURGE = 'purge';
/** In `meta`: that something was purged, and what of each record. */
const ANY = 'purged';
/** @param {string} key of `recordKey` */
const markOf = (key) => `purged|${key}`;

/** @param {any} meta the store @param {string} kind @param {string} id @returns {Promise<boolean>} whether for ever */
export async function isForgotten(meta, kind, id) {
  const purged = await meta.get(markOf(recordKey(kind, id)));
  return Boolean(purged) && purged.until === null;
}

/**
 * Carry out the purges among entries that came, and those that hold for own lines which were just answered for: until
 * then the server must still get them as they were written.
 * @param {any} tx over lines, others, meta and, where a purge came, drafts
 * @param {import('./identity.js').Head} head @param {any[]} came what the entries say
 * @param {{lane: string, from: number, to: number}|null} answered own lines
 * @param {Set<string>} dirty records to fold again are added
 */
export async function carryOutPurges(tx, head, came, answered, dirty) {
  /** @type {Set<string>} */ const keys = new Set();
  const purges = came.filter((said) => said.t === PURGE);
  for (const { f: { until, records } } of purges) {
    for (const [kind, id, keeps] of records) {
      keys.add(recordKey(kind, id));
      await note(tx.objectStore('meta'), recordKey(kind, id), { until, keeps });
    }
  }
  if (answered && await tx.objectStore('meta').getKey(ANY)) {
    const lines = await tx.objectStore('lines')
      .getAll(IDBKeyRange.bound([answered.lane, answered.from], [answered.lane, answered.to]));
    for (const line of lines) if (line.record && line.text !== null) keys.add(line.record);
  }
  for (const key of keys) await letGoOf(tx, head, key, dirty);
  if (purges.length) await dropDrafts(tx, purges.flatMap(({ f }) => f.records.map((/** @type {any} */ of) => of[1])));
}

/** @param {any} meta @param {string} key @param {Purged} purged */
async function note(meta, key, { until, keeps }) {
  /** @type {Purged|undefined} */ const before = await meta.get(markOf(key));
  const isForEver = until === null || before?.until === null;
  meta.put({
    until: isForEver ? null : [until, before?.until ?? ''].sort()[1], keeps: keeps ?? before?.keeps ?? null,
  }, markOf(key));
  meta.put(true, ANY);
}

/** @param {any} tx @param {import('./identity.js').Head} head @param {string} key @param {Set<string>} dirty */
async function letGoOf(tx, head, key, dirty) {
  /** @type {Purged|undefined} */ const purged = await tx.objectStore('meta').get(markOf(key));
  if (!purged) return;
  const isGone = (/** @type {string} */ id, /** @type {string} */ eff) =>
    id !== purged.keeps && (purged.until === null || eff <= purged.until);
  const [lines, others] = await Promise.all(['lines', 'others']
    .map((name) => tx.objectStore(name).index('record').getAll(key)));
  for (const line of lines) {
    const state = lineState(line, head.lanes[line.lane]);
    if (line.text === null || state === 'phone' || !isGone(line.id, line.eff ?? line.s)) continue;
    tx.objectStore('lines').put({ ...line, text: null, sentence: null, fixed: state === 'held' || line.fixed });
  }
  for (const { id, eff } of others) if (isGone(id, eff)) tx.objectStore('others').delete(id);
  dirty.add(key);
}

/** What somebody had begun to write about these records. @param {any} tx @param {string[]} ids */
async function dropDrafts(tx, ids) {
  for (const draft of await tx.objectStore('drafts').getAll()) {
    const text = JSON.stringify(draft);
    if (ids.some((id) => text.includes(id))) tx.objectStore('drafts').delete(draft.key);
  }
}
