/** Today: the time left before turning back while a visit runs, else the next window; water, people out, flags. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isComplete } from '../tides/windows.js';
import { chevron, mark, pill, rowLink, section } from './marks.js';
import { siteName } from './names.js';
import { seenHere } from './seen-here.js';
import { readShore, turnBack, visitWindow, waterAt, whereFrom, windowFor } from './shore.js';
import { tideCurve } from './tide-curve.js';
import { clock, counted, day, length, moment, spanParts, spanWords } from './words.js';

const HOUR_MS = 3_600_000;
const SOON_MS = 30 * 60_000;
const FLAGS_SHOWN = 6;

/** @param {number} ms @param {boolean} isPast */
function figure(ms, isPast) {
  const { days, hours, minutes } = spanParts(ms);
  const parts = days ? [[days, 'd'], [hours, 'h']] : hours ? [[hours, 'h'], [minutes, 'min']] : [[minutes, 'min']];
  return html`<div class="figure">${parts.map(([n, unit]) => html`${n}<span> ${unit} </span>`)}${isPast ? html`<span>ago</span>` : nothing}</div>`;
}

/** @param {string} label @param {unknown} value */
const fact = (label, value) => html`<div><dt>${label}</dt><dd>${value}</dd></div>`;

/** While a visit runs. @param {any} shore @param {import('./router.js').Stage} stage @param {number} nowMs */
function runningBoard(shore, stage, nowMs) {
  const { zone, settings } = stage;
  const back = turnBack(shore, nowMs);
  const facts = html`<dl class="facts">${fact('Turn back at', back ? clock(back.atMs, zone) : 'none')}
    ${fact('Water now', length(waterAt(shore, nowMs), settings.feet))}${fact('People out', shore.out.length)}</dl>`;
  if (!back) {
    return html`<div class="board stop"><div class="label">${mark('stop')}No turn-back time for this visit</div>
      <p>The visit lies outside every predicted window. Agree a time with your leader before anyone walks out.</p>${facts}</div>`;
  }
  const leftMs = back.atMs - nowMs;
  if (leftMs <= 0) {
    return html`<div class="board stop"><div class="label">${mark('stop')}Turn back now. It was due</div>${figure(leftMs, true)}${facts}</div>`;
  }
  return html`<div class="board ${leftMs < SOON_MS ? 'stop' : ''}"><div class="label">${leftMs < SOON_MS ? mark('stop') : nothing}Turn back in</div>
    ${figure(leftMs, false)}${facts}</div>`;
}

/** No visit runs: when the shore opens next. @param {any} shore @param {import('./router.js').Stage} stage @param {number} nowMs */
function nextBoard(shore, stage, nowMs) {
  const { zone, settings } = stage;
  const next = windowFor(shore, nowMs);
  const water = fact('Water now', length(waterAt(shore, nowMs), settings.feet));
  if (!next) {
    const why = !isComplete(shore.site) ? 'Not all of the site\u2019s levels and walking times are set, so no window can be told. A lead sets them under Set-up.' : stage.phone.pack()?.sites?.[stage.phone.me.site_id]?.sentence ?? 'No window is known. Sync once where there is a network.';
    return html`<div class="board quiet"><div class="label">${mark('look')}No window ahead</div><p>${why}</p><dl class="facts">${water}</dl></div>`;
  }
  const { fromMs, untilMs } = /** @type {{fromMs: number, untilMs: number}} */ (next);
  const isOpen = fromMs <= nowMs;
  return html`<div class="board"><div class="label">${isOpen ? `Low water window, until ${clock(untilMs, zone)}: time left` : 'Next window opens in'}</div>
    ${figure(isOpen ? untilMs - nowMs : fromMs - nowMs, false)}
    <p>${isOpen ? nothing : html`${day(fromMs, zone)}, ${clock(fromMs, zone)} to ${clock(untilMs, zone)}. `}${spanWords(next.usableMin * 60_000)} of usable time, ${DAYLIGHT[/** @type {keyof typeof DAYLIGHT} */ (next.daylight)]}.</p>
    <dl class="facts">${fact('Low', `${clock(next.lowMs, zone)}`)}${fact('Turn back', next.backMs ? clock(next.backMs, zone) : 'none')}${water}</dl></div>`;
}
const DAYLIGHT = { day: 'in daylight', partly: 'partly in daylight' };

