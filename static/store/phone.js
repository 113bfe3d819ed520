/**
 * The phone, as views see it. They read and write here and nowhere else; nothing here waits for a network but what its
 * name says does.
 */
import { browserRandom, madeUpId, nameFits, nameOfSite, newId, recordKey } from '../log/line.js';
import { Store, wasTold } from '../log/db.js';
import { Drafts } from './drafts.js';
import { forgetLoss, refill, setMark, takeMark } from './eviction.js';
import { neverSynced, openHead } from '../log/identity.js';
import { offsetHere, withWholeLetters, writeEntries } from '../log/entries.js';
import { historyOf, isShown, openFields, ownEntries, rowOf, sharedRowOf, ShownRows } from './records.js';
import { Pack } from './packed.js';
import { keepReserve } from './space.js';
import { Tally } from './tally.js';

const DATABASE = 'fieldlog';
const CHANGE_MS = 30;
const NOT_OPEN = new Set(['leader', 'medical']);

/** @typedef {'change'|'sync'|'pack'|'fault'|'emptied'} Event */
/** @template {string} K @typedef {import('../records/rows.js').RowOf<K>} RowOf */
/** @typedef {Phone & {me: import('../log/identity.js').Me}} Joined a phone of a programme */
/** @typedef {string|null|undefined} Id */
/** @typedef {import('./records.js').Wanted} Wanted @typedef {import('./records.js').Of} Of */

/** @param {any[]} rows @returns {any[]} those that nobody removed */
const standing = (rows) => rows.filter((row) => row && !row._deleted);

/**
 * @param {{now: () => number, name?: string, random?: (bits: number) => string}} options `name` and `random` differ in
 *   tests
 * @returns {Promise<Phone>}
 */
export async function openPhone({ now, name = DATABASE, random = browserRandom }) {
  const phone = new Phone(name, now, random);
  await phone.open();
  return phone;
}

export class Phone {
  /** @param {string} name @param {() => number} now @param {(bits: number) => string} random */
  constructor(name, now, random) {
    this.now = now;
    this.random = random;
    /** @type {Record<string, Set<(what: any) => void>>} */ this.listeners = {};
    this.store = new Store(name, { onFault: (sentence) => this.emit('fault', { sentence }) });
    this.shown = new ShownRows(this.store);
    this.tally = new Tally(this.store);
    this.drafts_ = new Drafts(this.store, now, (drafts) => this.counted({ drafts }));
    this.packed = new Pack();
    /** @type {import('../log/identity.js').Me|null} */ this.me = null;
    /** @type {import('./eviction.js').Lost|null} */ this.cleared = null;
    this.updateReady = false;
    /** Of whose screens a file is not here yet. @type {string[]} */ this.lackingTiers = [];
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.changeTimer = undefined;
    this.isFull = false;
    /** What is written here goes when the window is closed. */ this.isPrivate = false;
    this.syncState = neverSynced();
    /** @type {Promise<import('./online.js').Online>|null} */ this.online_ = null;
    this.channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel(`fieldlog:${name}`) : null;
  }

  async open() {
    if (await openHead(this.store, this.random)) await takeMark(this);
    // Side by side: one after the other each would wait for the disk anew.
    await Promise.all([this.readMeta(), this.tally.read(), this.shown.read('site', {})]);
    await this.readSites();
    this.store.onEmptied = (tx) => { refill(this, tx); };
    this.channel?.addEventListener('message', ({ data }) => { this.heard(data).catch(wasTold); });
    this.drafts_.flushWhenHidden();
  }

  async readMeta() {
    const names = ['me', 'sync', 'full', 'cleared', 'head'];
    const [[me, sync, full, cleared, head]] = await Promise.all([this.store.run(['meta'], 'readonly',
      (tx) => Promise.all(names.map((name) => tx.store.get(name)))), this.packed.read(this.store)]);
    this.me = me ?? null;
    Object.assign(this.syncState, sync, { past_coming: (head.past ?? null) !== null });
    this.isFull = Boolean(full);
    this.cleared = cleared ?? null;
  }

