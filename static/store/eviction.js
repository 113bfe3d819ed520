/**
 * A browser may empty the phone's database: short of space, after weeks unused, or because it found it broken. What is
 * needed to say so and to go on stands beside it, where an eviction does not reach, and in the memory of an open page.
 *
 * @typedef {import('../log/identity.js').Me} Me
 * @typedef {{unsent: number, drafts: number, isUnknown?: boolean}} Lost how many entries and photos, and open forms,
 *   only this phone had; `isUnknown`: what was noted went too
 */
import { putHead, newHead, beginLane } from '../log/identity.js';

const MARK = 'fieldlog-kept';

/** @param {string} name of the database */
const markName = (name) => `${MARK}:${name}`;

/**
 * A database that holds nothing, where this was noted beside it, was emptied: keep what went, and go on as who this
 * was. Older apps note the bare number of unsent things.
 * @param {import('./phone.js').Phone} phone
 */
export async function takeMark(phone) {
  const text = localStorage.getItem(markName(phone.store.name));
  if (text === null) return;
  const { unsent, drafts = 0, isUnknown, me } = /^\{/.test(text) ? JSON.parse(text) : { unsent: Number(text) || 0 };
  await phone.keepMeta({ cleared: { unsent, drafts, ...(isUnknown ? { isUnknown } : {}) }, ...(me ? { me } : {}) });
}

/**
 * Note what only this phone has; what an eviction took before stays noted until somebody has read of it.
 * @param {import('./phone.js').Phone} phone
 */
export function setMark(phone) {
  if (!phone.me) return;
  const lost = onlyHere(phone);
  localStorage.setItem(markName(phone.store.name), JSON.stringify({ ...lost, me: phone.me }));
}

/** @param {string} name */
export const dropMark = (name) => localStorage.removeItem(markName(name));

/** @param {import('./phone.js').Phone} phone @returns {Lost} */
const onlyHere = (phone) => ({
  unsent: phone.unsent() + (phone.cleared?.unsent ?? 0),
  drafts: phone.counts().drafts + (phone.cleared?.drafts ?? 0),
  ...(phone.cleared?.isUnknown ? { isUnknown: true } : {}),
});

/**
 * The database is laid out anew under an open page: put into it who this phone is, what this page has read, and what
 * went, so that the next entry is saved, in a lane of its own, whether or not there is a network.
 * @param {import('./phone.js').Phone} phone @param {any} tx the transaction that lays it out
 */
export function refill(phone, tx) {
  const meta = tx.objectStore('meta');
  const head = newHead();
  beginLane(head, phone.random);
  head.isRefilled = true;
  putHead(tx, head);
  if (phone.me) phone.cleared = onlyHere(phone);
  meta.put(phone.cleared, 'cleared');
  if (phone.me) meta.put(phone.me, 'me');
  meta.put({ last_ok_ms: phone.syncState.last_ok_ms, revoked: phone.syncState.revoked }, 'sync');
  for (const [name, value] of phone.packed.parts) meta.put(value, name);
  phone.shown.refill(tx, phone.tally.unsettled);
  phone.tally.reset();
  setMark(phone);
  phone.changed();
  phone.emit('emptied', null);
}

/**
 * The programme told who this phone is, which has nothing of its own left to know it by.
 * @param {import('./phone.js').Phone} phone @param {Me} me
 */
export async function goOnAs(phone, me) {
  phone.me = me;
  phone.cleared = { unsent: 0, drafts: 0, isUnknown: true };
  await phone.keepMeta({ me, cleared: phone.cleared });
  setMark(phone);
  phone.tell('pack');
}

/** Somebody has read what went. @param {import('./phone.js').Phone} phone */
export async function forgetLoss(phone) {
  phone.cleared = null;
  await phone.keepMeta({ cleared: null });
  await phone.recount();
  phone.tell('change');
}