/** @param {any} shore @param {import('./router.js').Stage} stage @param {number} nowMs */
function picture(shore, stage, nowMs) {
  if (!shore.tide) return html`<p class="why">The tide's numbers have not come yet. Sync once where there is a network.</p>`;
  const window = visitWindow(shore) ?? windowFor(shore, nowMs);
  const near = window && window.lowMs - nowMs < 9 * HOUR_MS ? window : null;
  const fromMs = near ? Math.min(nowMs - HOUR_MS / 2, near.lowMs - 4 * HOUR_MS) : nowMs - 3 * HOUR_MS;
  const toMs = near ? Math.max(near.lowMs + 4 * HOUR_MS, nowMs + HOUR_MS) : nowMs + 12 * HOUR_MS;
  const backMs = near ? (turnBack(shore, nowMs)?.atMs ?? near.backMs) : null;
  return html`${tideCurve({
    at: (ms) => waterAt(shore, ms) ?? 0, fromMs, toMs, nowMs, window: near, backMs, workM: shore.site.work_level_m ?? null,
    zone: stage.zone, feet: stage.settings.feet, wide: matchMedia('(min-width: 900px)').matches,
  })}<div class="why">${whereFrom(shore, stage).map((line) => html`<p>${line}</p>`)}</div>`;
}

/** @param {any} flag */
const flagRow = (flag) => rowLink({
  href: flag.unitId ? `#/units/${flag.unitId}` : '#/flags', said: flag.sentence,
  aside: pill('look', flag.isHere ? 'not sent' : flag.todo ?? 'look'),
});

/** The other ways, for thumbs: a laptop has them at its side. @param {any} shore @param {boolean} isLead */
const furtherWays = (shore, isLead) => html`<div class="narrow-only">${section('Also', nothing, html`
  ${rowLink({ href: '#/windows', said: 'Windows of the next 60 days' })}
  ${rowLink({ href: '#/plan', said: 'Visit plan' })}
  ${rowLink({ href: '#/visit', said: 'Visit' })}
  ${rowLink({ href: '#/flags', said: 'Flags', aside: html`<span>${shore.openCount}</span>${chevron}` })}
  ${isLead ? rowLink({ href: '#/set-up', said: 'Set-up, invitations, devices' }) : nothing}`)}</div>`;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  /** @type {any} */ let shore;
  /** @type {any[]} */ let here = [];
  const refresh = async () => {
    shore = await readShore(phone);
    here = await seenHere(phone, shore.site, stage.zone);
  };
  await refresh();
  const flags = () => section('To look at', counted(shore.openCount + here.length, 'flag'),
    shore.flags.length + here.length
      ? html`${[...here, ...shore.flags].slice(0, FLAGS_SHOWN).map((/** @type {any} */ flag) => flagRow(flag))}
          ${shore.flags.length + here.length > FLAGS_SHOWN ? rowLink({ href: '#/flags', said: shore.openCount > shore.flags.length ? `The ${shore.flags.length} most severe of ${shore.openCount} flags` : `All ${shore.openCount + here.length} flags` }) : nothing}`
      : html`<p class="row">Nothing is flagged. What nobody looked at cannot be flagged.</p>`);
  const out = () => (shore.out.length ? rowLink({
    href: '#/people', said: `${counted(shore.out.length, 'person', 'people')} out on the shore`,
    small: `first in at ${moment(Date.parse(shore.out[0].signIn.in_at), phone.now(), stage.zone)}`,
  }) : nothing);
  return {
    title: () => 'Today', where: () => siteName(shore.site), refresh,
    body: () => html`<div class="cols"><div class="stack">${shore.visit ? runningBoard(shore, stage, phone.now()) : nextBoard(shore, stage, phone.now())}
      ${picture(shore, stage, phone.now())}</div><div class="stack">${shore.visit ? nothing : out()}${flags()}${furtherWays(shore, phone.me.role === 'lead')}</div></div>`,
    foot: () => (phone.me.role === 'reader' ? nothing : shore.visit
      ? html`<div class="lead"><a class="do" href="#/units">Go on with the visit</a><a class="or" href="#/turn-back">Clock</a></div>`
      : html`<a class="do" href="#/visit">Start a visit</a>`),
  };
}
