/** Making a visit's plan, for leads: which low water, how many teams, what; the server proposes, the lead takes it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices } from '../views/marks.js';
import { planParts, stopRows, timesOf } from '../views/plan.js';
import { refusedBy } from '../views/refused.js';
import { lowWords, readShore } from '../views/shore.js';
import { savedWithUndo } from '../views/undo.js';
import { counted, instant } from '../views/words.js';

const TEAMS = [1, 2, 3, 4];
const WINDOWS = 8;

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  const { phone, zone } = stage;
  const siteId = phone.me.site_id;
  const [rows, shore] = await Promise.all([stopRows(phone), readShore(phone)]);
  const { visit } = shore;
  const ahead = () => phone.windows(siteId, null)
    .filter((window) => window.safe && window.backMs !== null && window.backMs > phone.now()).slice(0, WINDOWS);
  const asked = { window_id: visit?.window_id ?? ahead()[0]?.id ?? null, teams: 1, samples: false, everything: false };
  /** @type {any} */ let made = null;
  let [told, busy] = ['', false];

  const show = (/** @type {any} */ plan, /** @type {string} */ sentence, /** @type {boolean} */ isBusy) => {
    [made, told, busy] = [plan, sentence, isBusy];
    stage.redraw();
  };
  const ask = async () => {
    show(null, 'Planning: a few seconds.', true);
    /** @type {any} */ let plan = null;
    const refusal = await refusedBy(async () => {
      plan = await phone.api('POST', `/api/sites/${siteId}/plan`, asked);
    });
    show(plan, refusal, false);
    queueMicrotask(() => {
      const proposed = document.getElementById('proposed');
      proposed?.scrollIntoView();
      proposed?.focus({ preventScroll: true });
    });
  };
  const take = async () => {
    const recordId = phone.newId(siteId);
    // Apps up to 0.3.0 read the record's texts; its lists are entries of their own, so that each fits into a line.
    const entries = [{ ...made.record, made_at: instant(phone.now()) }, ...made.lists];
    const undo = await savedWithUndo(stage, entries.map((fields) => ({ kind: 'visit_plan', recordId, fields })));
    if (!undo) return;
    stage.say('The plan goes to every phone with the next sync.', undo);
    stage.go('#/plan');
  };
  const choose = (/** @type {Partial<typeof asked>} */ changed) => {
    Object.assign(asked, changed);
    show(null, '', false);
  };
  const yesNo = [{ value: false, label: 'No' }, { value: true, label: 'Yes' }];
  const asking = () => html`<div
    class="stack">${choices({ name: 'window', legend: 'Which low tide?', shape: 'lines', value: asked.window_id,
      pick: (value) => choose({ window_id: value }),
      choices: ahead().map((window) => ({ value: window.id, label: lowWords(window, zone) })) })}
    ${choices({ name: 'teams', legend: 'How many teams, of two or more?', value: asked.teams,
      pick: (value) => choose({ teams: value }), choices: TEAMS.map((n) => ({ value: n, label: n })) })}
    ${choices({ name: 'what', legend: 'What?', value: asked.everything, pick: (value) => choose({ everything: value }),
      choices: [{ value: false, label: 'What is due' }, { value: true, label: 'Every unit' }] })}
    ${choices({ name: 'samples', legend: 'Plots too?', value: asked.samples,
      pick: (value) => choose({ samples: value }), choices: yesNo })}
    <p role="status">${told}</p></div>`;
  const proposal = () => html`<div class="stack"><div
    class="bar"><h2 id="proposed" tabindex="-1">Proposed</h2><span>${counted(made.stops.length, 'stop')},
    ${made.walk_min} min of walking</span></div>
    ${made.stops.length ? nothing : html`<p>${made.left_out.length
      ? 'Nothing that is due can be reached on this low tide. Choose another.'
      : 'Nothing is due. Choose every unit to plan anyway.'}</p>`}${timesOf(shore, Date.parse(made.record.low_at),
        stage)}${planParts(Object.assign({}, made.record, ...made.lists), rows, zone)}<div
      class="why">${made.basis.map((/** @type {string} */ line) => html`<p>${line}.</p>`)}<p>The simple order, row by
      row, would reach ${counted(made.simple_stops, 'stop')}.</p></div></div>`;
  if (phone.me.role !== 'lead') return { title: () => 'Make a plan', back: '#/plan',
    body: () => html`<p>This is a lead's work. Ask your lead.</p>` };
  return {
    title: () => 'Make a plan', back: '#/plan',
    body: () => html`<div class="cols even">${asking()}${made ? proposal() : nothing}</div>`,
    foot: () => (made ? html`<div class="lead"><button type="button" class="do"
      ?disabled=${!made.stops.length} @click=${take}>Use this plan</button><button type="button" class="or"
      @click=${() => show(null, '', false)}>Discard it</button></div>`
      : html`<button type="button" class="do" ?disabled=${busy || !asked.window_id} @click=${ask}>Plan the
        visit</button>`),
  };
}
