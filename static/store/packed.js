/**
 * What the server derived for this phone: forms, tide numbers, windows, flags. Kept as text, read once. Windows come as
 * columns (the server's `fieldlog/pack/windows_columns.py` writes them), the times whole minutes turned towards less
 * time on the shore.
 *
 * @typedef {import('../records/pack.js').Column} Column
 * @typedef {import('../records/pack.js').Columns} Columns
 */
import { madeUpId } from '../log/line.js';
import { cautionSentence } from '../tides/cautions.js';
import { rulesOf } from '../tides/constants.js';
import { allowanceOf, isComplete, windowName } from '../tides/windows.js';

const MINUTE_MS = 60_000;

/** @type {Record<string, import('../tides/windows.js').Daylight>} */
const DAYLIGHT = { d: 'day', p: 'partly', k: 'dark', n: 'polar night' };
/** @type {Record<string, import('../tides/turning.js').BackWord>} */
const WHY = { p: 'path', w: 'work', l: 'light', t: 'latest', c: 'closure', h: 'high' };

/** A phone of so few sites has all of them; one of more has those it showed, each as it was when it was shown last. */
const SITES_MOST = 4;
/** In the phone's `meta`: the index, parts by their address, or 'pack', all in one from an older server. */
const KEPT = IDBKeyRange.bound('pack', 'pack;');
const keyOf = (/** @type {string} */ address) => `pack:${address}`;

export class Pack {
  constructor() {
    /** @type {import('../records/pack.js').PackContent|null} */ this.content = null;
    /** @type {import('../records/pack.js').PackIndex|null} */ this.index = null;
    /** @type {Map<string, {tag: string, text: string}>} */ this.parts = new Map();
    /** @type {Map<string, import('../tides/windows.js').Window[]>} */ this.windows = new Map();
    /** @type {Map<string, import('../records/rows.js').Site>} */ this.sites = new Map();
    /** @type {Map<string, import('../log/merge.js').Since>} */ this.ends = new Map();
    this.siteText = '';
  }

  /** @param {import('../log/db.js').Store} store */
  async read(store) {
    const [names, values] = await store.run(['meta'], 'readonly',
      (tx) => Promise.all([tx.store.getAllKeys(KEPT), tx.store.getAll(KEPT)]));
    /** @type {Map<string, any>} */
    const kept = new Map(names.map((/** @type {string} */ name, /** @type {number} */ n) => [name, values[n]]));
    this.parts = kept;
    this.index = kept.get(keyOf('index')) ?? null;
    this.content = this.index ? this.whole(this.index) : JSON.parse(kept.get('pack') ?? 'null');
    this.windows.clear();
    this.ends.clear();
  }

  /**
   * The parts as one, each site's read when it is first asked for.
   * @param {import('../records/pack.js').PackIndex} index @returns {import('../records/pack.js').PackContent}
   */
  whole(index) {
    const part = (/** @type {string} */ address) => JSON.parse(this.parts.get(keyOf(address))?.text ?? '{}');
    /** @type {Record<string, import('../records/pack.js').PackedSite>} */ const sites = {};
    for (const [id, calendar] of Object.entries(index.calendars)) {
      /** @type {import('../records/pack.js').PackedSite|undefined} */ let site;
      const get = () => (site ??= { ...part(`sites/${id}/windows`), ...part(`sites/${id}/state`),
        ...part(`sites/${id}/visits`), calendar });
      Object.defineProperty(sites, id, { enumerable: true, get });
    }
    return { ...index, ...part('forms'), ...part('tray'), sites };
  }

  /**
   * The parts that this phone takes along and has not, or has an older one of.
   * @param {import('../records/pack.js').PackIndex} index @param {string|null|undefined} siteId the site shown
   */
  lacking(index, siteId) {
    const isFew = Object.keys(index.calendars).length <= SITES_MOST;
    return Object.keys(index.parts).filter((address) =>
      (isFew || !address.startsWith('sites/') || address.split('/')[1] === siteId)
      && this.parts.get(keyOf(address))?.tag !== index.parts[address]);
  }

  /**
   * @param {string|null|undefined} siteId
   * @returns {string|null} the tag of the pack that is here, null while a part lacks
   */
  etag(siteId) {
    return this.index && this.lacking(this.index, siteId).length ? null : this.content?.etag ?? null;
  }

