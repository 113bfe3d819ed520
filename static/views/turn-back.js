/**
 * The turn-back clock: one figure to be read at arm's length in the sun. It changes with the water as read, the slowest
 * walk that was timed and the people still out, and says what it does not know. The alarm is the app's (alarm.js); here
 * it is tried.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { meansWords } from './alarm.js';
import { hasCome } from './heads.js';
import { leftNotice, leftOpenWords } from './left-out.js';
import { deviceWord, mark } from './marks.js';
import { siteName } from './names.js';
import { readShore, turnBack, waterNow, whereFrom, whyBack } from './shore.js';
import { readVisits } from './visits.js';
import { clock, counted, spanParts } from './words.js';

const MINUTE_MS = 60_000;
const GATHER_MIN = 15;

/**
 * @typedef {'none'|'back'|'quiet'|'out'|'gather'|'now'|'past'} Phase
 * none: no time is known; back: everyone is in; quiet: over an hour is left; out, gather: less; now: the minute itself;
 * past: late
 */

/**
 * What the clock says at a moment. It never says that it is safe.
 * @param {{atMs: number|null, nowMs: number, out: number, hasCome?: boolean}} of hasCome: whether anybody signed in
 * @returns {{phase: Phase, leftMs: number|null, sentence: string}}
 */
export function clockState({ atMs, nowMs, out, hasCome: isBegun = true }) {
  if (out === 0) {
    return { phase: 'back', leftMs: atMs === null ? null : atMs - nowMs,
      sentence: isBegun ? 'Nobody on this visit is signed in. Count heads anyway.'
        : 'Sign in everyone before they walk out: the alarm is for those who are signed in.' };
  }
  if (atMs === null) return { phase: 'none', leftMs: null,
    sentence: 'No turn-back time is known for this visit. Agree on a time with your leader now.' };
  const leftMs = atMs - nowMs;
  const people = counted(out, 'person', 'people');
  if (leftMs <= -MINUTE_MS) return { phase: 'past', leftMs,
    sentence: `${people} still out. Walk in now, the way you came. If anyone is missing, call for help.` };
  if (leftMs <= 0) return { phase: 'now', leftMs,
    sentence: `Turn back now. ${people} ${out === 1 ? 'is' : 'are'} out. Leave the tools if they slow you.` };
  if (leftMs <= GATHER_MIN * MINUTE_MS) return { phase: 'gather', leftMs,
    sentence: `Finish the unit you are at. Gather ${people} and the tools.` };
  return { phase: leftMs > 60 * MINUTE_MS ? 'quiet' : 'out', leftMs, sentence: `${people} out.` };
}

/**
 * A time of day that cannot be taken for another: the zone's name goes with it on a night when the clocks change.
 * @param {number} ms @param {number} nowMs @param {string} zone
 */
export function surelyClock(ms, nowMs, zone) {
  const name = (/** @type {number} */ at) => new Intl.DateTimeFormat('en-GB',
    { timeZone: zone, timeZoneName: 'shortOffset' }).formatToParts(at)
    .find(({ type }) => type === 'timeZoneName')?.value ?? '';
  const day = 12 * 60 * MINUTE_MS;
  const changes = [nowMs, ms, ms - day, ms + day].some((at) => name(at) !== name(nowMs));
  return changes ? `${clock(ms, zone)} ${name(ms)}` : clock(ms, zone);
}

/** @param {number} leftMs */
function figure(leftMs) {
  const { hours, minutes } = spanParts(leftMs);
  return hours ? html`${hours}<span>\u00a0h </span>${String(minutes).padStart(2, '0')}<span>\u00a0min</span>`
    : html`${minutes}<span>\u00a0min</span>`;
}

