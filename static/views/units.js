/** Units in walking order: one tap to check, the next one marked, what is known of each in a line. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { chevron, entryMark, pill, rowLink } from './marks.js';
import { labelOf } from './record-form.js';
import { floodsAt, openFlags, runningVisit } from './shore.js';
import { checkWords, checkedWhen, nextUnit, readUnits } from './unit-facts.js';
import { clock } from './words.js';

const FLAG_WORDS = { damaged: 'damaged', displaced: 'moved', leaning: 'leaning', undermined: 'undermined', not_found: 'find', overdue: 'overdue', disagreement: 'two say' };

/** @param {import('./unit-facts.js').Known} known */
const flagPill = (known) => pill('look', FLAG_WORDS[/** @type {keyof typeof FLAG_WORDS} */ (known.flags[0].rule)] ?? 'look');

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  /** @type {any} */ let visit;
  /** @type {import('./unit-facts.js').Known[]} */ let known = [];
  /** @type {Map<string, number|null>} */ let floods = new Map();
  const canCheck = phone.me.role === 'lead' || phone.me.role === 'crew';
  const refresh = async () => {
    visit = await runningVisit(phone);
    known = await readUnits(phone, visit, openFlags(phone));
    floods = visit ? floodsAt(phone, known.map((one) => one.row.record_id), phone.now()) : new Map();
  };
  await refresh();
  const foundWords = (/** @type {any} */ check) => labelOf(phone, 'unit_check', 'found_state', check.found_state);

  const unitRow = (/** @type {import('./unit-facts.js').Known} */ one, /** @type {any} */ next) => {
    const { unit, last, design } = one;
    const isNext = one === next;
    const words = last ? checkWords(last, design, foundWords) : 'Never checked';
    const when = last ? checkedWhen(last, phone.now(), stage.zone) : '';
    return rowLink({
      href: canCheck ? `#/units/${unit.record_id}/check` : `#/units/${unit.record_id}`, tag: unit.tag, next: isNext,
      said: isNext ? html`<b>Next</b>` : visit && !one.checkedNow ? 'Not yet' : words,
      small: one.checkedNow ? `checked ${when}` : last ? `last ${when}${visit ? `: ${words}` : ''}` : 'no check on record',
      aside: html`${one.flags.length ? flagPill(one) : nothing}${one.checkedNow && last.entry_state ? entryMark(last.entry_state) : chevron}`,
    });
  };
  const rowBlock = (/** @type {string} */ rowId, /** @type {any} */ next) => {
    const inRow = known.filter((one) => one.row.record_id === rowId);
    const flood = floods.get(rowId);
    const done = inRow.filter((one) => one.checkedNow).length;
    return html`<section><div class="bar"><h2>Row ${inRow[0].row.name}</h2><span>${flood ? `floods ${clock(flood, stage.zone)}` : visit ? 'no flood time known' : `${inRow.length} units`}${visit ? `, ${done} of ${inRow.length} checked` : ''}</span></div>
      ${inRow.map((one) => unitRow(one, next))}</section>`;
  };
  const firstRow = () => known[0]?.row;
  return {
    title: () => 'Units', refresh,
    where: () => {
      if (!visit || !firstRow()) return `${known.length} units, ${openFlagged(known)} flagged`;
      const flood = floods.get(firstRow().record_id);
      const done = known.filter((one) => one.checkedNow).length;
      return `${done} of ${known.length} checked. Row ${firstRow().name} first${flood ? `, floods ${clock(flood, stage.zone)}` : ''}`;
    },
    body: () => {
      const next = visit ? nextUnit(known) : null;
      const rowIds = [...new Set(known.map((one) => one.row.record_id))];
      return known.length
        ? html`<div class="cols even rows-of-units">${rowIds.map((rowId) => rowBlock(rowId, next))}</div>`
        : html`<p>No unit is set up yet. A lead adds rows, designs and units under Set-up.</p>`;
    },
    foot: () => {
      const next = visit && canCheck ? nextUnit(known) : null;
      if (next) return html`<a class="do" href="#/units/${next.unit.record_id}/check">Check ${next.unit.tag}</a>`;
      return visit || !canCheck ? nothing : html`<a class="do" href="#/visit">Start a visit</a>`;
    },
  };
}

/** @param {import('./unit-facts.js').Known[]} known */
const openFlagged = (known) => known.filter((one) => one.flags.length).length;
