/** Today: the time left before turning back while a visit runs, else the next window; water, people out, flags. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { leavesHomeMs } from '../tides/turning.js';
import { isComplete } from '../tides/windows.js';
import { ebb } from './ebb.js';
import { leftNotice, leftOpenWords } from './left-out.js';
import { chevron, deviceWord, isWide, mark, pill, rowLink, section } from './marks.js';
import { siteName } from './names.js';
import { openFlags } from './open-flags.js';
import { hasUse } from './roles.js';
import { seenHere } from './seen-here.js';
import { halfSetUp, isSetUp, oneLead, readSteps } from './steps.js';
import { pathWords, readShore, reasonOf, rowLevels, turnBack, visitWindow, waterAt, waterNow, whereFrom, whyBack,
  windowFor } from './shore.js';
import { stillComing } from './tiers.js';
import { clock, counted, day, length, localDay, moment, msOf, spanParts, spanWords } from './words.js';

const SOON_MS = 30 * 60_000;
const FLAGS_SHOWN = 6;
/** What says all of two values reads forms and histories: no first screen waits for it that has none to show. */
const differenceModule = () => import('./difference.js');

/** @param {number} ms @param {boolean} isPast */
function figure(ms, isPast) {
  const { days, hours, minutes } = spanParts(ms);
  const parts = days ? [[days, 'd'], [hours, 'h']] : hours ? [[hours, 'h'], [minutes, 'min']] : [[minutes, 'min']];
  const units = parts.map(([n, unit], at) => html`${n}<span>\u00a0${unit}${isPast && at === parts.length - 1
    ? '\u00a0ago' : ' '}</span>`);
  return html`<div class="figure">${units}</div>`;
}

/** @param {string} label @param {unknown} value */
const fact = (label, value) => html`<div><dt>${label}</dt><dd>${value}</dd></div>`;

/** @param {import('./shore.js').Shore} shore @param {import('./router.js').Stage} stage @param {number} nowMs */
function waterFact(shore, stage, nowMs) {
  const { level, how } = waterNow(shore, nowMs, stage);
  return fact('Water now', html`${level}<small class="small">${how}</small>`);
}

/**
 * While a visit runs.
 * @param {import('./shore.js').Shore} shore @param {import('./router.js').Stage} stage @param {number} nowMs
 */
function runningBoard(shore, stage, nowMs) {
  const { zone } = stage;
  const back = turnBack(shore, nowMs);
  const heads = html`${shore.party.length}<small class="small">${leftOpenWords(shore.left, nowMs, zone)}</small>`;
  const facts = html`<dl class="facts">${fact('Turn back by', back ? clock(back.atMs, zone) : 'none')}
    ${waterFact(shore, stage, nowMs)}${fact('People out', heads)}</dl>`;
  if (!back) {
    return html`<div class="board stop"><div class="label">${mark('stop')}No turn-back time for this visit</div>
      <p>This visit is not on a predicted low tide. Agree on a time with your leader before anyone goes
        out.</p>${facts}</div>`;
  }
  const leftMs = back.atMs - nowMs;
  const driesMs = visitWindow(shore)?.driesMs ?? 0;
  const wet = nowMs < driesMs ? [`The path is under water until ${clock(driesMs, zone)}.`] : [];
  const because = html`<p class="because">${[...wet, ...whyBack(back, shore, stage)].join(' ')}</p>`;
  if (leftMs <= 0) {
    return html`<div class="board stop"><div
      class="label">${mark('stop')}Turn back now. It was due</div>${figure(leftMs, true)}${because}${facts}</div>`;
  }
  return html`<div class="board ${leftMs < SOON_MS ? 'stop' : ''}"><div
    class="label">${leftMs < SOON_MS ? mark('stop') : nothing}Turn back in</div>
    ${figure(leftMs, false)}${because}${facts}</div>`;
}

/**
 * No visit runs: when to leave home for the next low.
 * @param {import('./shore.js').Shore} shore @param {import('./router.js').Stage} stage @param {number} nowMs
 */
