/** What the server derived for this phone: forms, tide numbers, windows, flags. Kept as text, read once. */
import { madeUpId } from '../sync/line.js';
import { unpackWindows } from '../tides/pack.js';
import { windowName } from '../tides/windows.js';

export class Pack {
  constructor() {
    /** @type {any} */ this.content = null;
    /** @type {Map<string, any[]>} */ this.windows = new Map();
    /** @type {Map<string, any>} */ this.sites = new Map();
    this.siteText = '';
  }

  /** @param {string|undefined} text */
  read(text) {
    this.content = text ? JSON.parse(text) : null;
    this.windows.clear();
  }

  /** Site records, whose words and levels stand in the windows' sentences. @param {any[]} rows */
  readSites(rows) {
    const text = JSON.stringify(rows);
    if (text === this.siteText) return;
    this.siteText = text;
    this.sites = new Map(rows.map((row) => [row.record_id, row]));
    this.windows.clear();
  }

  /** @param {(form: any) => boolean} test @returns {Set<string>} names of kinds */
  kinds(test) {
    const kinds = this.content?.forms?.kinds ?? {};
    return new Set(Object.keys(kinds).filter((name) => test(kinds[name])));
  }

  /** Which value of a field is the careful one. @param {string} kind @returns {Record<string, 'lower'|'higher'>} */
  cautious = (kind) => Object.fromEntries(
    Object.entries(this.content?.forms?.kinds?.[kind]?.properties ?? {})
      .filter(([, property]) => property['x-cautious']).map(([name, property]) => [name, property['x-cautious']]),
  );

  /** @param {string} siteId @returns {any|null} the numbers that `openTide` reads */
  tides = (siteId) => this.content?.sites?.[siteId]?.tide ?? null;

  /** What windows of a site are made by: its record with the closures that the pack brought. @param {string} siteId @returns {any|null} */
  rulesOf = (siteId) => {
    const site = this.sites.get(siteId);
    return site ? { ...site, closures: this.content?.sites?.[siteId]?.closures ?? [] } : null;
  };

  /** @param {string} siteId @param {string|null} rowId a row's own level, or the site's @returns {any[]} in time order, empty before the pack came */
  windowsOf(siteId, rowId) {
    const key = `${siteId}|${rowId ?? 'site'}`;
    const columns = this.content?.sites?.[siteId]?.windows;
    const site = this.rulesOf(siteId);
    if (!columns || !site) return [];
    let found = this.windows.get(key);
    if (!found) {
      found = unpackWindows(columns, rowId ?? 'site', site)
        .map((window) => ({ ...window, get id() { return madeUpId(windowName(siteId, window.lowMs)); } }));
      this.windows.set(key, found);
    }
    return found;
  }
}