  async readSites() {
    this.packed.readSites(await this.rows('site', {}));
  }

  /** Another page of this phone wrote. @param {Event} event */
  async heard(event) {
    this.shown.forget();
    if (event === 'pack') await this.readMeta();
    else [this.me = null, this.cleared = null] = await this.store.run(['meta'], 'readonly',
      (tx) => Promise.all([tx.store.get('me'), tx.store.get('cleared')]));
    await Promise.all([this.tally.read(), this.readSites()]);
    this.emit(event, null);
  }

  /** Somebody has read what the browser took. */
  readOfLoss() { return forgetLoss(this); }

  /** @param {Record<string, any>} values */
  keepMeta(values) {
    return this.store.run(['meta'], 'readwrite',
      (tx) => { for (const [name, value] of Object.entries(values)) tx.store.put(value, name); });
  }

  /** @param {Event} event @param {(what: any) => void} fn @returns {() => void} to stop listening */
  on(event, fn) {
    (this.listeners[event] ??= new Set()).add(fn);
    return () => { this.listeners[event].delete(fn); };
  }

  /** @param {Event} event @param {any} what */
  emit(event, what) {
    for (const fn of this.listeners[event] ?? []) fn(what);
  }

  /** Tell this page and the others. @param {Event} event */
  tell(event) {
    this.emit(event, null);
    this.channel?.postMessage(event);
  }

  async setPerson(/** @type {string|null} */ personId) { await this.changeMe({ person_id: personId }); }

  /** @param {string|null} siteId */
  async setSite(siteId) {
    await this.changeMe({ site_id: siteId });
    this.online_?.then((online) => online.siteShown());
  }

  /** @param {Partial<import('../log/identity.js').Me>} changes */
  async changeMe(changes) {
    if (!this.me) return;
    this.me = { ...this.me, ...changes };
    await this.keepMeta({ me: this.me });
    setMark(this);
    this.tell('change');
  }

  /**
   * Write one entry. Resolves when it is on the disk; throws NotSaved with a sentence.
   * @template {string} K @param {K} kind @param {string|null} recordId null: a new record
   * @param {Partial<RowOf<K>>} fields
   * @param {{visitId?: string|null, siteId?: string|null, fixes?: string|null}} [envelope] `siteId`: of a new record,
   *   the chosen site where nothing is said
   */
  async write(kind, recordId, fields, envelope = {}) {
    const [written] = await this.writeMany([{ kind, recordId, fields, ...envelope }]);
    return written;
  }

  /**
   * Write several entries, all or none. `before` of each: its record as it stood before all of them.
   * @param {{kind: string, recordId: string|null, fields: Record<string, any>, visitId?: string|null,
   *   siteId?: string|null, fixes?: string|null, reopens?: string|null}[]} list
   */
  async writeMany(list) {
    const nowMs = this.now();
    const changes = list.map(({ kind, recordId, fields, visitId = null, siteId = this.me?.site_id ?? null,
      fixes = null, reopens = null }) => ({
      kind, recordId: recordId ?? this.newId(siteId), fields: withWholeLetters(fields), visitId, siteId, fixes, reopens,
    }));
    const { written, before, kept } = await writeEntries(this.store, changes, {
      nowMs, person: this.me?.person_id ?? null, random: this.random, offset: offsetHere,
      saltedKinds: this.packed.kinds((form) => form['x-salted'] || NOT_OPEN.has(form['x-privacy'])),
      guarded: (kind) => (this.me?.role === 'crew' ? this.packed.guarded(kind) : []),
    });
    this.tally.add(changes.map((change) => recordKey(change.kind, change.recordId)), nowMs,
      changes.filter((change) => change.fixes).length - changes.filter((change) => change.reopens).length);
    setMark(this);
    await this.shown.put(kept);
    if (changes.some((change) => change.kind === 'site')) await this.readSites();
    this.changed();
    this.online_?.then((online) => online.saved());
    return written.map((entry, n) => ({ ...entry, before: standing([this.asRow(before[n])])[0] }));
  }

