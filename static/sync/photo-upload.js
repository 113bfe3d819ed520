/**
 * Photos to the server: after the text, smallest first, two at a time, in parts that a bad network can lose one of. The
 * name is the content, so an upload can be resumed or repeated by anyone.
 */

const PART_BYTES = 512 * 1024;
const AT_ONCE = 2;
/** Times an upload begins anew because the bytes that arrived were others. */
const MOST_RESTARTS = 3;

/**
 * @typedef {{sha256: string, type: string, size: number, sent: 0|1, offset: number, restarts: number, at_ms: number,
 *   sent_ms: number|null, covered: {lane: string, n: number}|null, fault: string|null}} Photo
 * @typedef {{photoPart: (sha256: string, part: ArrayBuffer, offset: number, total: number) => Promise<{isDone: boolean, offset: number}>}} Transport
 */

/**
 * Send what waits. Returns when all is sent; throws NoAnswer where the network or the server ends it.
 * @param {import('../store/db.js').Store} db @param {Transport} transport @param {() => number} now
 * @param {{onPhoto: () => void, onFault: (sentence: string) => void}} ears a photo went; one never will
 */
export async function sendPhotos(db, transport, now, ears) {
  /** @type {Photo[]} */ const waiting = await db.run(['photos'], 'readonly', (tx) => tx.store.index('sent').getAll(0));
  const queue = waiting.sort((one, other) => one.size - other.size);
  if (!queue.length) return;
  const screen = await keepAwake();
  /** @type {unknown} */ let ended = null;
  const worker = async () => {
    for (let photo = queue.shift(); photo && !ended; photo = queue.shift()) {
      try {
        const fault = await sendOne(db, transport, photo, now);
        if (fault) ears.onFault(fault);
        ears.onPhoto();
      } catch (error) {
        ended ??= error;
      }
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
  await screen?.release();
  if (ended) throw ended;
}

/** @param {import('../store/db.js').Store} db @param {Transport} transport @param {Photo} photo @param {() => number} now @returns {Promise<string|null>} why it will never go */
async function sendOne(db, transport, photo, now) {
  const bytes = await db.run(['photo_bytes'], 'readonly', (tx) => tx.store.get(photo.sha256));
  if (!bytes) return giveUp(db, photo, 'A photo is gone from this phone and cannot be sent. Take it again.');
  if ((await sha256Of(bytes)) !== photo.sha256) {
    return giveUp(db, photo, 'A photo was damaged on this phone and is not sent. Take it again.');
  }
  let { offset, restarts } = photo;
  while (photo.sent === 0) {
    const end = Math.min(offset + PART_BYTES, photo.size);
    const got = await transport.photoPart(photo.sha256, bytes.slice(offset, end), offset, photo.size);
    restarts += got.offset === 0 && !got.isDone ? 1 : 0;
    offset = got.offset;
    if (restarts > MOST_RESTARTS) return giveUp(db, photo, 'A photo arrived damaged several times and is not sent any more. Take it again.');
    if (got.isDone) await noteSent(db, photo, now());
    else await keep(db, { ...photo, offset, restarts });
    photo = { ...photo, sent: got.isDone ? 1 : 0 };
  }
  return null;
}

/** It no longer waits, but what is left of it stays. @param {import('../store/db.js').Store} db @param {Photo} photo @param {string} fault */
async function giveUp(db, photo, fault) {
  await keep(db, { ...photo, sent: 1, fault });
  return fault;
}

/** @param {import('../store/db.js').Store} db @param {Photo} photo */
const keep = (db, photo) => db.run(['photos'], 'readwrite', (tx) => tx.store.put(photo), { durability: 'relaxed' });

/** The receipt; the bytes stay until a backup made after it covers what is written now. @param {import('../store/db.js').Store} db @param {Photo} photo @param {number} nowMs */
const noteSent = (db, photo, nowMs) => db.run(['photos', 'meta'], 'readwrite', async (tx) => {
  const head = await tx.objectStore('meta').get('head');
  const covered = { lane: head.lane, n: head.lanes[head.lane].n };
  tx.objectStore('photos').put({ ...photo, sent: 1, offset: photo.size, sent_ms: nowMs, covered });
  tx.commit();
}, { durability: 'relaxed' });

/** @param {ArrayBuffer} bytes @returns {Promise<string>} 64 hex digits */
export async function sha256Of(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** Uploads stop when the screen locks. @returns {Promise<{release: () => Promise<void>}|null>} */
async function keepAwake() {
  if (!('wakeLock' in navigator) || document.hidden) return null;
  try {
    return await navigator.wakeLock.request('screen');
  } catch (error) {
    if (/** @type {Error} */ (error).name !== 'NotAllowedError') throw error;
    return null;
  }
}