  /**
   * Bring the index, then the parts whose tag changed; each is kept as it comes.
   * @param {import('../log/db.js').Store} store @param {import('../sync/session.js').Transport['pack']} ask
   * @param {string|null|undefined} siteId
   * @returns {Promise<boolean>} whether anything changed
   */
  async bring(store, ask, siteId) {
    const put = (/** @type {(meta: any) => void} */ work) => store.run(['meta'], 'readwrite', (tx) => work(tx.store));
    const told = await ask('/index', this.etag(siteId));
    const text = told === undefined && await ask('', this.index ? null : this.etag(siteId));
    if (text) await put((meta) => { meta.delete(KEPT); meta.put(text, 'pack'); });
    if (told) {
      /** @type {import('../records/pack.js').PackIndex} */ const index = JSON.parse(told);
      await Promise.all(this.lacking(index, siteId).map(async (address) => {
        const came = await ask(`/${address}`, this.parts.get(keyOf(address))?.tag ?? null);
        if (came) await put((meta) => { meta.put({ tag: index.parts[address], text: came }, keyOf(address)); });
      }));
      await put((meta) => {
        for (const name of this.parts.keys()) if (!(name.slice(5) in index.parts)) meta.delete(name);
        meta.put(index, keyOf('index'));
      });
    }
    await this.read(store);
    return Boolean(told || text);
  }

  /**
   * A phone without rights keeps no held lines of others, whose text may be private.
   * @param {import('../log/db.js').Store} store
   */
  async dropTray(store) {
    const { tray: _tray, ...rest } = this.content ?? {};
    await store.run(['meta'], 'readwrite', (tx) => {
      tx.store.delete(keyOf('tray'));
      if (this.content && !this.index) tx.store.put(JSON.stringify(rest), 'pack');
    });
    await this.read(store);
  }

  /** Site records, whose words and levels stand in the windows' sentences. @param {any[]} rows */
  readSites(rows) {
    const text = JSON.stringify(rows);
    if (text === this.siteText) return;
    this.siteText = text;
    this.sites = new Map(rows.map((row) => [row.record_id, row]));
    this.windows.clear();
  }

  /** @param {(form: import('../records/pack.js').PackedForm) => boolean} test @returns {Set<string>} names of kinds */
  kinds(test) {
    const kinds = this.content?.forms?.kinds ?? {};
    return new Set(Object.keys(kinds).filter((name) => test(kinds[name])));
  }

  /** @param {string} kind @returns {string[]} the fields that crew may not change as they like */
  guarded(kind) {
    const fields = this.content?.forms?.kinds?.[kind]?.properties ?? {};
    return Object.keys(fields).filter((name) => fields[name]['x-crew']);
  }

  /** How the fields of a kind merge. @param {string} kind @returns {import('../log/merge.js').Merges} */
  merges = (kind) => Object.fromEntries(
    Object.entries(this.content?.forms?.kinds?.[kind]?.properties ?? {})
      .filter(([, property]) => property['x-merge']).map(([name, property]) => [name, property['x-merge']]),
  );

  /**
   * The fields of a kind that end what another begins; asked of every row that is read, so made once a pack.
   * @param {string} kind @returns {import('../log/merge.js').Since}
   */
  since = (kind) => {
    let ends = this.ends.get(kind);
    if (!ends) {
      const fields = this.content?.forms?.kinds?.[kind]?.properties ?? {};
      ends = Object.fromEntries(Object.entries(fields).filter(([, property]) => property['x-since'])
        .map(([name, property]) => [name, property['x-since']]));
      this.ends.set(kind, ends);
    }
    return ends;
  };

  /** @param {string|null} siteId @returns {import('../tides/predict.js').PhoneNumbers|null} */
  tides = (siteId) => this.content?.sites?.[siteId ?? '']?.tide ?? null;

  /**
   * What windows of a site are made by: its record, with the closures and the rule's numbers that the pack brought.
   * @param {string|null} siteId @returns {any|null}
   */
  rulesOf = (siteId) => {
    const site = this.sites.get(siteId ?? '');
    return site ? rulesOf(site, this.content?.sites?.[siteId ?? '']) : null;
  };

