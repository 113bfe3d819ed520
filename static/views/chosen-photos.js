/**
 * Photos that somebody chose, many at once: what each file says and the picture as it will be kept, read one after the
 * other, so that one of them is decoded at a time. What waits in memory is the small picture and its thumbnail.
 */
import { parse } from '../vendor/exifr-7.1.3/lite.esm.js';

/** At once, so that what waits stays below 200 MB. Our own proposal. */
export const MOST = 200;
const THUMB_PX = 240;
/** A time stays the text that the camera wrote: made a Date, it would be of this computer's zone. */
const WANTED = { reviveValues: false, exif: { pick: ['DateTimeOriginal', 'OffsetTimeOriginal'] },
  gps: { pick: ['GPSLatitude', 'GPSLatitudeRef', 'GPSLongitude', 'GPSLongitudeRef'] } };
/** Some systems give these no type. */
const HEIC = /\.hei[cf]$/i;

/**
 * @typedef {import('./photo-match.js').Shot & {place: {lat_deg: number, lon_deg: number}|null}} Said
 * @typedef {{n: number, name: string, shot: Said, made: Made, thumbUrl: string|null,
 *   unitId: string|null|undefined, people: boolean|null, isLeftOut: boolean|undefined, typed: string|null}} Chosen
 *   unitId, isLeftOut: undefined while nobody corrected them; people: null while nobody has answered; typed: a tag that
 *   is no unit's
 * @typedef {Exclude<Awaited<ReturnType<import('./router.js').Phone['madePhoto']>>, null|string>} Made
 * @typedef {'no-picture'|'not-opened'|'here'|'twice'|'too-many'|'too-large'} Why
 */

/** The same order in which a camera counts. @param {File} one @param {File} other */
const byPath = (one, other) => pathOf(one).localeCompare(pathOf(other), undefined, { numeric: true });

/** @param {File} file */
const pathOf = (file) => file.webkitRelativePath || file.name;

/** @param {File} file */
const isPicture = (file) => file.type.startsWith('image/') || HEIC.test(file.name);

/**
 * What a file says of itself. One that says nothing, or is broken there, is a photo without a time.
 * @param {File} file @returns {Promise<Said>}
 */
export async function saidBy(file) {
  const exif = (await parse(file, WANTED).catch(() => null)) ?? {};
  const { latitude, longitude } = exif;
  const text = (/** @type {unknown} */ value) => (typeof value === 'string' ? value.trim() : null);
  return { path: pathOf(file), text: text(exif.DateTimeOriginal), offset: text(exif.OffsetTimeOriginal),
    place: Number.isFinite(latitude) && Number.isFinite(longitude)
      ? { lat_deg: latitude, lon_deg: longitude } : null };
}

/** @param {Made} made @returns {Promise<string|null>} revoke it after use */
async function thumbOf(made) {
  try {
    return await drawnThumb(made);
  } catch {
    // Memory may be short for a moment; the photo itself is there.
    return null;
  }
}

/** @param {Made} made @returns {Promise<string|null>} */
async function drawnThumb({ bytes, width, height }) {
  const scale = Math.min(1, THUMB_PX / Math.max(width ?? 1, height ?? 1));
  const [wide, high] = [width ?? 1, height ?? 1].map((side) => Math.max(1, Math.round(side * scale)));
  const canvas = document.createElement('canvas');
  Object.assign(canvas, { width: wide, height: high });
  const bitmap = await createImageBitmap(bytes, { resizeWidth: wide, resizeHeight: high });
  canvas.getContext('2d')?.drawImage(bitmap, 0, 0, wide, high);
  bitmap.close();
  const blob = /** @type {Blob|null} */ (await new Promise((resolve) => {
    canvas.toBlob(resolve, 'image/jpeg', 0.8);
  }));
  canvas.width = 0;
  return blob && URL.createObjectURL(blob);
}

export class ChosenPhotos {
  /**
   * @param {import('./router.js').Phone} phone @param {() => void} redraw
   */
  constructor(phone, redraw) {
    this.phone = phone;
    this.redraw = redraw;
    /** @type {Chosen[]} */ this.list = [];
    /** What is not added, and why. @type {{name: string, why: Why}[]} */ this.others = [];
    /** @type {{read: number, of: number}|null} while files are read */ this.progress = null;
    this.counter = 0;
    this.isClosed = false;
  }

  /** Names of the pictures that are on record. @returns {Promise<Set<string|null|undefined>>} */
  async namesHere() {
    const siteId = this.phone.me.site_id;
    const [photos, ofPeople, asked] = await Promise.all([this.phone.rows('photo', { siteId }),
      this.phone.rows('people_photo', { siteId }), this.phone.askedPhotos()]);
    return new Set([...photos, ...ofPeople, ...asked.map(({ fields }) => fields)].map(({ sha256 }) => sha256));
  }

  /** @param {File[]} files one reading at a time */
  async read(files) {
    const queue = [...files].sort(byPath);
    this.progress = { read: 0, of: queue.length };
    this.redraw();
    const here = await this.namesHere();
    for (const file of queue) {
      await this.readOne(file, here);
      if (this.isClosed) { this.close(); return; }
      this.progress.read += 1;
      this.redraw();
    }
    this.progress = null;
    this.redraw();
  }

  /** @param {File} file @param {Set<string|null|undefined>} here */
  async readOne(file, here) {
    const path = pathOf(file);
    const not = (/** @type {Why} */ why) => { this.others.push({ name: path, why }); };
    if (!isPicture(file)) return not('no-picture');
    if (this.list.length >= MOST) return not('too-many');
    const shot = await saidBy(file);
    const made = await this.phone.madePhoto(file);
    if (!made) return not('not-opened');
    if (made === 'too-large') return not('too-large');
    if (here.has(made.sha256)) return not('here');
    if (this.list.some((photo) => photo.made.sha256 === made.sha256)) return not('twice');
    this.list.push({ n: ++this.counter, name: path, shot, made, thumbUrl: await thumbOf(made), unitId: undefined,
      people: null, isLeftOut: undefined, typed: null });
  }

  /** @param {Chosen} chosen one that was added */
  drop(chosen) {
    if (chosen.thumbUrl) URL.revokeObjectURL(chosen.thumbUrl);
    this.list = this.list.filter((photo) => photo !== chosen);
  }

  close() {
    this.isClosed = true;
    for (const photo of this.list) this.drop(photo);
  }
}
