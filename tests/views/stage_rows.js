/**
 * The cardboard phone, given one drawn programme after another and taken through every screen: nothing may throw, nothing may
 * stay empty.
 */
import { startRouter } from '../views/router.js';

const quiet = [window.setInterval, window.addEventListener];

/** Open one screen in a frame of its own, as a phone does that is opened there; timers and listeners stay the page's. */
async function opened(phone, hash) {
  history.replaceState(null, '', hash);
  const root = document.createElement('div');
  document.getElementById('screen').replaceChildren(root);
  [window.setInterval, window.addEventListener] = [() => 0, () => {}];
  try {
    await startRouter(phone, root);
  } finally {
    [window.setInterval, window.addEventListener] = quiet;
  }
  return root;
}

const said = (error) => `${error?.stack ?? error}`.slice(0, 600);

/**
 * @param {any} phone @param {string[]} hashes
 * @returns {Promise<{faults: string[], texts: Record<string, string>}>} what threw, and what each screen says
 */
export async function walk(phone, hashes) {
  const faults = [];
  const texts = {};
  for (const hash of hashes) {
    try {
      const root = await opened(phone, hash);
      for (const one of root.querySelectorAll('details')) one.open = true;
      phone.emit('change');
      await new Promise((done) => setTimeout(done, 0));
      const text = root.querySelector('main')?.textContent.trim() ?? '';
      texts[hash] = `${root.querySelector('h1')?.textContent}\n${root.querySelector('.where')?.textContent}\n${text}`;
      const over = document.documentElement.scrollWidth - window.innerWidth;
      if (over > 0) faults.push(`${hash} is ${over} px wider than the phone`);
      if (!root.querySelector('h1')?.textContent.trim() || !text) faults.push(`${hash} is empty`);
    } catch (error) {
      faults.push(`${hash} ${said(error)}`);
    }
    phone.deafen();
  }
  return { faults, texts };
}
