/**
 * Photos to the server: after the text, smallest first, some at a time, in parts that a bad network can lose one of.
 * The name is the content, so an upload can be resumed or repeated by anyone. A photo that the server does not take
 * stays here and stops no other.
 */
import { NoAnswer } from './http.js';

const PART_BYTES = 512 * 1024;
const AT_ONCE = 4;
/** Times an upload begins anew because the bytes that arrived were others. */
const MOST_RESTARTS = 3;
/** Answers in a row that bring a photo no further. */
const MOST_STALLS = 3;
/** Receipts that are written together: each write waits for the disk. */
const RECEIPTS = 10;
/** What concerns this photo alone. */
const OF_ONE = ['refused', 'too-large'];
const STALLED = 'One photo could not be sent. It stays on this phone and is sent again later.';

/**
 * @typedef {{sha256: string, type: string, size: number, sent: 0|1, offset: number, restarts: number, at_ms: number,
 *   sent_ms: number|null, covered: {lane: string, n: number}|null, fault: string|null}} Photo `fault`: why it will
 *   never go, or with `sent` 0 why it did not go the last time
 * @typedef {{photoPart: (sha256: string, part: ArrayBuffer, offset: number, total: number) => Promise<{isDone: boolean,
 *   isWrong: boolean, offset: number}>}} Transport
 * @typedef {{db: import('../log/db.js').Store, transport: Transport, now: () => number}} Way
 */

/**
 * Send what waits. Returns when all is sent or was tried; throws NoAnswer where the network or the server ends it.
 * @param {import('../log/db.js').Store} db @param {Transport} transport @param {() => number} now
 * @param {{onPhoto: () => void, onFault: (sentence: string) => void}} ears a photo went; one did not
 */
export async function sendPhotos(db, transport, now, ears) {
  /** @type {Photo[]} */ const waiting = await db.run(['photos'], 'readonly', (tx) => tx.store.index('sent').getAll(0));
  const queue = waiting.sort((one, other) => one.size - other.size);
  if (!queue.length) return;
  const screen = await keepAwake();
  const receipts = new Receipts(db, now, ears.onPhoto);
  /** @type {unknown} */ let ended = null;
  const worker = async () => {
    for (let photo = queue.shift(); photo && !ended; photo = queue.shift()) {
      try {
        await sendOne({ db, transport, now }, photo, receipts, ears);
      } catch (error) {
        ended ??= error;
      }
    }
  };
  try {
    await Promise.all(Array.from({ length: AT_ONCE }, worker));
    await receipts.flush();
  } finally {
    await screen?.release();
  }
  if (ended) throw ended;
}

/**
 * @param {Way} way @param {Photo} photo @param {Receipts} receipts
 * @param {{onPhoto: () => void, onFault: (sentence: string) => void}} ears
 */
async function sendOne(way, photo, receipts, ears) {
  const bytes = await way.db.run(['photo_bytes'], 'readonly', (tx) => tx.store.get(photo.sha256));
  const lost = !bytes ? 'A photo is gone from this phone and cannot be sent. Take it again.'
    : (await sha256Of(bytes)) !== photo.sha256 ? 'A photo was damaged on this phone and is not sent. Take it again.'
      : null;
  const fault = lost ?? (await sendParts(way, photo, bytes, receipts));
  if (!fault) return;
  const isFinal = lost !== null || fault === WORN_OUT;
  await keep(way.db, { ...photo, offset: 0, sent: isFinal ? 1 : 0, fault });
  if (isFinal) ears.onPhoto();
  if (fault !== photo.fault) ears.onFault(fault);
}

const WORN_OUT = 'A photo arrived damaged several times, so this phone stopped sending it. Take it again.';

/**
 * @param {Way} way @param {Photo} photo @param {ArrayBuffer} bytes @param {Receipts} receipts
 * @returns {Promise<string|null>} why it does not go
 */
async function sendParts({ db, transport }, photo, bytes, receipts) {
  let { offset, restarts } = photo;
  for (let stalls = 0; stalls < MOST_STALLS;) {
    /** @type {Awaited<ReturnType<Transport['photoPart']>>} */ let got;
    try {
      got = await transport.photoPart(photo.sha256, bytes.slice(offset, offset + PART_BYTES), offset, photo.size);
    } catch (error) {
      if (!(error instanceof NoAnswer) || !OF_ONE.includes(error.word)) throw error;
      return error.sentence;
    }
    if (got.isDone) {
      await receipts.add(photo);
      return null;
    }
    restarts += got.isWrong ? 1 : 0;
    if (restarts > MOST_RESTARTS) return WORN_OUT;
    stalls = got.isWrong || got.offset > offset ? 0 : stalls + 1;
    offset = got.offset;
    await keep(db, { ...photo, offset, restarts });
  }
  return STALLED;
}

/** @param {import('../log/db.js').Store} db @param {Photo} photo */
const keep = (db, photo) => db.run(['photos'], 'readwrite', (tx) => tx.store.put(photo), { durability: 'relaxed' });

/** Receipts of photos, written some at a time. One that is lost on the way is asked for again with the photo. */
class Receipts {
  /** @param {import('../log/db.js').Store} db @param {() => number} now @param {() => void} onPhoto */
  constructor(db, now, onPhoto) {
    this.db = db;
    this.now = now;
    this.onPhoto = onPhoto;
    /** @type {Photo[]} */ this.got = [];
  }

  /** @param {Photo} photo */
  async add(photo) {
    this.got.push(photo);
    if (this.got.length >= RECEIPTS) await this.flush();
  }

  async flush() {
    const got = this.got;
    this.got = [];
    if (!got.length) return;
    await noteSent(this.db, got, this.now());
    for (const _photo of got) this.onPhoto();
  }
}

/**
 * The bytes stay until a backup made after the receipt covers what is written now: the last line of all, since lanes
 * are answered for in their order.
 * @param {import('../log/db.js').Store} db @param {Photo[]} photos @param {number} nowMs
 */
const noteSent = (db, photos, nowMs) => db.run(['photos', 'meta'], 'readwrite', async (tx) => {
  const { lanes } = await tx.objectStore('meta').get('head');
  const lane = Object.keys(lanes).findLast((id) => lanes[id].n > 0);
  const covered = lane ? { lane, n: lanes[lane].n } : null;
  for (const photo of photos) {
    tx.objectStore('photos').put({ ...photo, sent: 1, offset: photo.size, sent_ms: nowMs, covered, fault: null });
  }
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

