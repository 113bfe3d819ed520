/** A laptop's width: a list stays left, and the record that is opened from it stands right. One address opens both. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';

/** @typedef {import('./router.js').Screen} Screen @typedef {import('./router.js').Stage} Stage */

/** Room for the ways, a list as wide as a phone, and a record beside it. */
const ROOM = matchMedia('(min-width: 70em)');

/** Which list a record's screen is opened from. @type {Record<string, string>} */
const LIST_OF = { 'unit-history': 'units', flag: 'flags', person: 'people' };
/** @type {Record<string, string>} */
const RECORD_OF = Object.fromEntries(Object.entries(LIST_OF).map(([record, list]) => [list, record]));

/** @param {string} list @param {string} id @returns {string} where one of its records is opened */
export const placeOf = (list, id) => `#/${list}/${encodeURIComponent(id)}`;

/** Whether a record is the one that stands beside its list. @param {Stage} stage @param {string} id */
export const isChosen = (stage, id) => stage.chosen?.() === id;

export class Pairs {
  /** @param {(name: string, stage: Stage) => Promise<Screen>} load opens a screen by its name */
  constructor(load) {
    this.load = load;
    /** @type {Screen|null} kept while its records are gone through: what was searched stays */ this.list = null;
    this.listName = '';
    /** @type {string|null} */ this.siteId = null;
    /** @type {string|null} */ this.chosen = null;
    this.turn = 0;
  }

  /** @param {string} name of a screen @returns {boolean} whether it is shown with its list, or its record, beside it */
  has = (name) => ROOM.matches && (name in LIST_OF || name in RECORD_OF);

  /** @param {() => void} reopen what is shown, where there is room now, or none any more @param {() => string} shown */
  watch(reopen, shown) {
    ROOM.addEventListener('change', () => { if (shown() in LIST_OF || shown() in RECORD_OF) reopen(); });
  }

  /** The list is read anew when it is opened the next time. */
  forget() { this.list = null; }

  /** @param {string} name @param {Stage} stage @returns {Promise<Screen>} */
  async open(name, stage) {
    const listName = LIST_OF[name] ?? name;
    const { site_id: siteId } = stage.phone.me;
    if (listName !== this.listName || siteId !== this.siteId) this.forget();
    Object.assign(this, { listName, siteId });
    this.chosen = stage.params[0] ?? null;
    const list = this.list ?? await this.load(listName, { ...stage, params: [], chosen: () => this.chosen });
    this.list = list;
    this.chosen ??= list.first?.() ?? null;
    if (!this.chosen) return list;
    const record = await this.load(RECORD_OF[listName], { ...stage, params: [this.chosen] });
    return both({ listName, list, record, turn: ++this.turn, hasKeys: stage.settings.keys });
  }
}

const KEYS = html`<p class="keys small" aria-hidden="true"><kbd>\u2191</kbd><kbd>\u2193</kbd> move <kbd>/</kbd>
  search</p>`;

/** @param {{listName: string, list: Screen, record: Screen, turn: number, hasKeys: boolean}} of @returns {Screen} */
function both({ listName, list, record, turn, hasKeys }) {
  const inside = () => html`<div class="detail-head"><h2 id="detail-title" tabindex="-1">${record.title()}</h2><span
    class="where">${record.where?.() ?? nothing}</span></div>${record.body()}`;
  return {
    beside: listName, title: list.title, where: list.where, aside: list.aside, named: record.title,
    async refresh() { await Promise.all([list.refresh?.(), record.refresh?.()]); },
    close: () => record.close?.(),
    // Two templates in turn: what was unfolded of one record is drawn anew for the next.
    body: () => html`<section class="list" data-of=${listName} aria-label="${list.title()}, list">${hasKeys
      ? KEYS : nothing}${list.body()}</section>
      <section class="detail" aria-labelledby="detail-title">${turn % 2 ? html`<div class="stack">${inside()}</div>`
        : html`<div class="stack">${inside()}</div>`}</section>`,
    foot() {
      const own = record.foot?.() ?? nothing;
      return own === nothing ? list.foot?.() ?? nothing : own;
    },
  };
}

/* Keys for whoever has a keyboard: arrows go through the list, / goes to the search and Escape out of it. */

const FIELD = 'input, select, textarea';
const TYPED = 'input:not([type="radio"], [type="checkbox"], [type="file"]), select, textarea';
/** @type {Record<string, number>} */
const STEPS = { ArrowDown: 1, ArrowUp: -1 };

/** The list beside a record, and what in it opens one. @param {HTMLElement} root @returns {HTMLAnchorElement[]} */
function rowsOf(root) {
  const list = /** @type {HTMLElement|null} */ (root.querySelector('.list'));
  return list ? [...list.querySelectorAll(/** @type {'a'} */ (`a[href^="#/${list.dataset.of}/"]`))] : [];
}

/** @param {Element} row */
const isCurrent = (row) => row.getAttribute('aria-current') === 'true';

/** @param {HTMLElement} root @returns {HTMLElement|null} what is chosen in the list */
export const chosenRow = (root) => rowsOf(root).find(isCurrent) ?? null;

/**
 * @param {HTMLElement} root what is drawn @param {{keys: boolean}} settings
 * @returns {{takeMove: () => boolean}} whether an arrow key opened what opens now: the focus then stays in the list
 */
export function listenToKeys(root, settings) {
  let isMove = false;

  /** @param {number} step @returns {boolean} */
  const move = (step) => {
    const rows = rowsOf(root);
    if (!rows.length) return false;
    const at = rows.findIndex((row) => row === root.ownerDocument.activeElement);
    const from = at < 0 ? rows.findIndex(isCurrent) : at;
    const row = rows[Math.min(rows.length - 1, Math.max(0, from + step))];
    row.focus();
    if (row.hash !== location.hash) {
      isMove = true;
      // Going through a list leaves no trail of pages to go back through.
      location.replace(row.hash);
    }
    return true;
  };

  root.ownerDocument.addEventListener('keydown', (event) => {
    const at = event.target;
    if (!settings.keys || !(at instanceof HTMLElement) || event.defaultPrevented) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const box = /** @type {HTMLInputElement|null} */ (root.querySelector('input[type="search"]'));
    let isTaken = false;
    if (event.key === 'Escape' && at === box) {
      (chosenRow(root) ?? root.querySelector('main'))?.focus();
      isTaken = true;
    } else if (event.key === '/' && box && !at.matches(TYPED)) {
      box.focus();
      box.select();
      isTaken = true;
    } else if (event.key in STEPS && !at.matches(FIELD)) isTaken = move(STEPS[event.key]);
    if (isTaken) event.preventDefault();
  });
  return { takeMove() { const was = isMove; isMove = false; return was; } };
}
