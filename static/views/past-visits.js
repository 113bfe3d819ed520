/** The visits of a site, a year at a time, the newest first: each opens as a page of its own. */
import { dayWords } from '../days.js';
import { groupsOf } from '../records/joined.js';
import { whenIdle } from '../idle.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inParts } from './in-parts.js';
import { labelOf } from './kind-forms.js';
import { deviceWord, inDeviceWords, pill, rowLink, section } from './marks.js';
import { personName, siteName } from './names.js';
import { readerVisits } from './reader-visits.js';
import { hasUse } from './roles.js';
import { searchBox } from './search-box.js';
import { attendance, attendedWords, hoursWords, leadersOf, openOf, readWords, startOf, workOn } from './visit-sums.js';
import { isFound, readTexts } from './visit-search.js';
import { visitYear } from './visit-year.js';
import { asRead, readVisits } from './visits.js';
import { counted, localDay, turnMs } from './words.js';

/**
 * @typedef {import('./visit-sums.js').Work} Work
 * @typedef {{visit: import('../records/rows.js').Visit, day: string, startMs: number, turn: number, joined: number}}
 *   Listed day: 2026-11-28 on the site's clock
 */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  if (!hasUse(stage.phone.me.role, 'past-visit')) return readerVisits(stage);
  const screen = new PastVisits(stage);
  await screen.refresh();
  return screen;
}

