/** What stands round every screen: header with the sync state, notices, actions, the ways on. */
import { html, nothing, render } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, icon, mark } from './marks.js';
import { byName, siteName } from './names.js';
import { hasUse } from './roles.js';
import { counted, spanWords } from './words.js';

const DAY_MS = 86_400_000;
/** What a failed save begins with. */
export const NOT_SAVED = 'NOT SAVED.';

/**
 * name, word, on a laptop only? Each is offered to the roles that have a use for it, and for none that it stands
 * instead of.
 * @type {{name: string, word: string, wide: boolean, insteadOf?: string}[]}
 */
const WAYS = [
  { name: 'today', word: 'Today', wide: false },
  { name: 'visit', word: 'Visit', wide: true },
  { name: 'visits', word: 'Visits', wide: true, insteadOf: 'visit' },
  { name: 'units', word: 'Units', wide: false },
  { name: 'sighting', word: 'Sightings', wide: false },
  { name: 'people', word: 'People', wide: false },
  { name: 'low-tides', word: 'Low tides', wide: true },
  { name: 'flags', word: 'Flags', wide: true },
  { name: 'phone', word: '', wide: false },
  { name: 'set-up', word: 'Set-up', wide: true },
  { name: 'settings', word: 'Settings', wide: true },
];
/** Which way is marked on screens that are not ways themselves. */
const UNDER = {
  'unit-history': 'units', 'unit-check': 'units', plan: 'units', sheet: 'units', 'plan-making': 'units',
  visits: 'visit', 'past-visit': 'visit', 'add-photos': 'phone', record: 'phone', flag: 'flags', person: 'people',
  plots: 'units', plot: 'units', stakes: 'units', 'plot-reading': 'units',
  desk: 'people', 'count-heads': 'people',
  access: 'set-up', hours: 'set-up', 'own-hours': 'phone', data: 'phone', 'site-tide': 'set-up',
  'turn-back': 'today', 'nothing-yet': 'today',
};

/** @param {import('./router.js').AnyPhone} phone */
function syncPill(phone) {
  const counts = phone.counts();
  const { busy } = phone.syncState;
  const waiting = counts.phone + counts.photos_waiting;
  let state = /** @type {'phone'|'taken'|'held'|'look'} */ ('taken');
  let words = 'all sent';
  if (phone.isFull) [state, words] = ['look', `${deviceWord()} is full`];
  else if (counts.held) [state, words] = ['held', `${counts.held} held`];
  else if (waiting) [state, words] = ['phone', busy ? 'sending' : `${waiting} on this ${deviceWord()}`];
  return html`<a class="sync" href="#/phone">${mark(state)}${words}</a>`;
}

/**
 * What a person must know before the rest: the most severe whole, the others counted and a tap away.
 * @param {import('./router.js').AnyPhone} phone @param {import('./router.js').Settings} settings
 * @param {import('./router.js').Stage} stage
 */
function notices(phone, settings, stage) {
  const [first, ...rest] = noticesNow(phone, settings, stage)
    .sort((one, other) => WEIGHT[one.tone] - WEIGHT[other.tone]);
  if (!first) return nothing;
  const more = html`<details class="more"><summary><span
    class="said">${counted(rest.length, 'more notice')}</span></summary>
    ${rest.map((notice) => notice.drawn)}</details>`;
  return html`<div class="notices ${settings.fault ? 'stays' : ''}">${first.drawn}${rest.length ? more
    : nothing}</div>`;
}

/**
 * @param {import('./router.js').AnyPhone} phone @param {import('./router.js').Settings} settings
 * @param {import('./router.js').Stage} stage
 * @returns {Notice[]}
 */
function noticesNow(phone, settings, stage) {
  const sync = phone.syncState;
  const counts = phone.counts();
  /** @type {Notice[]} */ const list = [];
  if (settings.fault) {
    const isUnsaved = settings.fault.startsWith(NOT_SAVED);
    list.push(notice('stop', isUnsaved ? html`<strong>${NOT_SAVED}</strong>${settings.fault.slice(NOT_SAVED.length)}`
      : settings.fault,
      button('I have read this', () => { settings.fault = null; stage.redraw(); })));
  }
  if (sync.revoked) {
    list.push(notice('stop',
      `A lead ended this ${deviceWord()}\u2019s access. Its entries stay here and can be exported. A lead can let it `
        + 'join again.',
      link(seeThis(), '#/phone')));
  } else if (sync.needs_join) {
    list.push(notice('look',
      `The server no longer knows this ${deviceWord()}. ${phone.cleared ? 'Join again with a code from your lead.'
        : 'Nothing is lost: join again and it continues where it stopped.'}`,
      link('Join again', '#/join')));
  }
  if (sync.portal) {
    list.push(notice('look',
      'This network needs a login first. Open any web page, log in, then sync again. Everything stays on '
        + `this ${deviceWord()} until then.`,
      button('Sync now', () => phone.syncNow())));
  }
  if (phone.cleared) {
    list.push(lossNotice(phone, phone.cleared));
  }
  if (phone.isPrivate) {
    list.push(notice('look', 'This is a private window: what you write here is gone when you close it. Open Fieldlog '
      + 'in a normal window, or install it, before you write anything.', nothing));
  }
  if (counts.oldest_unsent_ms && phone.now() - counts.oldest_unsent_ms > DAY_MS) {
    list.push(notice('look',
      `${counted(counts.phone, 'entry has', 'entries have')} waited here for `
        + `${spanWords(phone.now() - counts.oldest_unsent_ms)}. Find a network, or export the file.`,
      link(seeThis(), '#/phone')));
  }
  const asks = stage.alarm.asks();
  if (asks) list.push({ tone: 'asks', drawn: asks });
  if (navigator.onLine === false) list.push(notice('plain', 'No network. Saved here, sent later.', nothing));
  if (sync.past_coming) list.push(notice('plain',
    'This season is here. Earlier years are still coming; you can work now.', nothing));
  if (phone.updateReady) list.push(updateNotice(phone, counts));
  return list;
}

