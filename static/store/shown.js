/**
 * Rows as they were last read, kept in memory: a save puts in its own, so that a screen that stays open need not read
 * thousands of others again. Whatever else changes records empties it.
 */
import { keptRows } from './records.js';

/** @typedef {import('./folding.js').Kept} Kept */

export class ShownRows {
  /** @param {import('./db.js').Store} store */
  constructor(store) {
    this.store = store;
    /** @type {Map<string, {kind: string, site: string|null, rows: Promise<Map<string, Kept>>}>} */ this.lists = new Map();
  }

  /**
   * The records of a kind; the whole lists of a site are remembered, narrower ones are read each time.
   * @param {string} kind @param {import('./records.js').Wanted} wanted @returns {Promise<Kept[]>}
   */
  async read(kind, wanted) {
    const { siteId = null, visitId = null, where } = wanted;
    if (visitId !== null || where) return keptRows(this.store, kind, wanted);
    const key = `${kind}|${siteId ?? ''}`;
    let list = this.lists.get(key);
    if (!list) {
      const rows = keptRows(this.store, kind, wanted).then((found) => new Map(found.map((kept) => [kept.id, kept])));
      list = { kind, site: siteId, rows };
      this.lists.set(key, list);
      rows.catch(() => this.lists.delete(key));
    }
    return [...(await list.rows).values()];
  }

  /** Records that this page has just written. @param {Kept[]} written */
  async put(written) {
    for (const list of this.lists.values()) {
      const rows = await list.rows;
      for (const kept of written) {
        if (kept.kind !== list.kind || (list.site !== null && kept.site !== list.site && kept.site !== '')) continue;
        if (kept.isDeleted) rows.delete(kept.id);
        else rows.set(kept.id, kept);
      }
    }
  }

  /** Anything may have changed. */
  forget() {
    this.lists.clear();
  }
}
