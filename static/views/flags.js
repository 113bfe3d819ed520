/** Flags: what someone should look at, with the evidence, and what a lead decided. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { aboutFlag, FlagBody, flagWords, readFlags } from './flag-facts.js';
import { inParts } from './in-parts.js';
import { deviceWord, mark, rowLink, section } from './marks.js';
import { isChosen, placeOf } from './pairs.js';
import { has, searchBox } from './search-box.js';
import { seenHere } from './seen-here.js';
import { flagCounts, isOpen } from './open-flags.js';
import { counted } from './words.js';

/** @typedef {import('./open-flags.js').ShownFlag} ShownFlag */

/** @param {number} shown @param {number|undefined} all those too that are not on this phone @param {string} noun */
const shownOf = (shown, all, noun) => (all && all > shown ? `${shown} of ${all} shown` : counted(shown, noun));

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  const isLead = phone.me.role === 'lead';
  const flagBody = new FlagBody(stage);
  const [openPart, settledPart] = [inParts(stage.redraw), inParts(stage.redraw)];
  /** @type {import('./flag-facts.js').FlagFacts} */ let facts;
  /** @type {any[]} */ let here = [];
  let searched = '';
  /** Flags that were opened: a site has up to two hundred, each with what it rests on. @type {Set<string>} */
  const opened = new Set();
  const toggled = (/** @type {any} */ event, /** @type {any} */ { flag_id: id }) => {
    if (event.target !== event.currentTarget || event.target.open === opened.has(id)) return;
    opened[event.target.open ? 'add' : 'delete'](id);
    stage.redraw();
  };
  const refresh = async () => {
    here = await seenHere(phone, await phone.row('site', phone.me.site_id), stage.zone);
    facts = await readFlags(stage);
  };
  await refresh();

  const headOf = (/** @type {ShownFlag} */ flag) => html`${mark(isOpen(flag) ? 'look' : 'taken')}<span
    class="said">${flagWords(facts, flag)}<small>${aboutFlag(facts, flag)}</small></span>`;
  const flagRow = (/** @type {ShownFlag} */ flag) => (stage.chosen
    ? html`<a class="row flag ${isOpen(flag) ? 'open' : ''}" href=${placeOf('flags', flag.flag_id)}
      aria-current=${isChosen(stage, flag.flag_id) ? 'true' : nothing}>${headOf(flag)}</a>`
    : html`<details class="flag ${isOpen(flag) ? 'open' : ''}" ?open=${opened.has(flag.flag_id)}
      @toggle=${(/** @type {any} */ event) => toggled(event, flag)}><summary>${headOf(flag)}</summary>${
        opened.has(flag.flag_id) ? html`<div class="stack">${flagBody.draw(facts, flag)}</div>`
        : nothing}</details>`);

  const isWanted = (/** @type {ShownFlag} */ flag) => isChosen(stage, flag.flag_id);

  const openSection = (/** @type {any[]} */ open) => {
    const { open: openTold = 0 } = flagCounts(phone);
    const openCount = openTold + facts.left.length;
    return html`${section('Open', shownOf(open.length, openCount, 'flag'),
      open.length ? openPart(open, isWanted).map(flagRow) : html`<p class="row">${searched
        ? `No open flag has \u201c${searched}\u201d in it.`
        : 'No flags.'}</p>`)}
      ${openCount > open.length && !searched ? html`<p
        class="why">This ${deviceWord()} has the most severe and newest flags. Others follow as these are
        settled.</p>` : nothing}`;
  };

  return {
    title: () => 'Flags', refresh, where: () => 'As of the last sync',
    first: () => (facts.flags.find(isOpen) ?? facts.flags[0])?.flag_id ?? null,
    body: () => {
      const isShown = (/** @type {ShownFlag} */ flag) => has([flagWords(facts, flag), flag.title, flag.settled_reason,
        facts.units.get(facts.unitIds.get(flag.flag_id) ?? '')?.tag], searched);
      const flags = facts.flags.filter(isShown);
      const settled = flags.filter((flag) => !isOpen(flag));
      const seen = here.length ? section(`Seen on this ${deviceWord()}, not yet sent`, here.length,
        here.map((flag) => rowLink({ href: `#/units/${flag.unitId}`, said: flag.sentence }))) : nothing;
      return html`<div class="cols"><div class="stack">${searchBox({ label: 'Find a tag or a word', value: searched,
        take: (text) => { searched = text; stage.redraw(); } })}${seen}${openSection(flags.filter(isOpen))}</div>
        <div class="stack">${section('Settled or accepted, last 30 days',
          shownOf(settled.length, flagCounts(phone).settled, 'flag'),
          settled.length ? settledPart(settled, isWanted).map(flagRow) : html`<p class="row">None.</p>`)}
        <p class="why">The server flags units from what it received, as of the last sync. Burial by sediment is never
          a flag. ${isLead ? '' : 'A lead decides; a later check can settle one too.'}</p></div></div>`;
    },
  };
}
