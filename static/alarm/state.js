/**
 * When the turn-back alarm sounds and what its banner shows: numbers in, words of state out, no clock and no browser.
 * It belongs to the app, so it is the same on every screen.
 */
const MINUTE_MS = 60_000;
/**
 * Minutes before turning back at which it sounds; from nought on it sounds every minute while someone is out. Our own
 * proposal.
 */
const CALLS_MIN = [30, 15, 5, 0];
/** From so long before, the banner stands on every screen. */
const BANNER_MS = 15 * MINUTE_MS;
/** "Heard" silences it for so long. */
const HEARD_MS = 5 * MINUTE_MS;
/**
 * The app looks every 5 s, and in the background at least every minute; a longer gap means that it was asleep or
 * closed.
 */
const ASLEEP_MS = 90_000;

/**
 * @typedef {{nowMs: number, backMs: number|null, out: number, heardMs: number|null, lookedMs: number, awaySinceMs:
 *   number|null}} Told
 * backMs: the time to turn back; out: people of this visit who are not signed out; heardMs: when "Heard" was tapped
 * last; lookedMs: the look before this one; awaySinceMs: since when the phone was locked or showed another app, told
 * once it is back
 * @typedef {{shows: boolean, isDue: boolean, rings: boolean, quietUntilMs: number|null, silentFromMs: number|null}}
 *   State
 * shows: the banner; quietUntilMs: silenced until then; silentFromMs: it should have sounded since then and may not
 * have
 */

/**
 * Whether the alarm sounds between two looks at the clock.
 * @param {{atMs: number|null, beforeMs: number, nowMs: number, out: number}} of
 */
export function calls({ atMs, beforeMs, nowMs, out }) {
  if (atMs === null || out === 0 || nowMs <= beforeMs) return false;
  const [before, now] = [atMs - beforeMs, atMs - nowMs];
  if (CALLS_MIN.some((minute) => before > minute * MINUTE_MS && now <= minute * MINUTE_MS)) return true;
  return now < 0 && Math.floor(before / MINUTE_MS) !== Math.floor(now / MINUTE_MS);
}

/**
 * Since when the phone did not look, where that is too long for an app that runs.
 * @param {number} lookedMs @param {number} nowMs @returns {number|null}
 */
export const asleepSince = (lookedMs, nowMs) => (nowMs - lookedMs > ASLEEP_MS ? lookedMs : null);

/** @param {Told} told @returns {State} */
export function alarmState({ nowMs, backMs, out, heardMs, lookedMs, awaySinceMs }) {
  const silencedMs = heardMs === null ? -Infinity : heardMs + HEARD_MS;
  const isQuiet = nowMs < silencedMs;
  // What it was told to keep silent about was not missed.
  const since = (/** @type {number} */ ms) => Math.max(ms, silencedMs);
  const callsSince = (/** @type {number} */ ms) => calls({ atMs: backMs, beforeMs: since(ms), nowMs, out });
  const isMissed = !isQuiet && awaySinceMs !== null && callsSince(awaySinceMs);
  return {
    shows: backMs !== null && out > 0 && nowMs >= backMs - BANNER_MS,
    isDue: backMs !== null && nowMs >= backMs,
    rings: !isQuiet && (isMissed || callsSince(lookedMs)),
    quietUntilMs: isQuiet ? silencedMs : null,
    silentFromMs: isMissed && awaySinceMs !== null ? since(awaySinceMs) : null,
  };
}
