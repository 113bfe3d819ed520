/**
 * Before the app: a browser that keeps none of it yet lets the worker fetch its files as one, instead of a hundred
 * one by one, and then takes them from there. Where no worker can be, the modules come as they are.
 */
import { register } from './worker.js';

/** A worker that does not come in this time is not waited for: the modules then come one by one. */
const PATIENCE_MS = 30_000;

/** While this page is open the worker keeps its version's files, which lie under its name. */
function holdVersion() {
  const [, version] = import.meta.url.match(/\/shell\/(\w+)\//) ?? [];
  if (!version) return;
  const tillLeft = () => new Promise(() => {});
  navigator.locks?.request(`shell-${version}`, { mode: 'shared' }, tillLeft).catch(isRefused);
}

/** Some browsers refuse locks or workers in a private window. @param {Error} error */
function isRefused(error) {
  if (!(error instanceof DOMException || error instanceof TypeError)) throw error;
}

/** On a browser's first visit: until the worker has the first screens' files and answers for them. */
async function filesFirst() {
  const workers = navigator.serviceWorker;
  if (!workers || workers.controller || await workers.getRegistration()) return;
  await new Promise((resolve, reject) => {
    workers.addEventListener('controllerchange', resolve, { once: true });
    window.setTimeout(resolve, PATIENCE_MS);
    register().then(({ installing }) => {
      installing?.addEventListener('statechange', () => { if (installing.state === 'redundant') resolve(null); });
    }).catch(reject);
  });
}

function notOpened() {
  const screen = /** @type {HTMLElement} */ (document.getElementById('screen'));
  screen.textContent = 'Fieldlog could not open. Load the page again; what was saved is kept.';
  document.documentElement.dataset.ready = 'failed';
}

holdVersion();
filesFirst().catch(isRefused).then(() => import('./app.js')).catch((error) => {
  notOpened();
  throw error;
});
