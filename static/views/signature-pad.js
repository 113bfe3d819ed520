/** A box to sign in with a finger, a pen or a mouse: what is drawn is kept as text of SVG paths, never as a picture. */
import { html, svg } from '../vendor/lit-html-3.3.3/lit-html.js';
import { BOX, pathOf, signatureOf } from '../records/signature.js';

/** A signature that a phone of ours made; anything else draws nothing. @param {unknown} signature */
export const signatureDrawn = (signature) => html`<svg class="signature" viewBox="0 0 ${BOX.width} ${BOX.height}"
  aria-hidden="true">${svg`<path d=${pathOf(signature)}/>`}</svg>`;

export class SignaturePad {
  /** @param {(signature: string[]|null) => void} take what is drawn, after each stroke; null where nothing is */
  constructor(take) {
    this.take = take;
    /** @type {string[]} */ this.signature = [];
    /** @type {import('../records/signature.js').Points[]} */ this.strokes = [];
    this.isDrawing = false;
  }

  /** @param {string[]} [signature] as it was kept */
  start(signature = []) {
    Object.assign(this, { signature, strokes: [], isDrawing: false });
  }

  clear() {
    this.start();
    this.take(null);
  }

  /** What was kept before is drawn again, not gone on with. @param {any} event */
  begin(event) {
    event.preventDefault();
    event.currentTarget.setPointerCapture?.(event.pointerId);
    this.isDrawing = true;
    this.strokes.push([]);
    this.go(event);
  }

  /** @param {any} event */
  go(event) {
    if (!this.isDrawing) return;
    const place = event.currentTarget.getBoundingClientRect();
    this.strokes[this.strokes.length - 1].push([
      ((event.clientX - place.left) / place.width) * BOX.width,
      ((event.clientY - place.top) / place.height) * BOX.height]);
    this.signature = signatureOf(this.strokes);
    event.currentTarget.querySelector('path').setAttribute('d', pathOf(this.signature));
  }

  end() {
    if (!this.isDrawing) return;
    this.isDrawing = false;
    this.take(this.signature);
  }

  /** @param {string} label */
  draw(label) {
    const end = () => this.end();
    return html`<svg class="signature pad" id="w-signature" viewBox="0 0 ${BOX.width} ${BOX.height}" role="img"
      aria-label=${label} @pointerdown=${(/** @type {any} */ event) => this.begin(event)}
      @pointermove=${(/** @type {any} */ event) => this.go(event)} @pointerup=${end} @pointercancel=${end}>${
        svg`<path d=${pathOf(this.signature)}/>`}</svg>`;
  }
}
