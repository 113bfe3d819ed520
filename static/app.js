/** Start: open what is stored and show it, then everything that takes longer. */
import { openPhone } from './store/phone.js';
import { SENTENCES } from './store/faults.js';
import { startRouter } from './views/router.js';
import { watchUpdates } from './update.js';

const screen = /** @type {HTMLElement} */ (document.getElementById('screen'));

async function start() {
  const phone = await openPhone({ now: () => Date.now() });
  await startRouter(phone, screen);
  document.documentElement.dataset.ready = '';
  const online = await phone.online();
  online.start();
  await watchUpdates(phone);
  if (phone.me) await navigator.storage?.persist?.();
  await phone.keepReserve();
}

start().catch((error) => {
  const isStorage = error instanceof DOMException || error.sentence;
  screen.textContent = error.sentence ?? (isStorage ? SENTENCES.unusable : 'Fieldlog could not open. Load the page anew; what was saved is kept.');
  document.documentElement.dataset.ready = 'failed';
  throw error;
});