class PastVisits {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.narrow = true;
    this.back = hasUse(stage.phone.me.role, 'visit') ? '#/visit' : '#/today';
    /** @type {any} */ this.site = undefined;
    /** @type {import('./visit-sums.js').Known} */ this.known = { visits: [], parts: [] };
    /** @type {Listed[]} */ this.listed = [];
    /** @type {string|null} the year that is shown */ this.year = null;
    this.searched = '';
    /** @type {Map<string, string>|null} what is searched in, read when somebody searches */ this.texts = null;
    /** @type {Map<string, Work>} */ this.work = new Map();
    /** @type {Set<string>} whose work is read, or about to be, as the records stand */ this.asked = new Set();
    this.parts = inParts(stage.redraw);
    /** @type {(visit: any) => import('./visit-sums.js').Attended} */ this.attended = attendance(this.known, []);
    /** @type {Map<string, string>} */ this.names = new Map();
    /** @type {Map<string, number>} all people's minutes of a year, added up when the page is idle */
    this.minutesOf = new Map();
  }

  refresh = async () => {
    const { phone, zone } = this.stage;
    const siteId = phone.me.site_id;
    const [site, known, people, signIns] = await Promise.all([phone.row('site', siteId), readVisits(phone),
      phone.rows('person', { siteId }), phone.rows('sign_in', { siteId })]);
    Object.assign(this, { site, known, texts: null, asked: new Set(), attended: attendance(known, signIns),
      names: new Map(people.map((person) => [person.record_id, personName(person)])), minutesOf: new Map() });
    const groups = groupsOf(known.visits);
    this.listed = groups.all.filter((visit) => visit.started_at).map((visit) => {
      const startMs = startOf(visit, known.visits);
      return { visit: asRead(visit, known.visits), startMs, day: localDay(startMs, zone),
        turn: turnMs(visit, visit.started_at), joined: groups.of(visit.record_id).length };
    }).sort((one, other) => other.turn - one.turn);
    const years = new Set(this.listed.map(({ day }) => day.slice(0, 4)));
    if (!this.year || !years.has(this.year)) this.year = this.listed[0]?.day.slice(0, 4) ?? null;
    if (this.searched) await this.readForSearch();
  };

  title = () => 'Past visits';
  where = () => siteName(this.site);

  body = () => {
    if (!this.listed.length) {
      return html`${section('Visits', 0, html`<p class="row">No visit is on this ${deviceWord()}.</p>`)}
        ${this.earlier()}`;
    }
    return html`<div class="stack">${searchBox({ label: 'Person, unit, note', value: this.searched,
      take: (searched) => this.search(searched) })}${this.searched.trim() ? this.found() : this.years()}
      ${this.earlier()}</div>`;
  };

  /** A new phone has this season first; what lies before it comes by itself, or at once where somebody asks. */
  earlier() {
    const { phone } = this.stage;
    const { past_coming: isComing, busy, last_error_sentence: why } = phone.syncState;
    if (!isComing) return nothing;
    return section('Earlier visits', nothing, html`<p class="row" role="status">Visits of earlier seasons are not all on
      this ${deviceWord()} yet. ${inDeviceWords(why) ?? 'They come while there is a network.'}</p>
      <button type="button" class="or" ?disabled=${busy} @click=${() => phone.syncNow()}>Ask for them now</button>`);
  }

  /** One year, and under it the others. */
  years() {
    /** @type {Map<string, Listed[]>} */ const byYear = new Map();
    for (const listed of this.listed) {
      const year = listed.day.slice(0, 4);
      const list = byYear.get(year);
      if (list) list.push(listed);
      else byYear.set(year, [listed]);
    }
    const year = this.year ?? '';
    /** @type {Listed[]} */ const shown = byYear.get(year) ?? [];
    const today = localDay(this.stage.phone.now(), this.stage.zone);
    this.addUp(year, shown);
    this.addUpOthers(byYear);
    const sums = (/** @type {string} */ of, /** @type {Listed[]} */ list) => {
      const minutes = this.minutesOf.get(of);
      return `${counted(list.length, 'visit')}${minutes ? `, ${hoursWords(minutes)}` : ''}`;
    };
    const others = [...byYear].filter(([other]) => other !== year);
    return html`${section(year, sums(year, shown), html`${visitYear(year,
      shown.map(({ day, visit }) => ({ day, minutes: this.attended(visit).minutes })),
      today.startsWith(year) ? today : null)}
      ${this.drawn(shown)}`)}${others.length ? section('Other years', nothing, others.map(([other, list]) =>
      html`<button type="button" class="row" @click=${() => this.show(other)}><span class="said">${other}<small>
        ${sums(other, list)}</small></span></button>`)) : nothing}`;
  }

  /** @param {string} year @param {Listed[]} list its visits */
  addUp(year, list) {
    if (!this.minutesOf.has(year)) this.minutesOf.set(year,
      list.reduce((sum, { visit }) => sum + this.attended(visit).minutes, 0));
  }

  /**
   * Years that are not shown are added up one by one, when nothing else is to be done.
   * @param {Map<string, Listed[]>} byYear
   */
  addUpOthers(byYear) {
    const { minutesOf } = this;
    const next = [...byYear].find(([year]) => !minutesOf.has(year));
    if (!next) return;
    requestAnimationFrame(async () => {
      await whenIdle();
      if (minutesOf !== this.minutesOf || minutesOf.has(next[0])) return;
      this.addUp(...next);
      this.stage.redraw();
    });
  }

  /** @param {string} year */
  show(year) {
    this.year = year;
    this.parts = inParts(this.stage.redraw);
    this.stage.redraw();
    queueMicrotask(() => document.getElementById('content')?.focus());
  }

  /** @param {string} searched */
  async search(searched) {
    this.searched = searched;
    if (searched.trim() && !this.texts) await this.readForSearch();
    this.stage.redraw();
  }

  async readForSearch() {
    this.texts = await readTexts(this.stage, this.listed, this.known, this.names);
  }

  found() {
    const { texts } = this;
    if (!texts) return nothing;
    const list = this.listed.filter(({ visit }) => isFound(texts.get(visit.record_id) ?? '', this.searched));
    return section('Found', counted(list.length, 'visit'), list.length ? this.drawn(list, true)
      : html`<p class="row">No visit on this ${deviceWord()} has that in it.</p>`);
  }

  /** @param {Listed[]} list @param {boolean} [hasYears] */
  drawn(list, hasYears = false) {
    const shown = this.parts(list);
    this.ask(shown.map(({ visit }) => visit));
    return shown.map((listed) => this.row(listed, hasYears));
  }

  /** What was done on visits that are drawn is read after them. @param {import('../records/rows.js').Visit[]} visits */
  ask(visits) {
    const wanted = visits.filter(({ record_id: id }) => !this.asked.has(id));
    if (!wanted.length) return;
    const { asked, known } = this;
    for (const { record_id: id } of wanted) asked.add(id);
    requestAnimationFrame(async () => {
      await whenIdle();
      const work = await workOn(this.stage.phone, wanted, known);
      if (asked !== this.asked) return;
      for (const [id, done] of work) this.work.set(id, done);
      this.stage.redraw();
    });
  }

  /** @param {Listed} listed @param {boolean} hasYear */
  row({ visit, day, joined }, hasYear) {
    const { phone } = this.stage;
    const [leaders, attended] = [leadersOf(visit, this.known, this.names), this.attended(visit)];
    const work = this.work.get(visit.record_id);
    const purpose = labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit');
    const done = work && [work.checked.size ? `${counted(work.checked.size, 'unit')} checked` : 'no unit checked',
      work.sightings ? counted(work.sightings, 'sighting') : '', work.photos ? counted(work.photos, 'photo') : '']
      .filter(Boolean).join(', ');
    return rowLink({ href: `#/visits/${visit.record_id}`, tag: dayWords(day), pill: marked(attended.out, work),
      said: html`<b>${purpose}${leaders.length ? ` with ${leaders.join(' and ')}` : ''}</b>`,
      small: html`${hasYear ? `${day.slice(0, 4)}, ` : ''}${attendedWords(attended)}, ${readWords(visit, this.stage)}${
        joined > 1 ? `, ${counted(joined, 'visit')} joined` : ''}<br>${done ?? '\u2026'}` });
  }
}

/**
 * What somebody should look at: who was never signed out, else flags that are open.
 * @param {number} out @param {Work} [work]
 */
function marked(out, work) {
  if (out) return pill('stop', `${out} not out`);
  const open = openOf(work?.flags ?? []);
  if (!open.length) return nothing;
  return pill('look', counted(open.length, 'flag'));
}
