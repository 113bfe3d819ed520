/** Taking photos and showing them. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, deviceWord, icon } from './marks.js';
import { placeOfRecord } from './record-place.js';
import { savedWithUndo } from './undo.js';
import { msOf } from './words.js';

/**
 * The camera, and beside it the pictures that are there already: with `capture` some phones open nothing but the
 * camera, without it some offer none.
 * @param {(file: File) => void} take
 */
export const photoButtons = (take) => html`<div class="two">${photoButton('Take a photo', 'environment', take)}${
  photoButton('Choose a photo', nothing, take)}</div>`;

/** @param {string} word @param {'environment'|typeof nothing} capture @param {(file: File) => void} take */
const photoButton = (word, capture, take) => html`<label class="or file">${photoIcon()}${word}<input type="file"
  accept="image/*" capture=${capture} aria-label=${word} @change=${(/** @type {any} */ event) => {
    const [file] = event.target.files;
    event.target.value = '';
    if (file) take(file);
  }}></label>`;

const photoIcon = () => html`<span class="inline-icon">${icon('photo')}</span>`;

/** @typedef {Parameters<import('./router.js').Phone['recordPhoto']>[0]} Asked a photo that has no record yet */

export const PHOTO_KINDS = ['photo', 'people_photo'];

/**
 * Keep a photo at once, so that a killed app loses none, and show it with what is asked of it. The form it belongs to
 * comes first: its draft knows the id that the photo names.
 * @param {import('./router.js').Stage} stage @param {Photos} photos @param {File} file
 * @param {Parameters<import('./router.js').Phone['addPhoto']>[1] & {of_kind: string}} about
 */
export async function keepPhoto(stage, photos, file, about) {
  /** @type {Asked|null} */ let asked = null;
  const isKept = await stage.saving(async () => {
    await stage.phone.drafts();
    ({ asked } = await stage.phone.addPhoto(file, about));
  });
  if (!isKept || !asked) return;
  await photos.readAgain();
  stage.say(`Photo kept on this ${deviceWord()}.`, removal(stage, photos, asked, null));
}

/**
 * What takes a photo back: one that waits for its answer is written and removed, so that the log knows of it.
 * @param {import('./router.js').Stage} stage @param {Photos} photos @param {Asked} asked
 * @param {string|null} kind of its record, null where it has none yet
 */
const removal = (stage, photos, asked, kind) => async () => {
  const { recordId, visitId } = asked;
  const isBack = await stage.saving(async () => {
    const written = kind ?? await stage.phone.recordPhoto(asked, null);
    await stage.phone.write(written, recordId, { _deleted: true }, { visitId });
  });
  if (!isBack) return;
  await photos.readAgain();
  stage.say('Undone.');
  stage.redraw();
};

/**
 * The entries that say of a photo on record whether people can be recognized on it. A kind cannot change: where that is
 * another, the record is removed and written anew with the same file.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {boolean} people
 * @returns {import('./undo.js').Change[]} none where it says so already
 */
export function saidOfPeople(phone, kind, row, people) {
  const visitId = row.visit_id ?? null;
  const wanted = people ? 'people_photo' : 'photo';
  const recognizable = people ? { recognizable: true } : {};
  if (kind === wanted) {
    return people && !row.recognizable
      ? [{ kind, recordId: row.record_id, fields: recognizable, visitId }] : [];
  }
  const { properties } = phone.pack()?.forms.kinds.photo ?? { properties: {} };
  const filled = Object.keys(properties).filter((name) => name !== '_deleted' && (row[name] ?? null) !== null);
  const fields = { ...Object.fromEntries(filled.map((name) => [name, row[name]])), ...recognizable };
  return [{ kind: wanted, recordId: phone.newId(row.site_id), fields, visitId, siteId: row.site_id },
    { kind, recordId: row.record_id, fields: { _deleted: true }, visitId }];
}

/**
 * The question, never answered beforehand: one tap answers it.
 * @param {string} id @param {boolean|undefined} value @param {(people: boolean) => void} pick
 */
export const peopleQuestion = (id, value, pick) => choices({ name: `people-${id}`, legend: 'People recognizable?',
  choices: [{ value: false, label: 'No' }, { value: true, label: 'Yes' }], value, pick });

/** A picture that no network brings, or that the browser cannot show. @param {{target: any}} event */
export function absent({ target }) {
  target.hidden = true;
  target.nextElementSibling.hidden = false;
}

/**
 * @typedef {{photo: any, url: string|null, kind?: string, asked?: Asked}} Shown `asked`:
 *   of a photo that has no record yet
 */

/**
 * Photos of some records with their addresses. Addresses of pictures on the phone are given back by close().
 */
