/** One visit as it was: its low on the shore, who was out from when to when, and what was read. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isRemoved } from '../records/mistaken.js';
import { knows, openTide } from '../tides/predict.js';
import { allowanceOf, isComplete } from '../tides/windows.js';
import { ebb, staysOf } from './ebb.js';
import { deviceWord, doubt, isWide, section } from './marks.js';
import { personName } from './names.js';
import { Photos } from './photo-box.js';
import { labelOf } from './kind-forms.js';
import { hasUse } from './roles.js';
import { plannedWindow, readShore, rowLevels, seenOf, shiftOf, visitWindow, waterAt, whereFrom } from './shore.js';
import { summaryOf } from './visit-end.js';
import { endOf, idsOf, isOver, leadersOf, readVisits } from './visits.js';
import { clock, clockOf, counted, fullDay, length, msOf } from './words.js';

const HOUR_MS = 3_600_000;
/** A drawing reads the tide so far to both sides of its low. */
const REACH_MS = 14 * HOUR_MS;
/** The first days of the first year that a pack has numbers of lack the tide before them. */
const AFTER_FIRST_MS = 4 * 24 * HOUR_MS;

/**
 * @typedef {{visit: any, shore: import('./shore.js').Shore, rows: {name: string, bedM: number}[], stays:
 *   (import('./ebb.js').Stay & {isTimed: boolean})[], people: number, summary: import('./visit-end.js').Summary,
 *   leaders: string[], startedMs:
 *   number, endedMs: number|null}} Past
 */

/** @type {WeakMap<object, any>} */
const opened = new WeakMap();

/**
 * The tide at a time that lies behind: the pack's numbers are of whole years, and hold from the first one's beginning.
 * @param {import('./router.js').Phone} phone @param {number} ms
 * @returns {import('./shore.js').Tide|null} null where it has none of that time
 */
function tideThen(phone, ms) {
  const given = phone.tides(phone.me.site_id);
  if (!given?.numbers?.length) return null;
  if (!opened.has(given)) opened.set(given,
    openTide({ ...given, from_ms: given.numbers[0].start_ms + AFTER_FIRST_MS }));
  const tide = opened.get(given);
  return knows(tide, ms - 2 * REACH_MS, ms + 2 * REACH_MS) ? tide : null;
}

/** @param {import('./router.js').Phone} phone @param {string} visitId @returns {Promise<Past|null>} */
async function readPast(phone, visitId) {
  const siteId = phone.me.site_id;
  const [visit, known] = await Promise.all([phone.row('visit', visitId), readVisits(phone)]);
  const startedMs = msOf(visit?.started_at);
  if (!visit || visit.site_id !== siteId || startedMs === null) return null;
  const [now, rows, summary, signIns, people] = await Promise.all([
    readShore(phone, visit), rowLevels(phone), summaryOf(phone, visit, known.visits),
    phone.rows('sign_in', { siteId }), phone.rows('person', { siteId }),
  ]);
  // A day alone says nothing of the tide.
  const tide = visit.time_known === false ? null : tideThen(phone, startedMs);
  const seenM = seenOf(visit, tide);
  const shore = { ...now, tide, seenM, shiftM: shiftOf(seenM, now.allowsM, allowanceOf(now.site ?? {})) };
  const names = new Map(people.map((person) => [person.record_id, personName(person)]));
  const ids = idsOf(visit, known.visits);
  const of = signIns.filter((signIn) =>
    ids.has(signIn.visit_id) && signIn.in_at && !isRemoved('sign_in', signIn));
  return {
    visit, shore, rows, summary, startedMs, people: new Set(of.map((signIn) => signIn.person_id)).size,
    endedMs: isOver(visit, known.visits, known.parts) ? endOf(visit, known.visits, known.parts) : null,
    stays: of.map((/** @type {any} */ signIn) =>
      ({ name: names.get(signIn.person_id) ?? personName(null), inMs: msOf(signIn.in_at) ?? 0,
        outMs: msOf(signIn.out_at), isTimed: signIn.time_known !== false })),
    leaders: leadersOf(visit, known, names),
  };
}

/**
 * The low that a visit was on: as the pack has it, else the one nearest to its middle.
 * @param {Past} past @param {import('./shore.js').Tide} tide @returns {number|null}
 */
function lowOf({ shore, startedMs, endedMs }, tide) {
  const planned = plannedWindow(shore);
  if (planned) return planned.lowMs;
  // Old data may have an end years away: the low is then the one nearest to the start.
  const endMs = endedMs !== null && Math.abs(endedMs - startedMs) < REACH_MS ? endedMs : startedMs;
  const middleMs = (startedMs + endMs) / 2;
  const lows = tide.extremes(middleMs - REACH_MS, middleMs + REACH_MS).filter(({ kind }) => kind === 'low');
  return lows.sort((one, other) => Math.abs(one.ms - middleMs) - Math.abs(other.ms - middleMs))[0]?.ms ?? null;
}