/**
 * The browser emptied the phone's database: what went, and how to go on.
 * @param {import('./router.js').AnyPhone} phone @param {NonNullable<typeof phone['cleared']>} lost
 */
function lossNotice(phone, { unsent, drafts, isUnknown }) {
  if (isUnknown) {
    return notice('stop', `The server knows this ${deviceWord()}, but nothing is stored here: the browser deleted `
      + 'it, or the app was just installed. Entries that were not sent are gone. Sync, check what is missing, '
      + 'write it again, and tell your lead.', button('I have read this', () => phone.readOfLoss()));
  }
  const lost = [unsent ? counted(unsent, 'entry or photo', 'entries and photos') : '',
    drafts ? counted(drafts, 'open form') : ''].filter(Boolean).join(' and ');
  const sentence = lost
    ? `The browser deleted what this ${deviceWord()} had stored, with ${lost} not known to be sent. Sync, then write `
      + 'again what is missing, and tell your lead.'
    : `The browser deleted what this ${deviceWord()} had stored. Nothing was noted as unsent.`;
  return phone.me
    ? notice(lost ? 'stop' : 'look', `${sentence} New entries are saved; the rest comes with the next sync.`,
      button('I have read this', () => phone.readOfLoss()))
    : notice(lost ? 'stop' : 'look', `${sentence} Join again with a code from your lead.`,
      link('Join again', '#/join'));
}

/**
 * A new version waits for a tap, and for drafts to be saved.
 * @param {import('./router.js').AnyPhone} phone @param {any} counts
 */
function updateNotice(phone, counts) {
  return counts.drafts
    ? notice('plain', `A new version is ready. Save or drop ${counted(counts.drafts, 'open form')} first.`,
      link(seeThis(), '#/phone'))
    : notice('plain', 'A new version is ready.', button('Update now', () => phone.takeUpdate()));
}

/** @typedef {{tone: keyof typeof WEIGHT, drawn: unknown}} Notice */
const WEIGHT = { stop: 0, look: 1, asks: 2, plain: 3 };

/** @param {'stop'|'look'|'plain'} tone @param {unknown} text @param {unknown} action @returns {Notice} */
const notice = (tone, text, action) => ({
  tone, drawn: html`<div class="notice ${tone}" role=${tone === 'stop' ? 'alert' : 'status'}>
    ${mark(tone === 'plain' ? 'phone' : tone)}<div class="said"><p>${text}</p>${action}</div></div>`,
});

const seeThis = () => `See this ${deviceWord()}`;

/** @param {string} word @param {() => void} act */
const button = (word, act) => html`<button type="button" class="or" @click=${act}>${word}</button>`;

/** @param {string} word @param {string} href */
const link = (word, href) => html`<a class="or" href=${href}>${word}</a>`;

/** @param {import('./router.js').AnyPhone} phone @param {string} name the screen shown */
function ways(phone, name) {
  const current = UNDER[/** @type {keyof typeof UNDER} */ (name)] ?? name;
  const role = phone.me?.role ?? '';
  const seen = WAYS.filter(({ name: way, insteadOf }) => hasUse(role, way) && !(insteadOf && hasUse(role, insteadOf)));
  return html`<nav class="ways" aria-label="Screens"><div class="brand">${icon('block')}Fieldlog</div>${seen.map(
    (way) => html`<a class=${way.wide ? 'wide' : ''} href="#/${way.name}"
      aria-current=${way.name === current ? 'page' : nothing}>${icon(way.insteadOf ?? way.name)}${
        way.word || `This ${deviceWord()}`}</a>`,
  )}</nav>`;
}

/**
 * A phone of several sites chooses in every header which one it shows.
 * @param {import('./router.js').Stage} stage @returns {unknown} nothing where there is no choice
 */
