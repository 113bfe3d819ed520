/** Taking photos and showing them. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { icon } from './marks.js';
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

/**
 * Keep a photo at once, so that a killed app loses none, and show it. The form it belongs to comes first: its draft
 * knows the id that the photo names.
 * @param {import('./router.js').Stage} stage @param {Photos} photos @param {File} file
 * @param {Parameters<import('./router.js').Phone['addPhoto']>[1] & {of_kind: string}} about
 */
export async function keepPhoto(stage, photos, file, about) {
  let recordId = '';
  const isKept = await stage.saving(async () => {
    await stage.phone.drafts();
    ({ recordId } = await stage.phone.addPhoto(file, about));
  });
  if (!isKept) return;
  const show = () => photos.read([{ kind: about.of_kind, id: about.of_id }]);
  await show();
  stage.say('Photo saved on this phone.', async () => {
    const removal = { _deleted: true };
    const isBack = await stage.saving(() => stage.phone.write('photo', recordId, removal, { visitId: about.visitId }));
    if (!isBack) return;
    await show();
    stage.say('Undone.');
    stage.redraw();
  });
}

/** A picture that no network brings, or that the browser cannot show. @param {{target: any}} event */
function absent({ target }) {
  target.hidden = true;
  target.nextElementSibling.hidden = false;
}

/**
 * Photos of some records with their addresses. Addresses of pictures on the phone are given back by close().
 */
export class Photos {
  /** @param {import('./router.js').Phone} phone */
  constructor(phone) {
    this.phone = phone;
    /** @type {{photo: any, url: string|null}[]} */ this.list = [];
    /** @type {Map<string, string|null>} */ this.urls = new Map();
  }

  /** @param {{kind: string, id: string}[]} of @param {number} [most] */
  async read(of, most = 12) {
    const photos = await this.phone.rowsOf('photo', of);
    photos.sort((one, other) => (msOf(other.taken_at) ?? 0) - (msOf(one.taken_at) ?? 0));
    for (const { sha256 } of photos.slice(0, most)) {
      if (sha256 && !this.urls.get(sha256)) this.urls.set(sha256, await this.phone.photoUrl(sha256));
    }
    this.list = photos.slice(0, most).map((photo) => ({ photo, url: this.urls.get(photo.sha256 ?? '') ?? null }));
  }

  /** @param {(photo: any) => string} caption */
  draw(caption) {
    if (!this.list.length) return nothing;
    return html`<div class="photos">${this.list.map(({ photo, url }) => html`<figure>${url
      ? html`<img src=${url} alt=${photo.shows || 'Photo without a caption'} loading="lazy" @error=${absent}>`
      : nothing}<span class="none small" ?hidden=${url !== null}>${url?.startsWith('blob:')
        ? 'kept, but this browser cannot show it' : 'not on this phone'}</span><figcaption
        class="small">${caption(photo)}</figcaption></figure>`)}</div>`;
  }

  close() {
    for (const url of this.urls.values()) if (url?.startsWith('blob:')) URL.revokeObjectURL(url);
  }
}