/** @param {Past} past @param {import('./router.js').Stage} stage */
function drawing(past, stage) {
  const { rows, stays, visit } = past;
  const { phone, zone, settings } = stage;
  const { tide, site } = past.shore;
  if (visit.time_known === false) return doubt('Only the day of this visit is known, so its low is not drawn.');
  if (!tide) return doubt(`The tide of that day is not on this ${deviceWord()}, so its low is not drawn.`);
  if (!isComplete(site)) return doubt(
    'Not all of the site\u2019s levels and walking times are set, so the low is not drawn.');
  const shore = { ...past.shore, tide, site };
  const lowMs = lowOf(past, tide);
  if (lowMs === null) return doubt('No low tide is predicted near this visit, so none is drawn.');
  if (!knows(tide, lowMs - 2 * REACH_MS, lowMs + 2 * REACH_MS))
    return doubt(`The tide of that day is not on this ${deviceWord()}, so its low is not drawn.`);
  const window = visitWindow(shore);
  const nowMs = phone.now();
  return html`${ebb(shore, (ms) => waterAt(shore, ms), {
    lowMs, window, backMs: window?.backMs ?? null, nowMs: Math.abs(nowMs - lowMs) < REACH_MS / 2 ? nowMs : null,
    people: stays.filter(({ isTimed }) => isTimed), rows, zone,
    readMs: shore.seenM === null ? null : msOf(visit.observed_at), feet: settings.feet,
    wide: isWide(),
  })}${window ? nothing
    : doubt(`This ${deviceWord()} has no times for this visit\u2019s low, so the turn-back time is not drawn.`)}
    <div class="why"><p>Dry ground is drawn with the levels, the allowance and the tide the site has today.
      Slow walks and people still out may have brought the turn-back time forward; that is not drawn.</p>
      ${whereFrom(shore, stage).slice(0, 1).map((line) => html`<p>${line}</p>`)}</div>`;
}

/** What was read and noted. @param {Past} past @param {import('./router.js').Stage} stage */
function facts({ visit, shore, startedMs, endedMs, leaders }, { zone, settings }) {
  const readMs = msOf(visit.observed_at);
  const water = readMs === null || typeof visit.observed_level_m !== 'number' ? 'not read'
    : `${length(visit.observed_level_m, settings.feet)}${visit.time_known === false ? ', time not known'
      : ` at ${clock(readMs, zone)}`}${shore.seenM === null ? ''
      : `, ${length(visit.observed_level_m - shore.seenM, settings.feet)} predicted`}`;
  return html`<dl class="pairs"><dt>Started</dt><dd>${clockOf(visit, startedMs, zone)}</dd>
    <dt>Ended</dt><dd>${endedMs === null ? 'not ended' : clockOf(visit, endedMs, zone)}</dd>
    <dt>Water</dt><dd>${water}</dd><dt>Briefing</dt><dd>${visit.briefing_done ? 'given' : 'not noted'}</dd></dl>
    <p>${leaders.length ? `Led by ${leaders.join(', ')}.` : 'No leader is named.'}</p>
    <p>${visit.conditions ? `Conditions: ${visit.conditions}` : 'No conditions are noted.'}</p>`;
}

/** Who was out, in words where no drawing says it. @param {Past} past @param {string} zone */
function peopleRows({ stays, people, shore }, zone) {
  const timed = shore.tide ? [] : staysOf(stays.filter(({ isTimed }) => isTimed));
  const ofDay = stays.filter(({ isTimed }) => !isTimed);
  if (!timed.length && !ofDay.length) return nothing;
  const row = (/** @type {string} */ name, /** @type {string} */ when) =>
    html`<div class="row"><span class="said">${name}<small>${when}</small></span></div>`;
  return section('On the shore', counted(people, 'person', 'people'), html`${timed.map(({ name, inMs, outMs }) =>
    row(name, `${clock(inMs, zone)}${outMs === null ? ', no sign-out time' : ` to ${clock(outMs, zone)}`}`))}${
    ofDay.map(({ name }) => row(name, 'times not known'))}`);
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, params: [visitId] } = stage;
  /** @type {Past|null} */ let past = null;
  const photos = new Photos(phone, stage);
  const refresh = async () => {
    past = await readPast(phone, visitId);
    if (past) await photos.read([{ kind: 'visit', id: visitId }]);
  };
  await refresh();
  return {
    title: () => (past ? labelOf(phone, 'visit', 'purpose', past.visit.purpose, 'Visit') : 'Visit'), back: '#/visits',
    refresh,
    close: () => photos.close(),
    where: () => (past ? fullDay(past.startedMs, stage.zone) : nothing),
    body: () => {
      if (!past) return html`<p>This visit is not on this ${deviceWord()}.</p>`;
      const { summary, people } = past;
      return html`<div class="cols"><div class="stack">
        <p>${counted(summary.checked, 'unit')} checked, ${counted(people, 'person', 'people')},
          ${counted(summary.sightings, 'sighting')}. As far as this ${deviceWord()} knows.</p>
        ${drawing(past, stage)}</div>
        <div class="stack">${facts(past, stage)}${peopleRows(past, stage.zone)}${photos.draw((photo) =>
          photo.shows || '')}${hasUse(phone.me.role, 'add-photos') ? html`<a class="or"
          href="#/add-photos/${visitId}">Add photos from a camera</a>` : nothing}</div></div>`;
    },
  };
}