  /**
   * @param {string|null} siteId @param {string|null} rowId a row's own level, or the site's
   * @returns {import('../tides/windows.js').Window[]} in time order, empty before the pack came
   */
  windowsOf(siteId, rowId) {
    const key = `${siteId}|${rowId ?? 'site'}`;
    const columns = this.content?.sites?.[siteId ?? '']?.windows;
    const site = this.rulesOf(siteId);
    if (!columns || !isComplete(site)) return [];
    let windows = this.windows.get(key);
    if (!windows) {
      windows = unpackWindows(columns, rowId ?? 'site', site).map((window) => named(window, siteId ?? ''));
      this.windows.set(key, windows);
    }
    return windows;
  }
}

/**
 * A season has hundreds of windows; the names of few are asked for, and those at each drawing.
 * @param {import('../tides/windows.js').Window} window @param {string} siteId
 */
function named(window, siteId) {
  /** @type {string|null} */ let id = null;
  return { ...window, get id() { return (id ??= madeUpId(windowName(siteId, window.lowMs))); } };
}

/**
 * The windows of one level in time order.
 * @param {Columns} columns the pack's `windows` of a site
 * @param {string} level "site", or a row's id
 * @param {import('../tides/windows.js').Rules} site the site's row, for the sentences
 * @returns {import('../tides/windows.js').Window[]} empty where the pack has no such level
 */
export function unpackWindows(columns, level, site) {
  const packedLevel = columns.levels[level];
  if (!packedLevel) return [];
  const zeroMs = Date.parse(`${columns.from_day}T00:00:00Z`);
  const lowsMs = sums(columns.low_s).map((second) => zeroMs + Number(second) * 1000);
  const lowsMm = sums(columns.low_mm);
  const [opens, back, closes, from, until] = [packedLevel.opens, packedLevel.back, packedLevel.closes, packedLevel.from,
    packedLevel.until].map(sums);
  const [usable, dries] = [sums(packedLevel.usable), sums(columns.dries ?? [])];
  const rules = { ...site, allowance_m: allowanceOf(site), left_out_m: columns.left_out_m };
  return lowsMs.map((lowMs, place) => {
    const minuteMs = Math.floor(lowMs / MINUTE_MS) * MINUTE_MS;
    /** @param {Column} column */
    const at = (column) => atMs(column[place], minuteMs);
    const word = WHY[packedLevel.why?.[place] ?? ''] ?? null;
    // A pack of an older server tells the path's time to turn back beside the end of the minutes: the earliest is the
    // one.
    const ends = [at(back), ...(packedLevel.why ? [] : [at(until), at(closes)])].filter((ms) => ms !== null);
    const backMs = ends.length ? Math.min(...ends) : null;
    const isOpen = [opens, back, closes].some((column) => at(column) !== null);
    /** @type {import('../tides/windows.js').Window} */
    const window = {
      id: null, lowMs, lowM: Number(lowsMm[place]) / 1000,
      opensMs: at(opens), backMs, backWord: word, closesMs: at(closes), fromMs: at(from), untilMs: at(until),
      driesMs: isOpen ? at(dries) : null, leaveMs: level === 'site' ? null : at(until) ?? earliest(at(closes), backMs),
      usableMin: Number(usable[place]), daylight: DAYLIGHT[packedLevel.daylight[place]], safe: false, cautions: [],
      bedLevelM: packedLevel.bed_level_m,
    };
    const [stops, minds] = [columns.words[packedLevel.stops[place]], columns.words[packedLevel.minds[place]]];
    window.safe = !stops.length;
    // A season has hundreds of windows, a screen shows few of their sentences.
    window.cautions = [...stops, ...minds].map((word, turn) => ({
      word, stops: turn < stops.length, get sentence() { return cautionSentence(word, window, rules); },
    }));
    return window;
  });
}

/** @param {number|null|undefined} minute @param {number} fromMs */
const atMs = (minute, fromMs) => (minute === null || minute === undefined ? null : fromMs + minute * MINUTE_MS);

/** @param {number|null} one @param {number|null} other */
const earliest = (one, other) => (one === null || other === null ? one ?? other : Math.min(one, other));

/**
 * Values out of their differences; null stays and is passed over.
 * @param {Column} differences
 * @returns {Column}
 */
function sums(differences) {
  let last = 0;
  return differences.map((difference) => (difference === null ? null : (last += difference)));
}