/** @type {Record<Phase, string>} */
const HEADINGS = {
  none: 'No turn-back time', back: 'Everyone is in', quiet: 'Turn back in', out: 'Turn back in', gather: 'Turn back in',
  now: 'Turn back', past: 'Turn back was due',
};

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, alarm } = stage;
  /** @type {import('./shore.js').Shore} */ let shore;
  let isBegun = false;
  const refresh = async () => {
    shore = await readShore(phone);
    const { visits } = await readVisits(phone);
    isBegun = hasCome(shore.visit, visits, await phone.rows('sign_in', { siteId: phone.me.site_id }));
  };
  await refresh();

  const look = () => {
    const nowMs = phone.now();
    const back = shore.visit ? turnBack(shore, nowMs) : null;
    return { back, nowMs, ...clockState({ atMs: back?.atMs ?? null, nowMs, out: shore.party.length,
      hasCome: isBegun }) };
  };
  /** @param {NonNullable<ReturnType<typeof turnBack>>} back */
  const because = (back) => [
    ...whyBack(back, shore, stage),
    shore.seenM === null ? 'Nobody has read the water on this visit.'
      : shore.shiftM < shore.seenM || shore.seenM < 0 && shore.shiftM === 0
      ? 'The water was read lower than predicted; it gives more time only if a lead allows it.' : null,
  ].filter((line) => line !== null);

  return {
    title: () => 'Turn-back clock', where: () => siteName(shore.site), back: '#/today', refresh, narrow: true,
    body: () => {
      const { back, nowMs, phase, leftMs, sentence } = look();
      const { zone } = stage;
      const { visit } = shore;
      const water = waterNow(shore, nowMs, stage);
      const isStop = phase === 'gather' || phase === 'now' || phase === 'past' || phase === 'none';
      return html`<div class="arm ${isStop ? 'stop' : ''}" role="timer"
        aria-live=${phase === 'now' || phase === 'past' ? 'assertive' : 'off'}>
          <div class="label">${isStop ? mark('stop') : nothing}${phase !== 'back' ? HEADINGS[phase]
            : !shore.visit ? 'No visit is open' : isBegun ? HEADINGS.back : 'Nobody is signed in yet'}</div>
          <div class="figure">${phase === 'now' ? 'NOW' : leftMs === null
            ? html`<span>${phase === 'none' ? 'Agree a time' : 'No time is set'}</span>`
            : html`${figure(Math.abs(leftMs))}${leftMs < 0 ? html`<span>\u00a0ago</span>` : nothing}`}</div>
          <div class="at">${back ? html`at <b>${surelyClock(back.atMs, nowMs, zone)}</b>` : nothing}</div>
            <p>${sentence}</p></div>
        ${leftNotice(shore.left)}
        <dl class="facts">${[
          ['Now', surelyClock(nowMs, nowMs, zone)],
          ['Water now', html`${water.level}<small class="small">${water.how}</small>`],
          ['People out', html`${shore.party.length}<small
            class="small">${leftOpenWords(shore.left, nowMs, zone)}</small>`],
        ].map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
        ${visit ? html`<button type="button" class="or"
          aria-pressed=${String(Boolean(alarm.kept.isOn))} @click=${() => alarm.arm(visit.record_id,
            visit.site_id)}>${alarm.kept.isOn ? 'Alarm is on: tap to hear it' : 'Switch the alarm on'}</button>`
            : nothing}
        <p>Alarm on this ${deviceWord()}: ${meansWords()}.${alarm.ringer.isDark
          ? ` The screen may go dark: this ${deviceWord()} did not let the app keep it on.` : ''}</p>
        <div class="why">${back ? because(back).map((line) => html`<p>${line}</p>`)
          : nothing}${whereFrom(shore, stage).map((line) => html`<p>${line}</p>`)}
          <p>It does not know about waves, fog, lightning, soft mud, or who is hurt or slow today. A locked
            or silenced phone may not sound. Keep your own eye on the water. Local rules and your leader come
            first.</p></div>`;
    },
    foot: () => html`<div class="two"><a class="or" href="#/people">People</a><a class="or"
      href="#/visit">Read the water</a></div>`,
  };
}
