/**
 * A fault that nobody expected is said, wherever it arose, with a way to save what is on this phone. It stands outside
 * what the screens draw: a screen that cannot be drawn is one of these faults.
 */
import { html, nothing, render } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, inDeviceWords, mark } from './marks.js';

const sentence = () => `Something in Fieldlog failed. What was saved is kept on this ${deviceWord()}. Save it as a `
  + 'file, then load Fieldlog again; tell your lead if it comes back.';

/**
 * @param {HTMLElement} place
 * @param {() => {exportFile: () => Promise<Blob>}|null} opened the phone; null before it is open: that it cannot be
 *   opened is said by who opens it
 */
export function sayFaults(place, opened) {
  /** @type {any} */ let fault = null;
  let became = '';
  const draw = () => render(fault ? drawn() : nothing, place);
  const drawn = () => html`<div class="notice stop" role="alert">${mark('stop')}<div class="said">
    <p>${inDeviceWords(fault.sentence) ?? sentence()}</p>
    ${fault.sentence ? nothing : html`<p class="small">The browser says: ${String(fault.message ?? fault)}</p>`}
    <p role="status">${became}</p>
    <div class="answers"><button type="button" class="or" @click=${save}>Save what is on this
        ${deviceWord()}</button>
      <button type="button" class="or" @click=${() => location.reload()}>Load Fieldlog again</button>
      <button type="button" class="or" @click=${() => { fault = null; draw(); }}>I have read
        this</button></div></div></div>`;
  const save = async () => {
    try {
      const [{ handOver }, file] = await Promise.all([import('./hand-over.js'), opened()?.exportFile()]);
      if (file) became = await handOver(file);
    } catch (error) {
      became = inDeviceWords(/** @type {any} */ (error).sentence)
        ?? 'The file could not be made. Close Fieldlog, open it again, and try again.';
    }
    draw();
  };
  /** @param {any} error */
  const tell = (error) => {
    // What was not saved is said by the phone itself, when it fails.
    if (fault || !opened() || error?.name === 'NotSaved') return;
    became = '';
    fault = error ?? 'unknown';
    draw();
  };
  // Without an error of its own it is a remark of the browser's, or of a page that is not ours.
  window.addEventListener('error', ({ error }) => { if (error) tell(error); });
  window.addEventListener('unhandledrejection', ({ reason }) => tell(reason));
}
