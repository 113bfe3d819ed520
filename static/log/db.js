/**
 * The phone's database. Every use goes through `run`: it opens a connection that died in the background anew, gives
 * text the space that was kept for it, and never lets a failed write pass for a saved one.
 *
 * Lines are opaque text that no migration touches; others, records are a cache that is rebuilt from lines.
 */
import { openDB } from '../vendor/idb-8.0.4/index.js';
import { whenIdle } from '../idle.js';

/* What the phone says when it cannot do what was asked. Views show `sentence`. */

export class NotSaved extends Error {
  /** @param {string} sentence @param {unknown} [cause] */
  constructor(sentence, cause) {
    super(sentence, { cause });
    this.name = 'NotSaved';
    this.sentence = sentence;
  }
}

export class Refused extends Error {
  /** @param {string} sentence @param {string} [word] */
  constructor(sentence, word = 'refused') {
    super(sentence);
    this.name = 'Refused';
    this.sentence = sentence;
    this.word = word;
  }
}

export const SENTENCES = {
  full: 'NOT SAVED. This phone has no space left. Free some space (photos, videos, other apps), then save again.',
  storage: 'NOT SAVED. This phone\'s storage does not answer. Close Fieldlog and open it again, then save again.',
  unread: 'This phone\'s storage does not answer. Close Fieldlog and open it again; what was saved is kept.',
  cleared: 'NOT SAVED. The browser cleared what this phone had stored. Load Fieldlog again, tell your lead, then '
    + 'join again.',
  newer: 'A newer version of Fieldlog is open in another window. Load this one again before you go on.',
  blocked: 'Another window of Fieldlog holds on to an older version. Close the other windows; this one then goes on.',
  unusable: 'This browser keeps nothing on this phone (a private window, or storage switched off). Open Fieldlog in a '
    + 'normal window, or install it.',
  photosFull: 'NOT SAVED. This phone has no space left for photos. Text is still saved. Sync, so that photos can '
    + 'leave this phone, or free some space.',
  photoLarge: 'This picture is larger than 8 MB and this phone cannot make it smaller. Take it again at a smaller '
    + 'size.',
  photoUnread: 'NOT SAVED. This phone gave no access to the picture. Copy it to this phone first, or take it again.',
  noPicture: 'This file is empty. Take the picture again.',
};

/** For work that nobody waits for: the fault was shown when it arose. @param {unknown} error */
export const wasTold = (error) => { if (!(error instanceof NotSaved)) throw error; };

export const SCHEMA_VERSION = 1;
const BALLAST_PARTS = 8;
const PART_BYTES = 1024 * 1024;
/** The most that getRandomValues gives at once. */
const RANDOM_BYTES = 65_536;
/** So many are drawn at once: some 15 ms of a slow phone. */
const IDLE_BYTES = 4 * RANDOM_BYTES;
const CONNECTION_LOST = ['InvalidStateError', 'UnknownError', 'AbortError', 'TimeoutError'];
const SPACE_LOST = ['QuotaExceededError', 'UnknownError'];

/** @typedef {any} Connection as idb wraps it */
/** @typedef {any} Work a transaction as idb wraps it */

/** @param {Connection} db */
function layOut(db) {
  const lines = db.createObjectStore('lines', { keyPath: ['lane', 'n'] });
  lines.createIndex('id', 'id');
  lines.createIndex('record', 'record');
  lines.createIndex('state', ['state', 'lane', 'n']);
  db.createObjectStore('others', { keyPath: 'id' }).createIndex('record', 'record');
  const records = db.createObjectStore('records', { keyPath: ['kind', 'id'] });
  records.createIndex('place', ['kind', 'site']);
  records.createIndex('ref', 'refs', { multiEntry: true });
  db.createObjectStore('drafts', { keyPath: 'key' });
  db.createObjectStore('photos', { keyPath: 'sha256' }).createIndex('sent', 'sent');
  db.createObjectStore('photo_bytes');
  db.createObjectStore('meta');
  db.createObjectStore('ballast');
}

export class Store {
  /**
   * @param {string} name of the database
   * @param {{onFault: (sentence: string) => void, version?: number}} options `version` differs only where two versions
   *   of the app meet
   */
  constructor(name, { onFault, version = SCHEMA_VERSION }) {
    this.name = name;
    this.version = version;
    this.onFault = onFault;
    /** @type {Promise<Connection>|null} */ this.opening = null;
    /**
     * Told when a database that this page had open is laid out anew: the browser emptied it.
     * @type {(tx: Work) => void}
     */
    this.onEmptied = () => {};
    this.isOutdated = false;
  }

