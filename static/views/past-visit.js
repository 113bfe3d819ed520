/** One visit as it was: what came of it, its low on the shore with who was out, and everything in order of time. */
import { whenIdle } from '../idle.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { knows } from '../tides/predict.js';
import { isComplete } from '../tides/windows.js';
import { ebb, staysOf } from './ebb.js';
import { inParts } from './in-parts.js';
import { labelOf } from './kind-forms.js';
import { deviceWord, doubt, isWide, rowLink, section } from './marks.js';
import { siteName } from './names.js';
import { REACH_MS, readPast } from './past-visit-read.js';
import { Photos } from './photo-box.js';
import { hasUse } from './roles.js';
import { plannedWindow, visitWindow, waterAt, whereFrom } from './shore.js';
import { entriesDrawn, readCorrections, readEntries } from './visit-entries.js';
import { hoursWords } from './visit-sums.js';
import { clock, counted, fullDay, length, msOf } from './words.js';

/** @typedef {import('./past-visit-read.js').Past} Past */

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
function facts({ visit, shore, briefed, attended }, { zone, settings }) {
  const readMs = msOf(visit.observed_at);
  const predicted = readMs === null || shore.seenM === null || typeof visit.observed_level_m !== 'number' ? nothing
    : html`<br><small>${length(visit.observed_level_m - shore.seenM, settings.feet)} predicted</small>`;
  const water = readMs === null || typeof visit.observed_level_m !== 'number' ? 'not read'
    : html`${length(visit.observed_level_m, settings.feet)}${visit.time_known === false ? ', time not known'
      : ` at ${clock(readMs, zone)}`}`;
  const heard = briefed ? html`<br><small>heard by ${briefed === attended.people ? `all ${briefed}` : briefed}</small>`
    : nothing;
  return html`<dl class="pairs"><dt>Water</dt><dd>${water}${predicted}</dd>
    <dt>Briefing</dt><dd>${visit.briefing_done ? 'given' : 'not noted'}${heard}</dd>
    </dl><p>${visit.conditions ? `Conditions: ${visit.conditions}` : 'No conditions are noted.'}</p>`;
}

/** "20 of 24 planned units checked, 13 people in 15.25 h. 2 flags raised, 4 units not reached." @param {Past} past */
function sentence({ work, planned, missed, attended }) {
  const reached = (planned?.length ?? 0) - missed.length;
  const beside = work.checked.size - reached;
  const units = planned?.length ? `${reached} of ${counted(planned.length, 'planned unit')} checked${
    beside > 0 ? ` and ${beside} beside the plan` : ''}` : work.checked.size
    ? `${counted(work.checked.size, 'unit')} checked` : 'No unit checked';
  const people = attended.people ? `, ${counted(attended.people, 'person', 'people')}` : '';
  const hours = attended.minutes ? ` in ${hoursWords(attended.minutes)}` : '';
  const also = [work.flags.length ? `${counted(work.flags.length, 'flag')} raised` : '',
    missed.length ? `${counted(missed.length, 'unit')} not reached` : '',
    work.sightings ? counted(work.sightings, 'sighting') : '', work.photos ? counted(work.photos, 'photo') : '',
    attended.out ? `${counted(attended.out, 'person', 'people')} without a sign-out time` : ''].filter(Boolean);
  return `${units}${people}${hours}. ${also.length ? `${also.join(', ')}. ` : ''}As far as this ${deviceWord()} knows.`;
}

/** Who was out, in words where no drawing says it. @param {Past} past @param {string} zone */
function peopleRows({ stays, attended, shore }, zone) {
  const timed = shore.tide ? [] : staysOf(stays.filter(({ isTimed }) => isTimed));
  const ofDay = stays.filter(({ isTimed }) => !isTimed);
  if (!timed.length && !ofDay.length) return nothing;
  const row = (/** @type {string} */ name, /** @type {string} */ when) =>
    html`<div class="row"><span class="said">${name}<small>${when}</small></span></div>`;
  const count = counted(attended.people, 'person', 'people');
  return section('On the shore', count, html`${timed.map(({ name, inMs, outMs }) =>
    row(name, `${clock(inMs, zone)}${outMs === null ? ', no sign-out time' : ` to ${clock(outMs, zone)}`}`))}${
    ofDay.map(({ name }) => row(name, 'times not known'))}`);
}

