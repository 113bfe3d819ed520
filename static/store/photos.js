/**
 * Photos on the phone: made smaller, named by content, kept as bytes with their type (a stored Blob may not be readable
 * later).
 */
import { instant } from '../instants.js';
import { sha256Of } from '../sync/photo-upload.js';
import { NotSaved, SENTENCES, wasTold } from '../log/db.js';
import { lookForSpace } from './space.js';

const LONG_SIDE_PX = 2048;
const QUALITY = 0.85;
const HEIC = 'image/heic';
const MOST_BYTES = 8 * 1024 * 1024;
/** @type {Picture['type'][]} */ const KEPT_TYPES = ['image/jpeg', 'image/png', 'image/webp', HEIC];

/** What the record of a photo will say, by its name, in `meta`. */
const ASKED = 'asked|';
const ASKED_MS = 10 * 60 * 1000;

/**
 * @typedef {import('../records/rows.js').Photo} Photo
 * @typedef {{of_kind: Photo['of_kind'], of_id: string, shows?: Photo['shows'], visitId?: string|null,
 *   taken_at?: string, people?: boolean|null}} About `people`: whether people can be recognized, null where nobody
 *   can say; left out where that is asked
 * @typedef {{recordId: string, siteId: string|null, visitId: string|null, fields: Partial<Photo>,
 *   at_ms: number}} Asked a photo that is kept and has no record yet
 * @typedef {{bytes: ArrayBuffer, type: NonNullable<Photo['media_type']>, width: number|null,
 *   height: number|null}} Picture
 * @typedef {Omit<Picture, 'bytes'> & {bytes: Blob, sha256: string}} Made
 */

/**
 * A picture of at most 2048 px, upright and without metadata; one that this browser cannot decode stays as it is.
 * @param {Blob} blob @returns {Promise<Picture>}
 */
export async function smaller(blob) {
  if (!blob.size) throw new NotSaved(SENTENCES.noPicture);
  return (await drawnSmaller(blob)) ?? asItIs(blob);
}

/**
 * A picture as it will be kept, and its name, made before it is kept: of many the bytes wait where the browser may put
 * them on its disk.
 * @param {Blob} blob @returns {Promise<Made|'too-large'|null>} null where it is no picture that this browser or the
 *   server can decode
 */
export async function madePhoto(blob) {
  const drawn = blob.size ? await drawnSmaller(blob) : null;
  if (!drawn && !await isHeic(blob)) return null;
  if (!drawn && blob.size > MOST_BYTES) return 'too-large';
  const picture = drawn ?? { ...await asItIs(blob), type: HEIC };
  return { ...picture, bytes: new Blob([picture.bytes], { type: picture.type }),
    sha256: await sha256Of(picture.bytes) };
}

/**
 * Few browsers decode HEIC, but the server does: it stays as it is. Told by how its bytes begin (ISO/IEC 23008-12, the
 * brands from memory), since some systems give such files no type.
 * @param {Blob} blob @returns {Promise<boolean>}
 */
async function isHeic(blob) {
  const begins = await blob.slice(4, 12).text().catch(() => '');
  return /^ftyp(hei[cxms]|hev[cxms]|mif1|msf1)$/.test(begins);
}

/** @param {Blob} blob @returns {Promise<Picture|null>} null where this browser could not decode or draw it */
async function drawnSmaller(blob) {
  const full = await sizeOf(blob);
  if (!full) return null;
  const scale = Math.min(1, LONG_SIDE_PX / Math.max(full.width, full.height));
  const [width, height] = [full.width, full.height].map((side) => Math.max(1, Math.round(side * scale)));
  const canvas = document.createElement('canvas');
  Object.assign(canvas, { width, height });
  try {
    const bitmap = await createImageBitmap(blob, { resizeWidth: width, resizeHeight: height, resizeQuality: 'high' });
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d'));
    pen.drawImage(bitmap, 0, 0, width, height);
    bitmap.close();
    const made = /** @type {Blob|null} */ (await new Promise((resolve) => {
      canvas.toBlob(resolve, 'image/jpeg', QUALITY);
    }));
    return made && { bytes: await made.arrayBuffer(), type: 'image/jpeg', width, height };
  } catch {
    // A header that reads well says nothing of the rest, and memory may be short: whatever it was, the bytes are here.
    return null;
  } finally {
    canvas.width = 0;
  }
}

/** @param {Blob} blob @returns {Promise<Picture>} */
async function asItIs(blob) {
  if (blob.size > MOST_BYTES) throw new NotSaved(SENTENCES.photoLarge);
  const type = KEPT_TYPES.find((known) => known === blob.type) ?? HEIC;
  const bytes = await blob.arrayBuffer().catch((error) => { throw new NotSaved(SENTENCES.photoUnread, error); });
  return { bytes, type, width: null, height: null };
}

/**
 * Width and height as shown (turned upright), without decoding all of it.
 * @param {Blob} blob @returns {Promise<{width: number, height: number}|null>}
 */