export class Photos {
  /**
   * @param {import('./router.js').Phone} phone
   * @param {import('./router.js').Stage|null} [stage] where whoever looks may answer what is asked of a photo
   */
  constructor(phone, stage = null) {
    this.phone = phone;
    this.stage = stage;
    /** The newest of them, newest first. @type {Shown[]} */ this.list = [];
    /** How many there are. */ this.total = 0;
    /** @type {Map<string, string|null>} */ this.urls = new Map();
    /** @type {() => Promise<void>} */ this.readAgain = async () => {};
  }

  /** @param {{kind: string, id: string}[]} of @param {number} [most] */
  async read(of, most = 12) {
    this.readAgain = () => this.read(of, most);
    const { phone } = this;
    const [asked, ...kinds] = await Promise.all([this.stage ? phone.askedPhotos() : [],
      ...PHOTO_KINDS.map((kind) => phone.rowsOf(/** @type {'photo'} */ (kind), of))]);
    const ids = new Set(of.map(({ id }) => id));
    /** @type {Omit<Shown, 'url'>[]} */ const shown = [
      ...asked.filter(({ fields }) => ids.has(fields.of_id ?? ''))
        .map((waiting) => ({ photo: waiting.fields, asked: waiting })),
      ...kinds.flatMap((rows, n) => rows.map((photo) => ({ photo, kind: PHOTO_KINDS[n] }))),
    ];
    const at = (/** @type {Omit<Shown, 'url'>} */ { photo }) => msOf(photo.taken_at) ?? 0;
    const newest = shown.sort((one, other) => at(other) - at(one)).slice(0, most);
    this.total = shown.length;
    for (const { photo: { sha256 } } of newest) {
      if (sha256 && !this.urls.get(sha256)) this.urls.set(sha256, await phone.photoUrl(sha256));
    }
    this.list = newest.map((photo) => ({ ...photo, url: this.urls.get(photo.photo.sha256 ?? '') ?? null }));
  }

  /**
   * Whether whoever looks is asked: of a photo without a record, and of one of their own, or as a lead.
   * @param {Shown} of
   */
  isAsked({ photo, kind, asked }) {
    if (asked) return true;
    if (!this.stage || kind !== 'people_photo' || (photo.recognizable ?? null) !== null) return false;
    return this.phone.me?.role === 'lead' || photo.entry_state !== undefined;
  }

  /** @param {Shown} shown @param {boolean} people */
  async answer({ photo, kind, asked }, people) {
    const stage = /** @type {import('./router.js').Stage} */ (this.stage);
    const sentence = people ? 'Saved as a photo of people.'
      : `Photo saved on this ${deviceWord()}.`;
    /** @type {(() => Promise<unknown>)|null} */ let undo = null;
    if (asked) {
      /** @type {string|null} */ let written = null;
      await stage.saving(async () => { written = await this.phone.recordPhoto(asked, people); });
      if (written) undo = removal(stage, this, asked, written);
    } else {
      const back = await savedWithUndo(stage, saidOfPeople(this.phone, kind ?? '', photo, people));
      undo = back && (async () => { if (await back()) { await this.readAgain(); stage.redraw(); } });
    }
    if (!undo) return;
    await this.readAgain();
    stage.say(sentence, undo);
    stage.redraw();
  }

  /** @param {(photo: any) => string} caption */
  draw(caption) {
    if (!this.list.length) return nothing;
    return html`<div class="photos">${this.list.map((shown) => this.figure(shown, caption(shown.photo)))}</div>`;
  }

  /** @param {Shown} shown @param {string} words */
  figure(shown, words) {
    const { photo, url, kind, asked } = shown;
    const picture = html`${url
      ? html`<img src=${url} alt=${photo.shows || 'Photo without a caption'} loading="lazy" @error=${absent}>`
      : nothing}<span class="none small" ?hidden=${url !== null}>${url?.startsWith('blob:')
        ? 'kept, but this browser cannot show it' : `not on this ${deviceWord()}`}</span>`;
    if (this.isAsked(shown)) {
      const id = asked?.recordId ?? photo.record_id;
      return html`<figure class="asks"><div>${picture}</div>${
        peopleQuestion(id, undefined, (people) => this.answer(shown, people))}</figure>`;
    }
    const place = this.stage && kind ? placeOfRecord(this.phone, kind, photo.record_id) : null;
    const label = kind === 'people_photo' ? `People${words ? `: ${words}` : ''}` : words;
    return html`<figure>${place ? html`<a href=${place}>${picture}</a>` : picture}<figcaption
      class="small">${label}</figcaption></figure>`;
  }

  close() {
    for (const url of this.urls.values()) if (url?.startsWith('blob:')) URL.revokeObjectURL(url);
  }
}