function nextBoard(shore, stage, nowMs) {
  const { zone, settings } = stage;
  const { site } = shore;
  const next = windowFor(shore, nowMs);
  if (!next || !isComplete(site)) {
    const sentence = stage.phone.pack()?.sites?.[stage.phone.me.site_id ?? '']?.sentence;
    const [what, why] = !isComplete(site)
      ? ['Not all set up yet',
        'Not all of the site\u2019s levels and walking times are set. A lead sets them under Set-up.']
      : shore.tide ? ['No usable low ahead', sentence ?? 'No usable low is known. Sync once where there is a network.']
        : ['No tide for today',
          sentence ?? `The tide\u2019s numbers are not on this ${deviceWord()}. Sync once where there is a network.`];
    return html`<div class="board quiet"><div class="label">${mark('look')}${what}</div><p>${why}</p>
      <dl class="facts">${waterFact(shore, stage, nowMs)}</dl></div>`;
  }
  const { fromMs, backMs } = /** @type {{fromMs: number, backMs: number}} */ (next);
  const leaveMs = leavesHomeMs(fromMs, site);
  const driesMs = next.driesMs ?? 0;
  const [label, atMs] = nowMs < leaveMs ? ['Leave home at', leaveMs]
    : nowMs < driesMs ? ['Path under water until', driesMs]
      : nowMs < fromMs ? ['Work from', fromMs] : ['Turn back in', backMs];
  const when = `${localDay(atMs, zone) === localDay(nowMs, zone) ? '' : `${day(atMs, zone)}, `}in `
    + `${spanWords(atMs - nowMs)}`;
  return html`<section class="board" aria-label=${`${label} ${clock(atMs, zone)}, ${when}`}><div
    class="label"><span>${label}</span><span>${atMs === backMs ? `at ${clock(backMs, zone)}` : when}</span></div>
      ${atMs === backMs ? figure(backMs - nowMs, false) : html`<div class="figure">${clock(atMs, zone)}</div>`}
      <dl class="facts">${fact('Path dry from', pathWords(next, zone))}${fact('Work from',
        clock(fromMs, zone))}${fact('Turn back', clock(backMs, zone))}</dl>
      <p class="because">Why ${clock(backMs, zone)}${reasonOf(next, site, nowMs)}.</p></section>
    <dl class="facts">${waterFact(shore, stage, nowMs)}${fact('Low',
      html`${clock(next.lowMs, zone)}<small class="small">${length(next.lowM, settings.feet)}</small>`)}
      ${fact('Work', html`${spanWords(next.usableMin * 60_000)}<small
        class="small">${DAYLIGHT[/** @type {keyof typeof DAYLIGHT} */ (next.daylight)]}</small>`)}</dl>`;
}
const DAYLIGHT = { day: 'in daylight', partly: 'partly in daylight' };

/**
 * The low of the running visit, or the next one to use.
 * @param {import('./shore.js').Shore} shore @param {{name: string, bedM: number}[]} rows
 * @param {import('./router.js').Stage} stage @param {number} nowMs
 */
function picture(shore, rows, stage, nowMs) {
  const { tide, site } = shore;
  // Where no visit runs on a site that is set up, the board has said so.
  if (!tide && !shore.visit && isComplete(site)) return nothing;
  if (!tide) return html`<p class="why">The tide's numbers have not come yet. Sync once where there is a
    network.</p>`;
  const low = visitWindow(shore) ?? windowFor(shore, nowMs);
  const why = html`<div class="why">${whereFrom(shore, stage).map((line) => html`<p>${line}</p>`)}</div>`;
  if (!low || !isComplete(site)) return why;
  const read = shore.visit?.observed_at && shore.seenM !== null ? Date.parse(shore.visit.observed_at) : null;
  return html`${ebb({ ...shore, tide, site }, (ms) => waterAt(shore, ms), {
    lowMs: low.lowMs, backMs: turnBack(shore, nowMs)?.atMs ?? low.backMs, nowMs, readMs: read, rows, zone: stage.zone,
    feet: stage.settings.feet, wide: isWide(), window: low,
  })}${why}`;
}

/** @param {any} flag */
const flagRow = (flag) => rowLink({
  href: flag.unitId ? `#/units/${flag.unitId}` : '#/flags', said: flag.sentence,
  pill: pill('look', flag.isHere ? 'not sent' : flag.todo ?? 'look'),
});

/**
 * The other ways, for thumbs: a laptop has them at its side.
 * @param {import('./shore.js').Shore} shore @param {string} role
 */