function sizeOf(blob) {
  const url = URL.createObjectURL(blob);
  const image = new Image();
  return new Promise((resolve) => {
    const done = () => {
      URL.revokeObjectURL(url);
      resolve(image.naturalWidth ? { width: image.naturalWidth, height: image.naturalHeight } : null);
    };
    image.onload = done;
    image.onerror = done;
    image.src = url;
  });
}

/**
 * Keep a picture until its receipt is durable.
 * @param {import('../log/db.js').Store} store @param {Picture} picture @param {number} nowMs
 * @returns {Promise<string>} its name, 64 hex digits
 */
export async function keepPicture(store, { bytes, type }, nowMs) {
  const sha256 = await sha256Of(bytes);
  await store.run(['photos', 'photo_bytes'], 'readwrite', async (tx) => {
    if (await tx.objectStore('photos').get(sha256)) return;
    tx.objectStore('photos').put({
      sha256, type, size: bytes.byteLength, sent: 0, offset: 0, restarts: 0, at_ms: nowMs, sent_ms: null, covered: null,
      fault: null,
    });
    tx.objectStore('photo_bytes').put(bytes, sha256);
  }, { mayUseReserve: false });
  return sha256;
}

/**
 * Keep a photo. Its record is written when it is known whether people can be recognized on it, at once where `people`
 * says so; until then what it will say is kept beside the bytes.
 * @param {import('./phone.js').Phone} phone @param {Blob|Made} given @param {About} about
 */
export async function addPhoto(phone, given, { of_kind, of_id, shows = null, visitId = null, taken_at, people }) {
  await lookForSpace(phone);
  if (phone.isFull) throw new NotSaved(SENTENCES.photosFull);
  const picture = given instanceof Blob ? await smaller(given)
    : { ...given, bytes: await given.bytes.arrayBuffer() };
  const sha256 = await keepWhileRoom(phone, picture);
  const fields = {
    of_kind, of_id, sha256, bytes: picture.bytes.byteLength, media_type: picture.type, width_px: picture.width,
    height_px: picture.height, shows, taken_at: taken_at ?? instant(phone.now()),
  };
  const { siteId } = phone;
  /** @type {Asked} */ const asked = { recordId: phone.newId(siteId), siteId, visitId, fields, at_ms: phone.now() };
  if (people === undefined) await phone.keepMeta({ [ASKED + asked.recordId]: asked });
  else await recordPhoto(phone, asked, people);
  phone.tally.counts.photos_waiting += 1;
  return { recordId: asked.recordId, sha256, asked };
}

/**
 * Write the record of a photo that was kept.
 * @param {import('./phone.js').Phone} phone @param {Asked} asked
 * @param {boolean|null} people whether people can be recognized; null where nobody said, which counts as yes
 * @returns {Promise<'photo'|'people_photo'>} the kind that it is of
 */
export async function recordPhoto(phone, { recordId, siteId, visitId, fields }, people) {
  const kind = people === false ? 'photo' : 'people_photo';
  await phone.write(kind, recordId, people ? { ...fields, recognizable: true } : fields, { visitId, siteId });
  await phone.store.run(['meta'], 'readwrite', (tx) => { tx.store.delete(ASKED + recordId); });
  return kind;
}

/** @param {import('./phone.js').Phone} phone @returns {Promise<Asked[]>} photos that wait for the answer */
export const askedPhotos = (phone) => phone.store.run(['meta'], 'readonly',
  (tx) => tx.store.getAll(IDBKeyRange.bound(ASKED, `${ASKED}~`)));

/**
 * Write the records of photos about which nobody has said anything for a while: as such of people, which can be
 * answered later. An app that was killed between its two writes had one written already.
 * @param {import('./phone.js').Phone} phone
 */
export async function settleAsked(phone) {
  for (const asked of await askedPhotos(phone)) {
    if (phone.now() - asked.at_ms < ASKED_MS) continue;
    const kinds = ['photo', 'people_photo'];
    const written = await Promise.all(kinds.map((kind) => phone.rowOrRemoved(kind, asked.recordId)));
    if (written.some(Boolean)) await phone.store.run(['meta'], 'readwrite', (tx) => {
      tx.store.delete(ASKED + asked.recordId);
    });
    else await recordPhoto(phone, asked, null);
  }
}

/**
 * The first photo that finds no space is the last one, so that text still does.
 * @param {import('./phone.js').Phone} phone @param {Picture} picture
 */
export async function keepWhileRoom(phone, picture) {
  try {
    return await keepPicture(phone.store, picture, phone.now());
  } catch (error) {
    if (!(error instanceof NotSaved)) throw error;
    phone.isFull = true;
    await phone.keepMeta({ full: true }).catch(wasTold);
    throw new NotSaved(SENTENCES.photosFull, error);
  }
}

/**
 * @param {import('../log/db.js').Store} store @param {string} sha256
 * @returns {Promise<Blob|null>} null where it is not on this phone
 */
export const pictureOf = (store, sha256) => store.run(['photos', 'photo_bytes'], 'readonly', async (tx) => {
  const [photo, bytes] = await Promise.all([tx.objectStore('photos').get(sha256),
    tx.objectStore('photo_bytes').get(sha256)]);
  return photo && bytes ? new Blob([bytes], { type: photo.type }) : null;
});
