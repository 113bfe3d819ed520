/** Forms that are not saved yet: kept within 300 ms of a change, and at once when the app is hidden. */
import { wasTold } from '../log/db.js';

const WAIT_MS = 250;

/**
 * @typedef {{key: string, values: Record<string, any>, field: string|null, at_ms: number, until_ms?: number}} Draft
 * until_ms: when it goes unsaved, where it may not stay
 */

export class Drafts {
  /**
   * @param {import('../log/db.js').Store} store @param {() => number} now
   * @param {(count: number) => void} onChange when a draft came or went: how many there are now
   */
  constructor(store, now, onChange) {
    this.store = store;
    this.now = now;
    this.onChange = onChange;
    /** @type {Map<string, Draft>} */ this.waiting = new Map();
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.timer = undefined;
  }

  /**
   * @param {string} key @param {Record<string, any>} values @param {string|null} field the one that was changed last
   * @param {number} [untilMs] when it goes unsaved
   */
  keep(key, values, field, untilMs) {
    this.waiting.set(key, { key, values: { ...values }, field, at_ms: this.now(),
      ...(untilMs === undefined ? {} : { until_ms: untilMs }) });
    this.timer ??= setTimeout(() => { this.flush().catch(wasTold); }, WAIT_MS);
  }

  flushWhenHidden() {
    const flush = () => { this.flush().catch(wasTold); };
    document.addEventListener('visibilitychange', () => { if (document.hidden) flush(); });
    window.addEventListener('pagehide', flush);
  }

  /** Write what waits; called by the timer and when the page is hidden. @returns {Promise<void>} */
  async flush() {
    clearTimeout(this.timer);
    this.timer = undefined;
    const drafts = [...this.waiting.values()];
    if (!drafts.length) return;
    await this.change((kept) => { for (const draft of drafts) kept.put(draft); });
    for (const draft of drafts) if (this.waiting.get(draft.key) === draft) this.waiting.delete(draft.key);
  }

  /** @param {(kept: any) => void} write */
  async change(write) {
    const [before, after] = await this.store.run(['drafts'], 'readwrite', (tx) => {
      const counts = [tx.store.count()];
      write(tx.store);
      counts.push(tx.store.count());
      // The page may be gone before the answers come.
      tx.commit();
      return Promise.all(counts);
    }, { durability: 'relaxed' });
    if (before !== after) this.onChange(after);
  }

  /** @param {string} key @returns {Promise<Draft|undefined>} */
  async read(key) {
    const draft = this.waiting.get(key) ?? await this.store.run(['drafts'], 'readonly', (tx) => tx.store.get(key));
    return draft && this.isOver(draft) ? undefined : draft;
  }

  /** @param {Draft} draft */
  isOver({ until_ms: untilMs }) { return untilMs !== undefined && untilMs <= this.now(); }

  /**
   * Those whose time is over go, here and from the disk.
   * @param {boolean} [all] of all that may not stay: this phone lost its rights
   */
  async dropOver(all = false) {
    const drafts = await this.store.run(['drafts'], 'readonly', (tx) => tx.store.getAll());
    const over = [...drafts, ...this.waiting.values()].filter((draft) => (all ? draft.until_ms !== undefined
      : this.isOver(draft)));
    for (const { key } of over) await this.drop(key);
  }

  /** @returns {Promise<Draft[]>} newest first */
  async all() {
    await this.flush();
    await this.dropOver();
    const drafts = await this.store.run(['drafts'], 'readonly', (tx) => tx.store.getAll());
    return drafts.sort((/** @type {Draft} */ one, /** @type {Draft} */ other) => other.at_ms - one.at_ms);
  }

  /** @param {string} key */
  async drop(key) {
    this.waiting.delete(key);
    await this.change((kept) => kept.delete(key));
  }
}
