/** Whether this browser keeps what it is given, and space for text on a phone that gets full. */
import { SENTENCES } from '../log/db.js';

/**
 * See that this browser keeps what it is given, then keep space for text. Where space was short and is there again,
 * photos are taken again.
 * @param {import('./phone.js').Phone} phone
 */
export async function keepReserve(phone) {
  const probe = phone.random(64);
  await phone.keepMeta({ probe });
  const kept = await phone.store.run(['meta'], 'readonly', (tx) => tx.store.get('probe'));
  if (kept !== probe) phone.emit('fault', { sentence: SENTENCES.unusable });
  const stands = await phone.store.layBallast();
  if (stands !== phone.isFull) return;
  phone.isFull = !stands;
  await phone.keepMeta({ full: phone.isFull });
  phone.emit('sync', null);
}

/** Space comes back as photos leave or as somebody clears the phone. @param {import('./phone.js').Phone} phone */
export async function lookForSpace(phone) {
  if (phone.isFull) await keepReserve(phone);
}

/**
 * Whether this window keeps nothing once it is closed, as far as its browser tells a page: two of them refuse such a
 * window their private file system.
 * @returns {Promise<boolean>}
 */
export async function isPrivateWindow() {
  try {
    await navigator.storage?.getDirectory?.();
    return false;
  } catch (error) {
    if (!(error instanceof DOMException || error instanceof TypeError)) throw error;
    return error instanceof DOMException && ['SecurityError', 'UnknownError', 'NotAllowedError'].includes(error.name);
  }
}