function siteSwitch(stage) {
  const { phone } = stage;
  const sites = phone.sites();
  if (sites.length < 2) return nothing;
  const byNames = [...sites].sort((one, other) => byName(siteName(one), siteName(other)));
  return html`<select aria-label="Site" @change=${(/** @type {any} */ event) =>
    choose(stage, event.target.value)}>${byNames.map((site) => html`<option value=${site.record_id}
      .selected=${site.record_id === phone.me.site_id}>${siteName(site)}</option>`)}</select>`;
}

/**
 * A record that is open belongs to the site before: its list opens instead.
 * @param {import('./router.js').Stage} stage @param {string} id
 */
async function choose(stage, id) {
  await stage.phone.setSite(id);
  const [screen, opened] = location.hash.replace(/^#\/?/, '').split('/');
  if (opened) stage.go(screen === 'record' ? '#/today' : `#/${screen}`);
  else stage.reopen();
}

/**
 * Whose site this is, chosen here where this phone has several; and what the screen says of itself.
 * @param {import('./router.js').AnyPhone} phone @param {import('./router.js').Stage} stage
 * @param {import('./router.js').Screen} screen
 */
function whereBlock(phone, stage, screen) {
  const words = screen.where?.() ?? nothing;
  const choice = phone.me ? siteSwitch(stage) : nothing;
  const isSame = choice !== nothing && phone.sites().some((site) => siteName(site) === words);
  return html`<span class="where">${choice}${isSame ? nothing : words}</span>`;
}

/**
 * @param {import('./router.js').AnyPhone} phone
 * @param {{name: string, screen: import('./router.js').Screen|null}} state
 * @param {import('./router.js').Settings} settings
 * @param {import('./router.js').Stage} stage
 */
export function frame(phone, state, settings, stage) {
  const screen = /** @type {import('./router.js').Screen} */ (state.screen);
  const foot = screen.foot?.() ?? nothing;
  if (screen.alone) return aloneFrame(settings, stage, screen, foot);
  return html`<a class="skip" href="#screen" @click=${toMain}>To the content</a>
    ${stage.alarm.banner()}
    <div class="frame">${notices(phone, settings, stage)}
    <header class="top"><div class="told" role="status"></div>
      ${screen.back ? html`<a class="back" href=${screen.back} aria-label="Back">${icon('back')}</a>` : nothing}
      <div class="head"><h1 tabindex="-1">${screen.title()}</h1>${whereBlock(phone, stage, screen)}</div>
      ${screen.aside?.() ?? (phone.me ? syncPill(phone) : nothing)}${state.name === 'settings' ? nothing
        : html`<a class="gear ${phone.me ? 'narrow-only' : ''}" href="#/settings"
          aria-label="Settings">${icon('settings')}</a>`}</header>
    <main id="content" tabindex="-1"
      class=${screen.beside ? 'pair' : screen.narrow ? 'narrow' : ''}>${screen.body()}</main>
    <div class="thumb">${foot === nothing ? nothing
      : html`<section class="foot" aria-label="Actions">${foot}</section>`}
    ${phone.me ? ways(phone, state.name) : nothing}</div></div>`;
}

/**
 * A device in a volunteer's hands: the screen, a save that failed, the turn-back alarm, and no way on.
 * @param {import('./router.js').Settings} settings @param {import('./router.js').Stage} stage
 * @param {import('./router.js').Screen} screen @param {unknown} foot
 */
function aloneFrame({ fault }, stage, screen, foot) {
  return html`${stage.alarm.banner()}<div class="frame">${fault ? html`<div class="notices stays">${notice('stop',
    fault, nothing).drawn}</div>` : nothing}<header class="top"><div class="told" role="status"></div>
    <div class="head"><h1 tabindex="-1">${screen.title()}</h1></div></header>
    <main id="content" tabindex="-1" class="narrow">${screen.body()}</main>
    <div class="thumb"><section class="foot" aria-label=${screen.title()}>${foot}</section></div></div>`;
}

/**
 * What was just said, in the header, which is in sight wherever one has scrolled to; drawn by itself, so at once.
 * @param {string} sentence @param {HTMLElement} root @param {(() => void)|null} [undo] takes it back
 * @returns {() => boolean} whether somebody is at its button
 */
export function told(sentence, root, undo = null) {
  const place = /** @type {HTMLElement|null} */ (root.querySelector('.told'));
  const words = () => html`<p>${mark('phone')}<span
    class="said">${sentence}</span></p>${undo ? button('Undo', undo) : nothing}`;
  const isThere = () => place?.contains(document.activeElement) ?? false;
  const wasThere = isThere();
  if (place) render(sentence ? words() : nothing, place);
  // Whose button goes is not thrown back to the page's beginning.
  if (wasThere && !isThere()) root.querySelector('h1')?.focus({ preventScroll: true });
  return isThere;
}

/** The hash is the router's, so the skip link moves the focus itself. @param {Event} event */
function toMain(event) {
  event.preventDefault();
  document.getElementById('content')?.focus();
}
