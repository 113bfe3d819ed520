/** What is not settled yet: kept in memory, so that a screen can be drawn without asking the database. */
import { msOfStamp } from '../log/line.js';
import { readHead } from '../log/identity.js';

/**
 * @typedef {{phone: number, held: number, taken: number, photos_waiting: number, drafts: number, oldest_unsent_ms:
 *   number|null}} Counts
 */

export class Tally {
  /** @param {import('../log/db.js').Store} store */
  constructor(store) {
    this.store = store;
    this.reset();
  }

  async read() {
    const stores = ['lines', 'photos', 'drafts', 'meta'];
    const [lanes, unsent, held, photos, drafts] = await this.store.run(stores, 'readonly', async (tx) => {
      const { lanes: known } = await readHead(tx);
      const lines = tx.objectStore('lines');
      return Promise.all([
        known,
        Promise.all(Object.entries(known).filter(([, lane]) => lane.answered < lane.n)
          .map(([id, lane]) => lines.getAll(IDBKeyRange.bound([id, lane.answered + 1], [id, lane.n])))),
        lines.index('state').getAll(IDBKeyRange.bound(['held'], ['held', []])),
        tx.objectStore('photos').index('sent').count(0), tx.objectStore('drafts').count(),
      ]);
    });
    const phone = unsent.flat();
    const waiting = held.filter((/** @type {any} */ line) => !line.fixed && line.n <= lanes[line.lane].answered);
    const written = Object.values(lanes).reduce((sum, lane) => sum + lane.n, 0);
    this.unsettled = new Map([
      ...phone.map((line) => [line.record, 'phone']),
      ...waiting.map((/** @type {any} */ line) => [line.record, 'held']),
    ]);
    const stamps = phone.map((line) => line.s).filter(Boolean).sort();
    this.counts = {
      phone: phone.length, held: waiting.length, taken: written - phone.length - waiting.length, photos_waiting: photos,
      drafts,
      oldest_unsent_ms: stamps.length ? msOfStamp(stamps[0]) : null,
    };
  }

  /** Nothing is here any more. */
  reset() {
    /** @type {Map<string, 'phone'|'held'>} */ this.unsettled = new Map();
    /** @type {Counts} */ this.counts = { phone: 0, held: 0, taken: 0, photos_waiting: 0, drafts: 0,
      oldest_unsent_ms: null };
  }

  /**
   * A write has been saved.
   * @param {string[]} keys of `recordKey`, one an entry @param {number} atMs
   * @param {number} mended held ones, less those whose mending is taken back
   */
  add(keys, atMs, mended) {
    for (const key of keys) if (this.unsettled.get(key) !== 'held') this.unsettled.set(key, 'phone');
    this.counts.phone += keys.length;
    this.counts.held -= mended;
    this.counts.oldest_unsent_ms ??= atMs;
  }

  /**
   * The worst state of this phone's entries on a record.
   * @param {string} key @param {boolean} isOwn @returns {'phone'|'taken'|'held'|undefined}
   */
  stateOf = (key, isOwn) => this.unsettled.get(key) ?? (isOwn ? 'taken' : undefined);
}
