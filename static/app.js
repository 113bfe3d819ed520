/** Start: open what is stored and show it, then everything that takes longer. */
import { whenIdle } from './idle.js';
import { openPhone } from './store/phone.js';
import { SENTENCES, wasTold } from './log/db.js';
import { isPrivateWindow, lookForSpace } from './store/space.js';
import { sayFaults } from './views/broken.js';
import { inDeviceWords } from './views/marks.js';
import { SCREENS, startRouter } from './views/router.js';
import { register } from './worker.js';

/* The service worker: registered, and a new version offered, never taken unasked. */

const HOURLY_MS = 3_600_000;
/** Screens that did not come are asked for again: a network that is said to be back may not be there yet. */
const AGAIN_MS = 10_000;

/** @param {import('./store/phone.js').Phone} phone */
async function watchUpdates(phone) {
  if (!('serviceWorker' in navigator)) return;
  const workers = navigator.serviceWorker;
  let had = workers.controller !== null;
  let isTaken = false;
  workers.addEventListener('controllerchange', () => {
    // The first worker takes a page over without a change of version, and so does the one after the browser took it
    // away.
    const isHere = workers.controller !== null;
    if (had && isHere && !isTaken) {
      isTaken = true;
      location.reload();
    }
    had = isHere;
  });
  const registration = await register();
  // A browser that empties the database takes the worker and its files along; the next start without a network needs
  // them.
  const registerAnew = () => { register().catch(isOffline); };
  phone.on('emptied', registerAnew);
  window.addEventListener('online', registerAnew);
  const offer = () => {
    const { waiting } = registration;
    if (waiting && workers.controller) phone.offerUpdate(() => waiting.postMessage('take-over'));
  };
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', offer);
  });
  offer();
  window.setInterval(() => { if (!document.hidden) registration.update().catch(isOffline); }, HOURLY_MS);
  bringRest(phone, workers);
}

/**
 * The screens that are not needed on the shore at once, when the first stands and whenever a network is back.
 * @param {import('./store/phone.js').Phone} phone @param {ServiceWorkerContainer} workers
 */
function bringRest(phone, workers) {
  const ask = () => workers.controller?.postMessage('bring-rest');
  let timer = 0;
  workers.addEventListener('message', ({ data }) => {
    if (!data?.lacking) return;
    phone.lackingTiers = data.lacking;
    phone.emit('sync', null);
    clearTimeout(timer);
    if (data.lacking.length) timer = window.setTimeout(ask, AGAIN_MS);
    else readScreens(OPENED_THEN).catch(isOffline);
  });
  window.addEventListener('online', ask);
  workers.addEventListener('controllerchange', ask);
  window.setInterval(ask, HOURLY_MS);
  ask();
}

/** An update that cannot be looked for now is looked for later. @param {Error} error */
function isOffline(error) {
  if (!['TypeError', 'NetworkError', 'InvalidStateError', 'SecurityError'].includes(error.name)) throw error;
}

/** What they show of a site, by the thousand after years. */
const SHOWN_NEXT = ['unit', 'unit_check', 'sighting'];
/** Screens that are opened from Today, and kept on the phone before it is usable. */
const OPENED_NEXT = ['units', 'people', 'unit-check', 'visit', 'sighting', 'phone'];
/** Screens that are opened from those, once they are kept too. */
const OPENED_THEN = ['unit-history', 'low-tides', 'flags', 'visits', 'record'];

/** The code of screens, read while nobody waits. @param {string[]} names */
async function readScreens(names) {
  for (const name of names) {
    await whenIdle();
    await SCREENS[name]().catch(isOffline);
  }
}

/**
 * What the next taps need, read while nobody waits: the code of screens, where it need not come over a network, and
 * records.
 * @param {import('./store/phone.js').Phone} phone
 */
async function readAhead(phone) {
  if (navigator.serviceWorker?.controller) await readScreens(OPENED_NEXT);
  const { siteId } = phone;
  for (const kind of siteId ? SHOWN_NEXT : []) {
    await whenIdle();
    phone.asRows(await phone.shown.read(kind, { siteId }));
  }
}

const screen = /** @type {HTMLElement} */ (document.getElementById('screen'));

/** @type {import('./store/phone.js').Phone|null} */ let opened = null;

async function start() {
  const phone = await openPhone({ now: () => Date.now() });
  opened = phone;
  await startRouter(phone, screen);
  document.documentElement.dataset.ready = '';
  const online = await phone.online();
  online.start();
  watchUpdates(phone).catch(isOffline);
  online.findAgain().catch(wasTold);
  readAhead(phone).catch(wasTold);
  phone.isPrivate = await isPrivateWindow();
  if (phone.isPrivate) phone.emit('sync', null);
  document.addEventListener('visibilitychange', () => { if (!document.hidden) lookForSpace(phone).catch(wasTold); });
  // Some browsers ask the person, who may never answer: nothing waits for that.
  if (phone.me) navigator.storage?.persist?.();
  await phone.keepReserve();
}

sayFaults(/** @type {HTMLElement} */ (document.getElementById('broken')), () => opened);
start().catch((error) => {
  // A screen that stands is not taken away: what failed is said above it.
  if (document.documentElement.dataset.ready === undefined) {
    const isStorage = error instanceof DOMException || error.sentence;
    screen.textContent = inDeviceWords(error.sentence ?? (isStorage ? SENTENCES.unusable
      : 'Fieldlog could not open. Load the page again; what was saved is kept.'));
    document.documentElement.dataset.ready = 'failed';
  }
  throw error;
});