  /** Saving comes first: who shows records reads them again a moment later, once for several writes. */
  changed() {
    this.changeTimer ??= setTimeout(() => {
      this.changeTimer = undefined;
      this.tell('change');
    }, CHANGE_MS);
  }

  /** @template {string} K @param {K} kind @param {Id} id @returns {Promise<RowOf<K>|undefined>} none if not here */
  async row(kind, id) { return standing([await this.rowOrRemoved(kind, id)])[0]; }

  /**
   * The same of one that somebody removed, too: `_deleted` says so.
   * @template {string} K @param {K} kind @param {Id} id @returns {Promise<RowOf<K>|undefined>}
   */
  async rowOrRemoved(kind, id) { return this.asRow(id ? await this.shown.one(kind, id) : undefined); }

  /** @template {string} K @param {K} kind @param {Wanted} [wanted] @returns {Promise<RowOf<K>[]>} */
  async rows(kind, wanted = {}) {
    return this.asRows((await this.shown.read(kind, wanted)).filter((record) => !record.isDeleted));
  }
  /** Removed ones too. @template {string} K @param {K} kind @param {Wanted} wanted @returns {Promise<RowOf<K>[]>} */
  async rowsAndRemoved(kind, wanted) { return this.asRows(await this.shown.read(kind, wanted)); }

  /**
   * The records of a kind that name a record, or one of several, and are of its site; of one begun here and not saved,
   * of the chosen site.
   * @template {string} K @param {K} kind @param {Of|Of[]} of @returns {Promise<RowOf<K>[]>}
   */
  async rowsOf(kind, of) { return standing(await this.rowsOfAndRemoved(kind, of)); }
  /** Removed ones too. @template {string} K @param {K} kind @param {Of|Of[]} of @returns {Promise<RowOf<K>[]>} */
  async rowsOfAndRemoved(kind, of) { return this.asRows(await this.shown.naming(kind, [of].flat(), this.siteId)); }

  get siteId() { return this.me?.site_id ?? null; }
  /** @param {import('./records.js').Kept|undefined} kept @returns {any} */
  asRow(kept) { return kept && isShown(kept) ? rowOf(kept, this.tally.stateOf, this.packed) : undefined; }
  /** @param {import('./records.js').Kept[]} kept @returns {any[]} */
  asRows(kept) { return kept.map((record) => sharedRowOf(record, this.tally.stateOf, this.packed)); }

  historyOf(/** @type {string} */ kind, /** @type {string} */ id) { return historyOf(this.store, kind, id); }
  /** @param {string} kind @param {string} id */
  disagreements(kind, id) { return openFields(this.store, kind, id, this.packed); }
  /** @param {{state?: 'phone'|'taken'|'held', limit?: number}} [wanted] */
  entries(wanted = {}) { return ownEntries(this.store, wanted); }

  counts() { return this.tally.counts; }

  /** How many things only this phone has. */
  unsent() { return this.tally.counts.phone + this.tally.counts.photos_waiting; }

  /** One photo fewer waits. */
  photoLeft() { this.counted({ photos_waiting: this.tally.counts.photos_waiting - 1 }); }

  async recount() {
    await this.tally.read();
    this.counted({});
  }

  /** @param {Partial<import('./tally.js').Counts>} changed */
  counted(changed) {
    Object.assign(this.tally.counts, changed);
    setMark(this);
    this.emit('sync', null);
  }

  /** @param {string} key @returns {Promise<Record<string, any>|undefined>} the values as they were typed */
  async draft(key) { return (await this.drafts_.read(key))?.values; }

  /**
   * @param {string} key @param {Record<string, any>} values @param {{field?: string|null, untilMs?: number}} [of]
   *   field: what changed last; untilMs: when it goes unsaved
   */
  keepDraft(key, values, { field = null, untilMs } = {}) { this.drafts_.keep(key, values, field, untilMs); }
  dropDraft(/** @type {string} */ key) { return this.drafts_.drop(key); }
  drafts() { return this.drafts_.all(); }
  pack() { return this.packed.content; }
  /** The sites of this phone, their records. @returns {import('../records/rows.js').Rows['site'][]} */
  sites() { return [...this.packed.sites.values()]; }
  tides(/** @type {string|null} */ siteId) { return this.packed.tides(siteId); }
  /** @param {string|null} siteId @param {string|null} rowId */
  windows(siteId, rowId) { return this.packed.windowsOf(siteId, rowId); }