const furtherWays = (shore, role) => html`<div class="narrow-only">${section('Also', nothing, html`
  ${rowLink({ href: '#/low-tides', said: 'Low tides of the next 60 days' })}
  ${hasUse(role, 'plan') ? rowLink({ href: '#/plan', said: 'Visit plan' }) : nothing}
  ${hasUse(role, 'visit') ? rowLink({ href: '#/visit', said: 'Visit' }) : hasUse(role, 'visits')
    ? rowLink({ href: '#/visits', said: 'Past visits' }) : nothing}
  ${rowLink({ href: '#/flags', said: 'Flags', aside: html`<span>${shore.openCount}</span>${chevron}` })}
  ${hasUse(role, 'set-up') ? rowLink({ href: '#/set-up', said: 'Set-up, invitations, devices' }) : nothing}`)}
  </div>`;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  /** @type {import('./shore.js').Shore} */ let shore;
  /** @type {any[]} */ let here = [];
  /** @type {any[]} the first of all flags */ let shown = [];
  /** Whether this phone says one of some flags in words of its own. @param {any[]} flags */
  const isSaidAnew = (flags) => !phone.lackingTiers.includes('safety') && flags.some(({ rule, subject: { kind } }) =>
    kind !== 'unit' && (rule === 'disagreement' || phone.pack()?.forms?.kinds?.[kind]?.['x-privacy'] !== 'open'));
  /** @param {any[]} flags @returns {Promise<any[]>} */
  const sentence = async (flags) => (isSaidAnew(flags) ? (await differenceModule()).withBothSides(stage, flags)
    : flags);
  /** @type {{name: string, bedM: number}[]} */ let rows = [];
  /** @type {import('./steps.js').Step[]} */ let steps = [];
  const refresh = async () => {
    [shore, rows, steps] = await Promise.all([readShore(phone), rowLevels(phone),
      isSetUp(steps) ? steps : readSteps(phone),
      // The pack has told which flags there are, so what says them comes while records are read.
      isSaidAnew(openFlags(phone).slice(0, FLAGS_SHOWN)) ? differenceModule() : null]);
    here = await seenHere(phone, shore.site, stage.zone);
    shown = await sentence([...here, ...shore.flags].slice(0, FLAGS_SHOWN));
  };
  await refresh();
  const flags = () => section('To look at', counted(shore.openCount + here.length, 'flag'),
    shore.flags.length + here.length
      ? html`${shown.map(flagRow)}
          ${shore.flags.length + here.length > FLAGS_SHOWN
            ? rowLink({ href: '#/flags', said: shore.openCount > shore.flags.length
              ? `The ${shore.flags.length} most severe of ${shore.openCount} flags`
              : `All ${shore.openCount + here.length} flags` }) : nothing}`
      : html`<p class="row">No flags.</p>`);
  const out = () => (shore.out.length ? rowLink({
    href: '#/people', said: `${counted(shore.out.length, 'person', 'people')} out on the shore`,
    small: `first in at ${moment(msOf(shore.out[0].signIn.in_at) ?? 0, phone.now(), stage.zone)}`,
  }) : nothing);
  return {
    title: () => 'Today', where: () => siteName(shore.site), refresh,
    body: () => html`<div class="cols"><div class="stack">${shore.visit ? runningBoard(shore, stage, phone.now())
      : nextBoard(shore, stage, phone.now())}
      ${picture(shore, rows, stage, phone.now())}</div><div
        class="stack">${leftNotice(shore.left)}${stillComing(phone)}${halfSetUp(steps, phone.me.role)}${shore.visit
          ? nothing : html`${isSetUp(steps) ? oneLead(phone) : nothing}${out()}`}${flags()}${furtherWays(shore,
          phone.me.role)}</div></div>`,
    foot: () => (!hasUse(phone.me.role, 'people') ? nothing : !hasUse(phone.me.role, 'visit')
      ? html`<a class="do" href="#/people">Sign someone in</a>` : shore.visit
      ? html`<div class="lead"><a class="do" href="#/units">Continue the visit</a><a class="or"
        href="#/turn-back">Clock</a></div>`
      : html`<a class="do" href="#/visit">Start a visit</a>`),
  };
}