/** What the plan had and nobody checked. @param {Past} past @param {boolean} isLead */
const notReached = ({ planned, missed, visit }, isLead) => (!planned ? nothing
  : section('Not reached', missed.length, missed.length ? missed.map(({ id, tag }) => (isLead
    ? rowLink({ href: `#/visits/${visit.record_id}/correct/check/${id}`, tag, said: 'Add a check that is missing' })
    : rowLink({ href: `#/units/${id}`, tag, said: 'In the plan, not checked' })))
    : html`<p class="row">Every unit of the plan was checked.</p>`));

/** Flags that it raised. @param {Past} past @param {import('./router.js').Stage} stage */
const flagRows = ({ work, visit }, { phone }) => (!work.flags.length ? nothing
  : section('Flags raised', work.flags.length, html`${work.flags.map((flag) => rowLink({
    href: `#/flags/${flag.flag_id}`, said: flag.sentence, small: flag.state === 'open' || flag.state === 'reopened'
      ? 'open' : 'settled' }))}${(msOf(visit.started_at) ?? 0) > phone.now() - SETTLED_MS ? nothing
    : html`<p class="small">Flags settled more than 30 days ago are not on this ${deviceWord()}.</p>`}`));

/** So long a pack has what was settled. */
const SETTLED_MS = 30 * 24 * 3_600_000;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, params: [visitId], zone } = stage;
  /** @type {Past|null} */ let past = null;
  /** @type {import('./visit-entries.js').Entry[]} */ let entries = [];
  /** @type {Awaited<ReturnType<typeof readCorrections>>} */ let corrections = new Map();
  const parts = inParts(stage.redraw);
  const photos = new Photos(phone, stage);
  const refresh = async () => {
    past = await readPast(phone, visitId);
    if (!past) return;
    const { group } = past;
    entries = await readEntries(stage, past);
    const read = past;
    // What was corrected stands in the log, which is read after the first screenful.
    requestAnimationFrame(async () => {
      await whenIdle();
      if (read !== past) return;
      await photos.read(group.map(({ record_id: id }) => ({ kind: 'visit', id })));
      corrections = await readCorrections(stage, read, entries);
      stage.redraw();
    });
  };
  await refresh();
  const isLead = phone.me.role === 'lead';
  const span = (/** @type {Past} */ { startedMs, endedMs, visit, leaders }) => [visit.time_known === false
    ? fullDay(startedMs, zone) : `${fullDay(startedMs, zone)}, ${clock(startedMs, zone)}${endedMs === null
      ? ', not ended' : ` to ${clock(endedMs, zone)}`}`,
    leaders.length ? `led by ${leaders.join(', ')}` : 'no leader is named'].join(', ');
  return {
    title: () => (past ? labelOf(phone, 'visit', 'purpose', past.visit.purpose, 'Visit') : 'Visit'), back: '#/visits',
    refresh, close: () => photos.close(),
    where: () => (past ? `${siteName(past.shore.site)}, ${span(past)}` : nothing),
    foot: () => (past && isLead ? html`<a class="do" href="#/visits/${past.visit.record_id}/correct">Correct this
      visit</a>` : nothing),
    body: () => {
      if (!past) return html`<p>This visit is not on this ${deviceWord()}.</p>`;
      return html`<div class="cols"><div class="stack"><p>${sentence(past)}</p>${drawing(past, stage)}
        ${facts(past, stage)}${peopleRows(past, zone)}${flagRows(past, stage)}${notReached(past, isLead)}</div>
        <div class="stack">${entriesDrawn(stage, past, parts(entries), entries.length, corrections)}
        ${photos.draw((photo) => photo.shows || '')}${hasUse(phone.me.role, 'add-photos') ? html`<a class="or"
          href="#/add-photos/${past.visit.record_id}">Add photos from a camera</a>` : nothing}</div></div>`;
    },
  };
}
