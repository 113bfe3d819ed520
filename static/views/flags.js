/** Flags: what someone should look at, with the evidence, and what a lead decided. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { differenceRows, differencesOf, withBothSides } from './difference.js';
import { evidenceRows, plain } from './evidence.js';
import { peopleOut } from './heads.js';
import { isLeft, leftFlags } from './left-out.js';
import { mark, rowLink, section } from './marks.js';
import { unitTag } from './names.js';
import { RecordForm } from './record-form.js';
import { has, searchBox } from './search-box.js';
import { seenHere } from './seen-here.js';
import { flagCounts, isOpen, siteFlags } from './open-flags.js';
import { savedWithUndo } from './undo.js';
import { counted, instant } from './words.js';

/** What hangs on today is made where it is read, and ends with what it asks for, not by a decision. */
const COMPUTED = ['overdue', 'not_signed_out'];

/**
 * Which unit a record tells of.
 * @param {import('./router.js').Phone} phone @param {{kind: string, id: string}} subject
 * @returns {Promise<string|null>}
 */
async function unitOf(phone, subject) {
  const row = await phone.row(subject.kind, subject.id);
  return row?.unit_id ?? (row?.of_kind === 'unit' ? row.of_id : null);
}

/** @param {number} shown @param {number|undefined} all those too that are not on this phone @param {string} noun */
const shownOf = (shown, all, noun) => (all && all > shown ? `${shown} of ${all} shown` : counted(shown, noun));

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  /** @type {Map<string, any>} */ let units = new Map();
  /** @type {Map<string, string|null>} */ let unitIds = new Map();
  /** @type {Map<string, any>} */ let own = new Map();
  /** @type {{flag: any, form: RecordForm}|null} */ let deciding = null;
  const isLead = phone.me.role === 'lead';
  /** @type {any[]} */ let left = [];
  /** @type {Map<string, import('./difference.js').Difference|null>} */ let differences = new Map();
  /** @type {Map<string, string>} */ let sentences = new Map();
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
    differences = await differencesOf(stage, siteFlags(phone));
    sentences = new Map((await withBothSides(stage, siteFlags(phone), differences)).map((flag) =>
      [flag.flag_id, flag.sentence]));
    left = leftFlags(phone, (await peopleOut(phone)).filter((stay) => isLeft(stay, phone.now())), stage.zone);
    units = new Map((await phone.rows('unit', { siteId: phone.me.site_id })).map((/** @type {any} */ unit) =>
      [unit.record_id, unit]));
    unitIds = new Map(await Promise.all(siteFlags(phone)
      .map(async (flag) => /** @type {[string, string|null]} */ ([flag.flag_id,
        flag.unitId ?? await unitOf(phone, flag.subject)]))));
    const decisions = await phone.rows('flag_decision', { siteId: phone.me.site_id });
    own = new Map(decisions.filter((/** @type {any} */ decision) => decision.entry_state === 'phone')
      .map((decision) => [decision.flag_id ?? '', decision]));
  };
  await refresh();

  const decide = async (/** @type {any} */ flag) => {
    deciding = { flag, form: await new RecordForm(stage, 'flag_decision', `flag_decision:${flag.flag_id}`).start({}) };
    stage.redraw();
  };
  const leave = async () => {
    const left = deciding;
    deciding = null;
    await left?.form.drop();
    stage.redraw();
  };
  const save = async () => {
    if (!deciding) return;
    const { flag, form } = deciding;
    const fields = form.ready({ flag_id: flag.flag_id, decided_at: instant(phone.now()) });
    const undo = fields && await savedWithUndo(stage, [{ kind: 'flag_decision', recordId: form.recordId, fields }]);
    if (!undo) return;
    await leave();
    stage.say('Saved on this phone. It counts once it is sent.', undo);
  };
  const decisionForm = () => html`<div class="stack">
    ${deciding?.form.input('decision', { title: 'What is your decision?' })}
    ${deciding?.form.input('reason', { hint: 'Anyone can read it beside the flag.' })}
    <div class="two"><button type="button" class="or" @click=${leave}>Cancel</button><button type="button" class="do"
      @click=${save}>Save decision</button></div></div>`;

  const words = (/** @type {any} */ flag) => sentences.get(flag.flag_id) ?? flag.sentence;
  const flagRow = (/** @type {any} */ flag) => html`<details
    class="flag ${isOpen(flag) ? 'open' : ''}" ?open=${opened.has(flag.flag_id)}
    @toggle=${(/** @type {any} */ event) => toggled(event, flag)}>
    <summary>${mark(isOpen(flag) ? 'look' : 'taken')}<span
    class="said">${words(flag)}<small>${units.has(unitIds.get(flag.flag_id) ?? '')
      ? unitTag(units.get(unitIds.get(flag.flag_id) ?? ''))
      : ''} ${flag.title ?? plain(flag.rule)}${own.has(flag.flag_id) ? ', a decision waits on this phone'
      : ''}</small></span></summary>${opened.has(flag.flag_id) ? restsOn(flag) : nothing}</details>`;

  const restsOn = (/** @type {any} */ flag) => html`<div class="stack">${differences.has(flag.flag_id)
      ? differenceRows(stage, differences.get(flag.flag_id)) : evidenceRows(flag, stage)}${flag.settled_reason
      ? html`<p class="why">Settled: ${flag.settled_reason}</p>`
      : flag.settles ? html`<p class="why">Settled by ${flag.settles}.</p>` : nothing}
    ${deciding?.flag.flag_id === flag.flag_id ? decisionForm()
      : html`<div class="two">${unitIds.get(flag.flag_id)
        ? html`<a class="or" href="#/units/${unitIds.get(flag.flag_id)}">See the unit</a>` : nothing}
      ${flag.rule === 'not_signed_out' ? html`<a class="or" href="#/people">See People</a>` : nothing}
      ${isLead && !COMPUTED.includes(flag.rule)
        ? html`<button type="button" class="or" @click=${() => decide(flag)}>Decide</button>` : nothing}</div>`}
    </div>`;

  return {
    title: () => 'Flags', refresh, where: () => 'As of the last sync',
    body: () => {
      const isShown = (/** @type {any} */ flag) => has([words(flag), flag.title, flag.settled_reason,
        units.get(unitIds.get(flag.flag_id) ?? '')?.tag], searched);
      const flags = [...left, ...siteFlags(phone)].filter(isShown);
      const open = flags.filter(isOpen);
      const settled = flags.filter((flag) => !isOpen(flag));
      const { open: openTold = 0, settled: settledCount } = flagCounts(phone);
      const openCount = openTold + left.length;
      const seen = here.length ? section('Seen on this phone, not yet sent', here.length,
        here.map((flag) => rowLink({ href: `#/units/${flag.unitId}`, said: flag.sentence }))) : nothing;
      return html`<div class="cols"><div class="stack">${searchBox({ label: 'Find a tag or a word', value: searched,
        take: (text) => { searched = text; stage.redraw(); } })}${seen}${section('Open',
          shownOf(open.length, openCount, 'flag'),
        open.length ? open.map(flagRow) : html`<p class="row">${searched
          ? `No open flag has \u201c${searched}\u201d in it.`
          : 'No flags. Units that nobody checked cannot be flagged.'}</p>`)}
          ${openCount > open.length && !searched ? html`<p
            class="why">This phone has the most severe and newest flags. Others follow as these are
            settled.</p>` : nothing}</div>
        <div class="stack">${section('Settled or accepted, last 30 days', shownOf(settled.length, settledCount, 'flag'),
          settled.length ? settled.map(flagRow) : html`<p class="row">None.</p>`)}
        <p class="why">The server flags units from what it received, as of the last sync. Burial by sediment is never
          a flag. ${isLead ? '' : 'A lead decides; a later check can settle one too.'}</p></div></div>`;
    },
  };
}