  /** @returns {Promise<Connection>} */
  connection() {
    /** @type {Promise<Connection>} */ const opening = this.opening ?? openDB(this.name, this.version, {
      upgrade: (/** @type {Connection} */ db, /** @type {number} */ from, /** @type {number} */ _to,
        /** @type {Work} */ tx) => {
        if (from >= 1) return;
        layOut(db);
        this.onEmptied(tx);
      },
      blocked: () => this.onFault(SENTENCES.blocked),
      blocking: (/** @type {number} */ _now, /** @type {number|null} */ _wanted, /** @type {Event} */ event) => {
        this.isOutdated = true;
        /** @type {IDBDatabase} */ (event.target).close();
        this.opening = null;
        this.onFault(SENTENCES.newer);
      },
      terminated: () => { this.opening = null; },
    });
    this.opening = opening;
    return opening;
  }

  async close() {
    const opening = this.opening;
    this.opening = null;
    if (opening) (await opening).close();
  }

  /**
   * Do `work` in one transaction; resolves when it is complete. A write is on the disk then (`strict`).
   * @template T
   * @param {string[]} stores @param {'readonly'|'readwrite'} mode @param {(tx: Work) => Promise<T>|T} work awaits
   *   nothing but this transaction
   * @param {{durability?: 'strict'|'relaxed', mayUseReserve?: boolean}} [options] photos leave the reserve to text
   * @returns {Promise<T>}
   */
  async run(stores, mode, work, { durability = 'strict', mayUseReserve = true } = {}) {
    /** @type {any} */ let last;
    for (let attempt = 0; attempt < 3; attempt++) {
      try {
        return await this.once(stores, mode, work, durability);
      } catch (error) {
        last = error;
        if (!(await this.mend(last, mode, attempt, mayUseReserve))) break;
      }
    }
    throw this.fault(last, mode);
  }

  /**
   * @template T @param {string[]} stores @param {'readonly'|'readwrite'} mode @param {(tx: Work) => Promise<T>|T} work
   * @param {'strict'|'relaxed'} durability @returns {Promise<T>}
   */
  async once(stores, mode, work, durability) {
    const db = await this.connection();
    const tx = db.transaction(stores, mode, { durability });
    const done = tx.done.then(() => null, (/** @type {any} */ error) => error ?? tx.error);
    try {
      const result = await work(tx);
      const fault = await done;
      if (fault) throw fault;
      return result;
    } catch (error) {
      // What failed may be the request that ended the transaction; its own error says why.
      try { tx.abort(); } catch (ended) { if (/** @type {Error} */ (ended).name !== 'InvalidStateError') throw ended; }
      throw tx.error ?? error;
    }
  }

  /**
   * Whether another try makes sense.
   * @param {any} error @param {string} mode @param {number} attempt @param {boolean} mayUseReserve
   */
  async mend(error, mode, attempt, mayUseReserve) {
    if (this.isOutdated) return false;
    const isWrite = mode === 'readwrite';
    if (isWrite && SPACE_LOST.includes(error?.name) && (attempt || error.name === 'QuotaExceededError')) {
      return (await this.dropBallast()) && mayUseReserve;
    }
    if (!CONNECTION_LOST.includes(error?.name)) return false;
    await this.close().catch(() => { this.opening = null; });
    return attempt < (isWrite ? 2 : 1);
  }

  /** @param {any} error @param {string} mode */
  fault(error, mode) {
    if (error instanceof NotSaved) this.onFault(error.sentence);
    const known = [...CONNECTION_LOST, ...SPACE_LOST, 'VersionError'];
    if (!known.includes(error?.name)) return error;
    const sentence = this.isOutdated || error.name === 'VersionError' ? SENTENCES.newer
      : mode === 'readonly' ? SENTENCES.unread
        : error.name === 'QuotaExceededError' ? SENTENCES.full : SENTENCES.storage;
    this.onFault(sentence);
    return new NotSaved(sentence, error);
  }

  /** Give back the space that was kept for text. @returns {Promise<boolean>} whether there was any */
  async dropBallast() {
    try {
      return await this.once(['ballast'], 'readwrite', async (tx) => {
        const parts = await tx.store.count();
        await tx.store.clear();
        return parts > 0;
      }, 'strict');
    } catch {
      return false;
    }
  }

  /**
   * Keep space for text: random bytes, which no disk compresses, a piece whenever the page is idle. An entry that needs
   * the space meanwhile gets it, and the rest is not laid.
   * @returns {Promise<boolean>} whether it stands
   */
  async layBallast() {
    const have = await this.run(['ballast'], 'readonly', (tx) => tx.store.count());
    for (let part = have; part < BALLAST_PARTS; part++) {
      const bytes = new Uint8Array(PART_BYTES);
      for (let start = 0; start < PART_BYTES; start += RANDOM_BYTES) {
        if (start % IDLE_BYTES === 0) await whenIdle();
        crypto.getRandomValues(bytes.subarray(start, start + RANDOM_BYTES));
      }
      try {
        const isLaid = await this.once(['ballast'], 'readwrite', async (tx) => {
          if (await tx.store.count() < part) return false;
          await tx.store.put(bytes.buffer, part);
          return true;
        }, 'relaxed');
        if (!isLaid) return false;
      } catch {
        await this.dropBallast();
        return false;
      }
    }
    return true;
  }
}
