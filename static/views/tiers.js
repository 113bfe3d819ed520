/** Screens whose files come after the first ones: what is said of them until they are on the phone. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord } from './marks.js';
import { hasUse } from './roles.js';

/**
 * The screens of each tier after the first, as people know them; null is opened from another of them.
 * @type {Record<string, Record<string, string|null>>}
 */
const SCREENS_OF = {
  shore: { 'low-tides': 'Low tides', flags: 'Flags', visits: 'Past visits',
    'unit-history': 'Unit history', record: 'Corrections', 'past-visit': null, flag: null,
    person: null, desk: 'Desk', 'walk-up': null, 'count-heads': 'Count heads', plots: 'Plots', plot: null,
    stakes: null, 'plot-reading': null },
  desk: { 'correct-visit': null, 'set-up': 'Set-up', sheet: 'Type in a sheet', 'add-photos': 'Add photos',
    'own-hours': 'Your hours' },
};

/** Which screens are not on this phone yet. @param {import('./router.js').Phone} phone */
export function stillComing(phone) {
  const role = phone.me?.role;
  const names = phone.lackingTiers.flatMap((tier) => Object.entries(SCREENS_OF[tier] ?? {}))
    .flatMap(([screen, name]) => (name && role && hasUse(role, screen) ? [name] : []));
  return names.length ? html`<p class="row" role="status">Not on this ${deviceWord()} yet: ${names.join(', ')}. They
    come by themselves while there is a network.</p>` : nothing;
}

/** @typedef {(stage: import('./router.js').Stage) => Promise<import('./router.js').Screen>} View */
/** @typedef {() => Promise<{view: View}>} Load */

/** A module that no network brought, or a log-in page in its place. @param {Error} error */
const didNotCome = (error) => error instanceof TypeError || error instanceof SyntaxError;

const tryAgain = () => html`<button type="button" class="do" @click=${() => location.reload()}>Try again</button>`;

const OPENED_ANEW = 'opened-anew';

/**
 * A page may hold on to it that a module did not come. Where all files are here by now it is opened anew, once for a
 * place: what is typed is kept, and where no worker has the page itself it stays.
 * @param {import('./router.js').AnyPhone} phone
 */
function opensAnew(phone) {
  const isHere = navigator.serviceWorker?.controller && !phone.lackingTiers.length;
  if (!isHere || window.sessionStorage.getItem(OPENED_ANEW) === location.hash) return false;
  window.sessionStorage.setItem(OPENED_ANEW, location.hash);
  location.reload();
  return true;
}

/**
 * A screen's module, or what stands in for it.
 * @param {Load} load @param {import('./router.js').AnyPhone} phone @returns {ReturnType<Load>}
 */
export const loaded = (load, phone) => load().catch((error) => {
  if (!didNotCome(error)) throw error;
  if (opensAnew(phone)) return new Promise(() => {});
  return { view: async () => ({ title: () => `Not on this ${deviceWord()} yet`, back: '#/today', narrow: true,
    body: () => html`<p role="status">This screen is not on this ${deviceWord()} yet. It comes by itself where there is
      a network. What you wrote is saved.</p>`,
    foot: tryAgain }) };
});

/**
 * A screen that is fetched when it is opened, since it can do nothing without the server.
 * @param {ReturnType<Load>} module
 */
export const withServer = (module) => module.catch((error) => {
  if (!didNotCome(error)) throw error;
  return { view: async () => ({ title: () => 'Needs the server', back: '#/today', narrow: true,
    body: () => html`<p role="status">This screen needs a network and the server. Open it again when you have one.
      If a new version is offered, update first.</p>`, foot: tryAgain }) };
});