  /** @param {string|null} siteId of the record; null: of the whole programme */
  newId(siteId) { return nameOfSite(newId(this.now(), this.random), siteId); }

  /**
   * The id of the record that a form begins. A draft goes on under its own while that may be of the chosen site.
   * @param {string} kind @param {string|null} draftId
   */
  idForForm(kind, draftId) {
    const isOfSite = this.packed.content?.forms?.kinds?.[kind]?.['x-site-bound'];
    const siteId = this.me?.site_id ?? null;
    if (!isOfSite) return draftId ?? newId(this.now(), this.random);
    return draftId && nameFits(draftId, siteId) ? draftId : this.newId(siteId);
  }

  /**
   * The id of the visit in a window, the same on every phone; one that an older app has begun keeps that one's name.
   * @param {string|null} siteId @param {string} windowId
   */
  async visitId(siteId, windowId) {
    const older = madeUpId(`visit|${siteId}|${windowId}`);
    return (await this.row('visit', older)) ? older : nameOfSite(older, siteId);
  }

  /**
   * @param {string|null} siteId @param {string} day local, YYYY-MM-DD @param {string} personId @param {number} turn
   */
  signInId(siteId, day, personId, turn) { return nameOfSite(madeUpId(`sign_in|${siteId}|${day}|${personId}|${turn}`),
    siteId); }

  async madePhoto(/** @type {Blob} */ blob) { return (await import('./photos.js')).madePhoto(blob); }
  /** @param {Blob|import('./photos.js').Made} blob @param {import('./photos.js').About} about */
  async addPhoto(blob, about) { return (await import('./photos.js')).addPhoto(this, blob, about); }
  async askedPhotos() { return (await import('./photos.js')).askedPhotos(this); }
  /** @param {import('./photos.js').Asked} asked @param {boolean|null} people */
  async recordPhoto(asked, people) { return (await import('./photos.js')).recordPhoto(this, asked, people); }

  /** @param {string} sha256 @returns {Promise<string|null>} an address to show it by; revoke a blob's after use */
  async photoUrl(sha256) {
    const { pictureOf } = await import('./photos.js');
    const picture = await pictureOf(this.store, sha256);
    if (picture) return URL.createObjectURL(picture);
    return this.me ? `/api/photos/${sha256}` : null;
  }

  async exportFile() {
    const { exportLines } = await import('../log/entries.js');
    return exportLines(this.store, this.now, this.random);
  }

  async storage() {
    const { usage = 0, quota = 0 } = (await navigator.storage?.estimate?.()) ?? {};
    return { usage, quota, persisted: (await navigator.storage?.persisted?.()) ?? false };
  }

  /** All that talks to the server, loaded after the first screen. @returns {Promise<import('./online.js').Online>} */
  online() {
    this.online_ ??= import('./online.js').then(({ Online }) => new Online(this));
    return this.online_;
  }

  async syncNow() { return (await this.online()).sync.run(); }

  /** Join with a code. @param {string} code @param {string} deviceName */
  async join(code, deviceName) {
    const [online, { join }] = await Promise.all([this.online(), import('./online.js')]);
    await join(this, online, code, deviceName);
  }

  /** Clear this phone; refused while anything waits. */
  async leave() {
    const [online, { leave }] = await Promise.all([this.online(), import('./online.js')]);
    await leave(this, online);
  }

  /** After the first screen. */
  keepReserve() { return keepReserve(this); }

  /** For lead-only screens that need the server. @param {string} method @param {string} path @param {unknown} [body] */
  async api(method, path, body) { return (await this.online()).call(method, path, body); }

  /** A new version waits. @param {() => void} take to be called at a tap */
  offerUpdate(take) {
    this.updateReady = true;
    this.takeUpdate = () => { if (!this.counts().drafts) take(); };
    this.emit('sync', null);
  }

  takeUpdate = () => {};
}
