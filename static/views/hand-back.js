/**
 * The way out of a device that was handed over: the desk holds a button. Who cannot hold one, or works by keys or a
 * screen reader, types the number that the desk was shown before it handed the device over.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';

const HOLD_MS = 1_500;

export class HandBack {
  /**
   * @param {import('./router.js').Stage} stage @param {() => typeof import('../languages/en.js').words} words
   * @param {() => Promise<void>} comeBack
   */
  constructor(stage, words, comeBack) {
    this.stage = stage;
    this.words = words;
    this.comeBack = comeBack;
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.holding = undefined;
    this.isAsked = false;
    this.isWrong = false;
    this.typed = '';
  }

  hold() {
    this.letGo();
    this.holding = setTimeout(() => { this.letGo(); this.comeBack(); }, HOLD_MS);
  }

  letGo() {
    clearTimeout(this.holding);
    this.holding = undefined;
  }

  /** A short tap, a key or a screen reader: the button says how, and there is a box for the number. */
  ask() {
    this.isAsked = true;
    this.stage.redraw();
  }

  /** @param {Event} event */
  tryNumber(event) {
    event.preventDefault();
    if (this.typed.trim() === this.stage.phone.me.handed_over?.number) { this.comeBack(); return; }
    this.isWrong = true;
    this.stage.redraw();
  }

  draw() {
    const words = this.words();
    const release = () => this.letGo();
    return html`<div class="hand-back"><button type="button" class="or" @pointerdown=${() => this.hold()}
      @pointerup=${release} @pointerleave=${release} @pointercancel=${release} @click=${() => this.ask()}
      @contextmenu=${(/** @type {Event} */ event) => event.preventDefault()}>${words.hold}</button>
      ${this.isAsked ? html`<form class="field" autocomplete="off"
        @submit=${(/** @type {Event} */ event) => this.tryNumber(event)}><label class="label-text"
        for="desk-number">${words.number}<small>${words.holdHint}</small></label><input class="line" id="desk-number"
        inputmode="numeric" autocomplete="off" aria-describedby="desk-number-said" .value=${this.typed}
        @input=${(/** @type {any} */ event) => { this.typed = event.target.value; this.isWrong = false; }}>
        <div id="desk-number-said" role="alert">${this.isWrong ? words.wrongNumber : nothing}</div>
        <button class="or">${words.open}</button></form>` : nothing}</div>`;
  }
}
