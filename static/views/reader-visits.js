/** Visits as a reader gets them: days, purposes and how many were there, hours as sums; nobody's name. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { dayWords } from '../days.js';
import { section } from './marks.js';
import { labelOf } from './kind-forms.js';
import { counted } from './words.js';

/** How many are shown at first. */
const FIRST = 30;

/** @param {import('./router.js').Stage} stage @returns {import('./router.js').Screen} */
export function readerVisits(stage) {
  const { phone } = stage;
  let most = FIRST;
  /** @returns {import('../records/pack.js').PackedSite} */
  const told = () => phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  /** @param {{day: string, purpose: string|null, people: number}} visit */
  const visitRow = (visit) => html`<div class="row"><span
    class="said">${dayWords(visit.day, { weekday: true, year: true })}<small>${labelOf(phone, 'visit', 'purpose',
      visit.purpose, 'Visit')}</small></span>${counted(visit.people, 'person', 'people')}</div>`;
  const list = () => {
    const { visits, visit_count: count = visits?.length ?? 0 } = told();
    if (!visits) return html`<p>Visits come with the next sync.</p>`;
    const shown = visits.slice(0, most);
    return section('Visits', shown.length < count ? `${shown.length} of ${count}` : String(count), html`${visits.length
      ? shown.map(visitRow) : html`<p class="row">No visit is on record.</p>`}${visits.length > most
      ? html`<button type="button" class="or" @click=${() => { most = visits.length; stage.redraw(); }}>Show
        ${visits.length}</button>` : nothing}`);
  };
  const years = () => {
    const { visit_years: known = [] } = told();
    return known.length ? section('Hours on the shore', 'all people together', html`${known.map(
      (year) => html`<div class="row"><span class="said"><b>${year.year}</b><small>
        ${counted(year.visits, 'visit')}</small></span>${year.hours} h</div>`)}
      <p class="small">Of everyone who has a sign-out time.</p>`) : nothing;
  };
  return {
    title: () => 'Visits', back: '#/today', where: () => 'Dates and numbers, no names',
    body: () => html`<div class="cols"><div class="stack">${list()}</div><div class="stack">${years()}</div></div>`,
  };
}
