/** Units in walking order: one tap to check, the next one marked, what is known of each in a line. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inParts } from './in-parts.js';
import { chevron, choices, entryMark, pill, rowLink } from './marks.js';
import { rowName, unitTag } from './names.js';
import { labelOf } from './kind-forms.js';
import { followed } from './plan.js';
import { isChosen, placeOf } from './pairs.js';
import { hasUse } from './roles.js';
import { has, searchBox } from './search-box.js';
import { seenHere } from './seen-here.js';
import { floodWords } from './floods.js';
import { readShore } from './shore.js';
import { checkWords, checkedWhen, readUnits } from './unit-facts.js';
import { clock, counted } from './words.js';
import { up } from '../tides/turning.js';

/** @param {import('./unit-facts.js').Known} known */
const flagPill = ({ flags: [flag] }) => pill('look', flag.isHere ? 'not sent' : flag.title?.toLowerCase() ?? 'look');

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, settings } = stage;
  /** @type {any} */ let visit;
  /** @type {import('./unit-facts.js').Known[]} */ let known = [];
  /** @type {Awaited<ReturnType<typeof followed>>} */ let plan;
  let hasMoreFlags = false;
  let searched = '';
  const part = inParts(stage.redraw);
  const canCheck = hasUse(phone.me.role, 'unit-check');
  const refresh = async () => {
    const shore = await readShore(phone);
    visit = shore.visit;
    hasMoreFlags = shore.openCount > shore.flags.length;
    known = await readUnits(phone, visit, [...await seenHere(phone, shore.site, stage.zone), ...shore.flags]);
    plan = await followed(stage, shore, known);
  };
  await refresh();
  const foundWords = (/** @type {any} */ check) => labelOf(phone, 'unit_check', 'found_state', check.found_state,
    'Looked at');

  /** Beside its list a unit opens as it is; alone, while a visit runs, to be checked. */
  const opens = (/** @type {string} */ id) => ({ chosen: isChosen(stage, id),
    href: `${placeOf('units', id)}${canCheck && visit && !stage.chosen ? '/check' : ''}` });
  const unitRow = (/** @type {import('./unit-facts.js').Known} */ one, /** @type {any} */ next) => {
    const { unit, last, design } = one;
    const isNext = one === next;
    const words = last ? checkWords(last, design, foundWords) : 'Never checked';
    const when = last ? checkedWhen(last, phone.now(), stage.zone) : '';
    return rowLink({
      ...opens(unit.record_id), tag: unitTag(unit), next: isNext,
      said: isNext ? html`<b>Next</b>` : visit && !one.checkedNow ? 'Not yet' : words,
      small: one.checkedNow ? `${one.lookedNow ? 'checked' : 'noted'} ${when}`
        : last ? `last ${when}${visit ? `: ${words}` : ''}`
        : 'no check on record',
      pill: one.flags.length ? flagPill(one) : null,
      aside: one.checkedNow && last?.entry_state ? entryMark(last.entry_state) : chevron,
      saved: last && stage.justSaved(last.record_id),
    });
  };
  /** Units whose tag, row, design or a check's note has what is looked for. */
  const shown = () => (!searched ? known : known.filter(({ unit, row, design, checks }) =>
    has([unitTag(unit), rowName(row), design?.name, ...checks.map((check) => check.note)], searched)));
  const rowBlock = (/** @type {string|undefined} */ rowId, /** @type {typeof known[number]|null} */ next,
    /** @type {typeof known} */ drawn) => {
    const inRow = known.filter((facts) => facts.row.record_id === rowId);
    const listed = drawn.filter((facts) => facts.row.record_id === rowId);
    const flood = plan.floods.get(rowId);
    const done = inRow.filter((facts) => facts.lookedNow).length;
    return html`<section><div class="bar"><h2>${rowName(inRow[0].row)}</h2>
      <span>${flood ? floodWords(flood, stage.phone.now(), stage.zone) : visit ? 'no flood time known'
        : counted(inRow.length, 'unit')}${visit ? `, ${done} of ${inRow.length} checked` : ''}</span></div>
      ${listed.map((facts) => unitRow(facts, next))}</section>`;
  };
  const firstRow = () => known[0]?.row;
  /** The team's list as the plan has it, or as it must be now that the crew is late. */
  const planBlock = () => {
    const { stops, dropped, lateMs } = plan.order();
    const [team, { teams, rows }] = [plan.team(), plan];
    const at = (/** @type {any} */ stop) => /** @type {import('./unit-facts.js').Known} */ (known.find(({ unit }) =>
      unit.record_id === stop.stopId));
    const row = (/** @type {any} */ stop, /** @type {number} */ n) => {
      const small =
        `${stop.minutes} min${stop.untilMs ? `, ${floodWords(stop.untilMs, stage.phone.now(), stage.zone)}`
          : ''}${stop.isLate ? ', may not fit' : ''}`;
      const words = n === 0 ? html`<b>Next</b>` : `at ${clock(up(stop.beginsMs), stage.zone)}`;
      const { isUnit, called } = rows.get(stop.stopId);
      if (!isUnit) return rowLink({ href: `#/plots/${stop.stopId}`, tag: called, next: n === 0,
        said: html`${words}, plot`, small });
      return rowLink({ ...opens(stop.stopId), tag: called, next: n === 0, said: words, small,
        pill: at(stop).flags.length ? flagPill(at(stop)) : null });
    };
    return html`<section><div class="bar"><h2>Plan, team ${team}</h2>
      <span>${counted(stops.length, 'stop')} left${lateMs > 60_000 ? `, ${Math.floor(lateMs / 60_000)} min late`
        : ''}</span></div>
      ${teams.length > 1 ? choices({ name: 'team', legend: 'Which team is this?', hideLegend: true, value: team,
        pick: (value) => { settings.keep({ team: value }); stage.redraw(); },
        choices: teams.map((n) => ({ value: n, label: `Team ${n}` })) }) : nothing}
      ${dropped.length ? html`<p class="row">Running late: a new order by what floods first. No time is left for
        ${dropped.map((stop) => rows.get(stop.stopId).called).join(', ')}.</p>` : nothing}
      ${stops.length ? stops.map(row) : html`<p class="row">Nothing is left of this team's plan.</p>`}</section>`;
  };
  return {
    first: () => ((visit && canCheck ? plan.next() : null) ?? known.find((facts) => facts.flags.length)
      ?? known[0])?.unit.record_id ?? null,
    title: () => 'Units', refresh, aside: () => stage.alarm.pill(),
    where: () => {
      if (!visit || !firstRow())
        return `${counted(known.length, 'unit')}, ${hasMoreFlags ? 'at least ' : ''}${openFlagged(known)} flagged`;
      const flood = plan.floods.get(firstRow().record_id);
      const done = known.filter((facts) => facts.lookedNow).length;
      if (plan.teams.length) return `${done} of ${known.length} checked, by the plan for team ${plan.team()}`;
      return `${done} of ${known.length} checked. ${rowName(firstRow())} first${flood ? ', '
        + `${floodWords(flood, stage.phone.now(), stage.zone)}` : ''}`;
    },
    body: () => {
      const next = visit ? plan.next() : null;
      const list = shown();
      const drawn = part(list, ({ unit }) => isChosen(stage, unit.record_id));
      const rowIds = [...new Set(list.map((facts) => facts.row.record_id))];
      const box = searchBox({ label: 'Find a tag or a note', value: searched,
        take: (text) => { searched = text; stage.redraw(); } });
      const plots = [...plan.rows.values()].some(({ isUnit }) => !isUnit) ? rowLink({ href: '#/plots', said: 'Plots',
        small: 'stakes, marsh plots and other fixed places: what is due, readings' }) : nothing;
      return known.length
        ? html`${box}${plan.teams.length && !searched ? planBlock() : nothing}${rowIds.length ? nothing
          : html`<p class="row">No unit has \u201c${searched}\u201d in its tag, row or notes.</p>`}<div
          class="cols even rows-of-units">${rowIds.map((rowId) => rowBlock(rowId, next, drawn))}</div>
          ${!hasUse(phone.me.role, 'plan') ? nothing : rowLink({ href: '#/plan', said: 'Visit plan',
            small: 'which units in which order, what to bring' })}${plots}`
        : html`<p>No unit is set up yet. A lead adds rows, designs and units under Set-up.</p>${plots}`;
    },
    foot: () => {
      const next = visit && canCheck ? plan.next() : null;
      if (next) return html`<a class="do" href="#/units/${next.unit.record_id}/check">Check ${unitTag(next.unit)}</a>`;
      return visit || !canCheck ? nothing : html`<a class="do" href="#/visit">Start a visit</a>`;
    },
  };
}

/** @param {import('./unit-facts.js').Known[]} known */
const openFlagged = (known) => known.filter((facts) => facts.flags.length).length;
