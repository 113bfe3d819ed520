/**
 * Who this phone is to the programme.
 *
 * @typedef {{device_id: string, role: string, sites: string[]|null, person_id: string|null, site_id: string|null,
 *   handed_over?: {draft: string, number: string}|null}} Me handed_over: in a volunteer's hands, with this form alone;
 *   number: the desk's, for who comes back without holding a button
 * @typedef {{busy: boolean, last_ok_ms: number|null, last_error_sentence: string|null, clock_sentence: string|null,
 *   waiting: boolean, portal: boolean, needs_join: boolean, revoked: boolean, update_app: boolean, past_coming:
 *   boolean}} SyncState how the last sync went
 */
import { laneName, START } from './line.js';
import { NotSaved, SENTENCES } from './db.js';

/**
 * Where the phone stands in the protocol: one small document, read and written with every entry and every reply.
 *
 * @typedef {{n: number, ch: string, durable: number, blank: number, answered: number, marked: number, key?: string}}
 *   Lane the highest number and the chain there; how far a backup covers it; the highest number whose text is no longer
 *   kept here; up to which number the server has answered, and up to which the lines themselves say so; what proves
 *   that the lane is this phone's (a lane of 0.2.0 has none)
 * @typedef {{lane: string, lanes: Record<string, Lane>, cursor: [number, string]|null, hlc: string, newest: string,
 *   past: number|null, rid: string|null, asked: string|null, offsetMs: number, skewMs: number, readMs: number,
 *   isAskingAll: boolean, isRefilled?: boolean}} Head `past`: how far back this phone has the records of earlier
 *   seasons, null where it has all; `asked`: the request that waits for its answer; `isRefilled`: records stand here
 *   without the lines that they are made of (see `eviction.js`); `offsetMs`, `skewMs`, `readMs`: see `readClock`
 */

/**
 * What stands at `rid`, where 0.2.0 writes a request's id or null with each step that it takes. Anything else there
 * says that an older app was here: someone went back to it, or a page of it is still open.
 */
const OURS = '';

/** @returns {Head} without a lane */
export const newHead = () => ({
  lane: '', lanes: {}, cursor: null, past: null, hlc: START, newest: START, rid: OURS, asked: null, offsetMs: 0,
  skewMs: 0, readMs: 0,
  isAskingAll: false,
});

/**
 * From here on entries are written into a lane of their own, whose key is drawn here.
 * @param {Head} head @param {(bits: number) => string} random
 */
export function beginLane(head, random) {
  const key = random(128);
  head.lane = laneName(key);
  head.lanes[head.lane] = { n: 0, ch: '', durable: 0, blank: 0, answered: 0, marked: 0, key };
}

/** @param {Head} head @returns {boolean} whether the server has not answered for some line here */
export const isUnsent = (head) => Object.values(head.lanes).some((lane) => lane.answered < lane.n);

/** @param {any} tx @returns {Promise<Head|undefined>} */
const storedHead = (tx) => tx.objectStore('meta').get('head');

/** @param {any} tx over lines and meta @returns {Promise<Head>} */
export async function readHead(tx) {
  const head = await storedHead(tx);
  if (!head) throw new NotSaved(SENTENCES.cleared);
  if (head.rid !== OURS) await countAnswered(tx, head);
  return head;
}

/**
 * 0.2.0 keeps no numbers of what was answered: it says so at each line. From the first that waits, all is asked for
 * again.
 * @param {any} tx @param {Head} head
 */
async function countAnswered(tx, head) {
  const states = tx.objectStore('lines').index('state');
  await Promise.all(Object.entries(head.lanes).map(async ([id, lane]) => {
    const first = await states.getKey(IDBKeyRange.bound(['phone', id], ['phone', id, []]));
    lane.answered = first ? first[1] - 1 : lane.n;
    lane.marked = lane.answered;
  }));
  // Nor does it keep what its clock read when it learned that it was wrong.
  Object.assign(head, { rid: OURS, asked: null, offsetMs: 0, skewMs: 0, readMs: 0 });
}

/** @param {any} tx @param {Head} head */
export const putHead = (tx, head) => { tx.objectStore('meta').put(head, 'head'); };

/**
 * @param {Head|undefined} head
 * @returns {boolean} whether entries are written into a lane with a key, and no older app was here since
 */
const isReady = (head) => head?.rid === OURS && Boolean(head.lanes[head.lane].key);

/**
 * Take the phone's place in the protocol up, or begin one. A lane of 0.2.0 keeps its entries, sent or not; what is
 * written from now on goes into one with a key. It is not a fork: nothing is written anew.
 * @param {import('./db.js').Store} store @param {(bits: number) => string} random
 * @returns {Promise<boolean>} whether nothing stood here
 */
export async function openHead(store, random) {
  const [count, before] = await store.run(['meta'], 'readonly',
    (tx) => Promise.all([tx.store.count(), storedHead(tx)]));
  if (isReady(before)) return false;
  await store.run(['lines', 'meta'], 'readwrite', async (tx) => {
    const stored = await storedHead(tx);
    if (isReady(stored)) return;
    const head = stored ? await readHead(tx) : newHead();
    if (!head.lanes[head.lane]?.key) beginLane(head, random);
    putHead(tx, head);
  });
  return count === 0;
}

/** A clock further off than this is corrected for by what the server says. */
const CLOCK_OFF_MS = 120_000;

/** The server said what time it is. @param {Head} head @param {number} nowMs @param {number} serverMs */
export function learnClock(head, nowMs, serverMs) {
  head.skewMs = nowMs - serverMs;
  head.offsetMs = Math.abs(head.skewMs) > CLOCK_OFF_MS ? -head.skewMs : 0;
  head.readMs = nowMs;
}

/**
 * What the server said of this clock holds while it runs on as it did. One that was behind and now reads as late as the
 * truth was at its last reading may have been set right; one that runs back was set. The correction is given up then:
 * without a network a stamp may fall behind its time, never ahead of it.
 * @param {Head} head @param {number} nowMs @returns {number} milliseconds since 1970 UTC, corrected
 */
export function readClock(head, nowMs) {
  const wasSet = head.offsetMs > 0 ? nowMs >= head.readMs + head.offsetMs : nowMs < head.readMs - CLOCK_OFF_MS;
  if (wasSet) Object.assign(head, { offsetMs: 0, skewMs: 0 });
  head.readMs = nowMs;
  return nowMs + head.offsetMs;
}

/** A stamp of the log moves the phone's clock on. @param {Head} head @param {string} eff */
export function observe(head, eff) {
  if (eff > head.hlc) head.hlc = eff;
  if (eff > head.newest) head.newest = eff;
}

/** @returns {SyncState} */
export const neverSynced = () => ({
  busy: false, last_ok_ms: null, last_error_sentence: null, clock_sentence: null, waiting: false, portal: false,
  needs_join: false, revoked: false, update_app: false, past_coming: false,
});

/**
 * Me after joining: somebody who joins again is still the same person.
 * @param {any} answer of /api/join @param {Me|null} before @returns {Me}
 */
export const joinedAs = (answer, before) => ({
  device_id: answer.device_id, role: answer.role, sites: answer.sites,
  person_id: answer.person_id ?? before?.person_id ?? null, site_id: siteOf(answer.sites, before?.site_id ?? null),
});

/** @param {string[]|null} sites null: the whole programme @param {string|null} chosen @returns {string|null} */
export const siteOf = (sites, chosen) => (sites === null || (chosen && sites.includes(chosen)) ? chosen
  : sites[0] ?? null);
