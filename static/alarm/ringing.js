/**
 * How the alarm is heard and seen: a tone that carries over wind, a vibration that is felt through a glove, a screen
 * that stays on. Browsers allow sound only after a finger has touched the app, and may take it away again; what they
 * cannot do is said.
 */

/** Two long, one short. */
const PATTERN_MS = [600, 200, 600, 200, 200];
const TONE_HZ = 1760;
const LOUDNESS = 0.6;
const BEEPS_S = [0, 0.5, 1];
const BEEP_S = 0.35;
/** A context in one of these plays nothing, and would play all that it was given at once later. */
const STOPPED = ['suspended', 'interrupted', 'closed'];

/** @typedef {{sound: boolean, vibration: boolean}} Means what this browser has */

/** @returns {Means} */
export const means = () => ({ sound: 'AudioContext' in globalThis, vibration: 'vibrate' in navigator });

export class Ringer {
  /** @param {() => void} changed told when the browser takes sound or light away, or gives it back */
  constructor(changed) {
    this.changed = changed;
    /** @type {AudioContext|null} */ this.sound = null;
    /** @type {any} */ this.light = null;
    this.isDark = false;
  }

  /** Ask for sound; with a finger on the screen it is allowed, without one it may be. */
  unlock() {
    if (!means().sound) return;
    if (!this.sound || this.sound.state === 'closed') {
      this.sound = new globalThis.AudioContext();
      this.sound.onstatechange = this.changed;
    }
    // A refusal shows in the context's state.
    this.sound.resume()?.then(this.changed, this.changed);
  }

  /** Whether a tone would be heard now. */
  get isLive() {
    return this.sound !== null && !STOPPED.includes(this.sound.state);
  }

  /** Whether this tab would be noticed. */
  get canRing() { return means().sound ? this.isLive : means().vibration; }

  /** @returns {boolean} whether a tone was played or the phone was asked to vibrate */
  ring() {
    const vibrates = means().vibration && navigator.userActivation?.hasBeenActive !== false
      && navigator.vibrate(PATTERN_MS);
    if (this.isLive) for (const after of BEEPS_S) this.beep(after);
    return this.isLive || vibrates;
  }

  /** @param {number} afterS */
  beep(afterS) {
    const sound = /** @type {AudioContext} */ (this.sound);
    const [tone, loudness] = [sound.createOscillator(), sound.createGain()];
    tone.frequency.value = TONE_HZ;
    loudness.gain.value = LOUDNESS;
    tone.connect(loudness).connect(sound.destination);
    tone.start(sound.currentTime + afterS);
    tone.stop(sound.currentTime + afterS + BEEP_S);
  }

  /** Keep the screen on; a browser lets go of it whenever the app is not in front, and refuses on a low battery. */
  async stayOn() {
    if (this.light || document.hidden) return;
    const lock = /** @type {any} */ (navigator).wakeLock;
    this.light = (await lock?.request('screen').catch(() => null)) ?? null;
    this.isDark = this.light === null;
    this.light?.addEventListener?.('release', () => { this.light = null; });
    this.changed();
  }

  /** The app is not in front any more, so the browser has let go of the screen. */
  forgetLight() { this.light = null; }

  stop() {
    this.light?.release();
    this.sound?.close();
    Object.assign(this, { light: null, sound: null, isDark: false });
  }
}
