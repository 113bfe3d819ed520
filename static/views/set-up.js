/** Set-up, for leads: the site and everything on it, each kind's form made from its description. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { allowanceKept, basisKept } from './allowance.js';
import { rulesOf } from '../tides/constants.js';
import { isTakenForOurs, tagMadeHere } from '../records/tags.js';
import { chevron, deviceWord, entryMark, rowLink, section } from './marks.js';
import { byName, byOrder, recordName, siteName } from './names.js';
import { onTheShore, peopleElsewhere } from './person-sites.js';
import { leaveSite, Removing } from './removing.js';
import { readRemoved, removedOne, removedRows } from './removed-set-up.js';
import { formOf, inputsOf } from './kind-forms.js';
import { changesOf, RecordForm } from './record-form.js';
import { view as series } from './series.js';
import { inviting, nextStep, othersJoined, progressLine } from './progress.js';
import { oneLead, readSteps, stepList } from './steps.js';
import { savedWithUndo } from './undo.js';
import { view as waiverSetUp } from './waiver-set-up.js';
import { counted } from './words.js';

const REASON = 'Say where this allowance comes from, then save.';

/** Other ways to add to a list. @type {Record<string, unknown>} */
const SEVERAL = {
  unit: html`<a class="or" href="#/set-up/unit/series">Add a series</a>`,
  row: html`<a class="or" href="#/set-up/row/copy">Copy a row</a>`,
};

/** kind, words for many, whether it belongs to one site, whether it is a step of the set-up */
const KINDS = [
  { kind: 'site', many: 'Site', ofSite: true, isStep: true },
  { kind: 'closure', many: 'Closures', ofSite: true, isStep: false },
  { kind: 'datum_offset', many: 'Datums', ofSite: true, isStep: false },
  { kind: 'row', many: 'Rows', ofSite: true, isStep: true },
  { kind: 'control_mark', many: 'Control marks', ofSite: true, isStep: true },
  { kind: 'unit_design', many: 'Unit designs', ofSite: false, isStep: true },
  { kind: 'casting_batch', many: 'Casting batches', ofSite: true, isStep: false },
  { kind: 'unit', many: 'Units', ofSite: true, isStep: true },
  { kind: 'plot', many: 'Plots', ofSite: true, isStep: false },
  { kind: 'instrument', many: 'Instruments', ofSite: true, isStep: false },
  { kind: 'own_field', many: 'Own fields of readings', ofSite: true, isStep: false },
  { kind: 'species', many: 'Species', ofSite: false, isStep: false },
  { kind: 'person', many: 'People', ofSite: true, isStep: true },
  { kind: 'award', many: 'Awards', ofSite: true, isStep: false },
  { kind: 'rate', many: 'Rates for hours', ofSite: true, isStep: false },
  { kind: 'waiver', many: 'Waiver', ofSite: true, isStep: false },
];

/** What may be there before any site: whoever is added then belongs to the whole program. */
const MADE_FIRST = ['site', 'person'];

/** What belongs to a site has no place before there is one. @param {typeof KINDS[number]} of */
const noSiteFor = (of) => ({
  title: () => of.many, back: '#/set-up', narrow: true,
  body: () => html`<p>${of.many} belong to a site, and there is none yet.</p>`,
  foot: () => html`<a class="do" href="#/set-up/site/new">Set up a site</a>`,
});

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [kind, id] = stage.params;
  const of = KINDS.find((listed) => listed.kind === kind);
  if (stage.phone.me.role !== 'lead') return { title: () => 'Set-up',
    body: () => html`<p>Set-up is a lead's work. Ask your lead.</p>` };
  if (!of) return hub(stage);
  if (of.ofSite && !MADE_FIRST.includes(of.kind) && !stage.phone.me.site_id) return noSiteFor(of);
  if (`${kind}/${id}` === 'unit/series' || `${kind}/${id}` === 'row/copy') return series(stage);
  if (kind === 'waiver') return waiverSetUp(stage);
  return id ? oneRecord(stage, of, id) : records(stage, of);
}

/** @param {import('./router.js').Phone} phone @param {typeof KINDS[number]} of */
const rowsOf = (phone, of) => (of.kind === 'site' ? phone.rows('site', {})
  : phone.rows(of.kind, { siteId: phone.me.site_id }));

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
async function hub(stage) {
  const { phone } = stage;
  const more = KINDS.filter(({ isStep }) => !isStep);
  /** @type {number[]} */ let counts = [];
  /** @type {import('./steps.js').Step[]} */ let steps = [];
  /** @type {number|null} */ let joined = null;
  const refresh = async () => {
    const counting = Promise.all(more.map(async (of) => (await rowsOf(phone, of)).length));
    [steps, counts] = await Promise.all([readSteps(phone), counting]);
  };
  await refresh();
  othersJoined(phone).then((count) => { joined = count; stage.redraw(); });
  const tray = () => phone.pack()?.tray?.length ?? 0;
  const all = () => [...steps, inviting(joined)];
  return {
    title: () => 'Set-up', where: () => phone.pack()?.programme?.name ?? '', refresh,
    body: () => html`<div class="cols even">${section('Step by step', nothing,
      html`${oneLead(phone)}${progressLine(all())}${stepList(all())}`)}
      <div class="stack">${section('More of the site', nothing, html`${more.map((of, n) => rowLink({
        href: `#/set-up/${of.kind}`, said: of.many, aside: html`<span>${counts[n]}</span>${chevron}` }))}
        ${rowLink({ href: '#/site-tide', said: 'The tide at this site',
          small: 'a logger\u2019s record, datums, the allowance' })}`)}
      ${section('The data', nothing, html`${rowLink({ href: '#/hours', said: 'Hours',
        small: 'who gave how many; letters and sheets for funders' })}${rowLink({ href: '#/bring-in',
        said: 'Import a spreadsheet',
        small: 'units, past checks, people, sightings, positions' })}${rowLink({ href: '#/data',
        said: 'Download the data', small: 'for spreadsheets, maps and other programs' })}`)}
      ${section('The season', nothing, rowLink({ href: '#/closing', said: 'Close the season',
        small: 'who leaves, what is open, what changed, a page for the next leads' }))}
      ${section('Phones that joined', nothing,
        html`${rowLink({ href: '#/access/devices', said: 'Devices', small: 'who has one, last seen, end its '
          + 'access' })}
        ${rowLink({ href: '#/access/tray', said: 'Held entries', small: 'what could not be stored, and why',
          aside: html`<span>${tray()}</span>${chevron}` })}`)}</div></div>`,
  };
}

/**
 * @param {import('./router.js').Stage} stage @param {typeof KINDS[number]} of
 * @returns {Promise<import('./router.js').Screen>}
 */
async function records(stage, of) {
  const { phone } = stage;
  /** @type {any[]} */ let list = [];
  const elsewhere = of.kind === 'person' ? peopleElsewhere(stage, (personId) => added(personId)) : null;
  /** @type {import('./steps.js').Step[]} */ let steps = [];
  /** @type {any[]} */ let removed = [];
  let turn = 0;
  const refresh = async () => {
    const mine = ++turn;
    const read = await Promise.all([of.isStep ? readSteps(phone) : [], rowsOf(phone, of), readRemoved(stage, of),
      elsewhere?.refresh()]);
    // Of several changes at once the last reading counts, whichever ends last.
    if (mine === turn) [steps, list, removed] = read;
    list.sort(byOrder);
  };
  /** The button that was tapped is the next person's now: the focus goes with who was added. @param {string} id */
  const added = async (id) => {
    await refresh();
    stage.redraw();
    queueMicrotask(() => /** @type {HTMLElement|null} */ (document.querySelector(
      `a[href="#/set-up/person/${CSS.escape(id)}"]`))?.focus());
  };
  await refresh();
  const title = formOf(phone, of.kind).title ?? of.many;
  return {
    title: () => of.many, back: '#/set-up', refresh, where: () => counted(list.length, 'record'), narrow: true,
    body: () => html`${list.length
      ? html`<div>${list.map((row) => rowLink({ href: `#/set-up/${of.kind}/${row.record_id}`, said: recordName(row),
        small: row.scientific_name && row.common_name ? row.scientific_name : undefined,
        aside: html`${entryMark(row.entry_state)}${chevron}` }))}</div>` : html`<p>None yet.</p>`}${removedRows(of,
          removed)}${elsewhere?.draw() ?? nothing}`,
    foot: () => html`<a class="do" href="#/set-up/${of.kind}/new">Add ${/^[aeio]/i.test(title) ? 'an'
      : 'a'} ${title.toLowerCase()}</a>${SEVERAL[of.kind] ?? nothing}${nextStep(steps, `#/set-up/${of.kind}`)}`,
  };
}

/**
 * @param {import('./router.js').Phone} phone @param {typeof KINDS[number]} of
 * @param {string} id of the record itself, which is no other one than itself
 */
async function refsOf(phone, of, id) {
  const refs = [...inputsOf(phone, of.kind).values()].filter((input) => input.control === 'ref');
  const sites = new Map((await phone.rows('site', {})).map((site) => [site.record_id,
    siteName(site)]));
  const entries = await Promise.all(refs.map(async ({ name, refers, across }) => {
    const target = /** @type {typeof KINDS[number]} */ (KINDS.find((listed) => listed.kind === refers));
    if (across) {
      const others = (await phone.rows(target.kind, {})).filter((row) =>
        row.site_id !== phone.me.site_id && row.record_id !== id);
      return [name,
        others.map((/** @type {any} */ difference) => ({ value: difference.record_id,
          label: `${recordName(difference)}, ${sites.get(difference.site_id) ?? 'whole program'}` }))];
    }
    return [name,
      (await rowsOf(phone, target)).map((row) =>
        ({ value: row.record_id, label: recordName(row) })).sort((one, other) => byName(one.label, other.label))];
  }));
  return Object.fromEntries(entries);
}

/**
 * A record as its form shows it: of a unit, also whether its tag is ours where older apps did not say.
 * @param {string} kind @param {any} row
 */
const asShown = (kind, row) =>
  (kind === 'unit' ? { ...row, tag_made_here: tagMadeHere(row.tag, row.tag_made_here) } : row);

/** A unit's form: whether its tag has our check digit follows from the tag, until somebody says otherwise. */
class UnitForm extends RecordForm {
  /** @type {import('../records/rows.js').Unit[]} of the site; where it has none, all on this phone */ units = [];

  async readUnits() {
    const { phone } = this.stage;
    const ofSite = await phone.rows('unit', { siteId: phone.me.site_id });
    this.units = ofSite.length ? ofSite : await phone.rows('unit', {});
    return this;
  }

  /** @param {string} name @param {any} value */
  set(name, value) {
    const { tag, tag_made_here: isOurs } = this.typed;
    if (name === 'tag' && isOurs === (tag ? isTakenForOurs(tag, this.units) : undefined)) {
      if (value) this.typed.tag_made_here = isTakenForOurs(value, this.units);
      else delete this.typed.tag_made_here;
    }
    super.set(name, value);
  }
}

/**
 * @param {import('./router.js').Stage} stage @param {typeof KINDS[number]} of @param {string} id
 * @param {any} values to start from, unless a draft is kept
 */
async function formFor(stage, of, id, values) {
  const refs = await refsOf(stage.phone, of, id);
  const key = `${of.kind}:${id}`;
  if (of.kind !== 'unit') return new RecordForm(stage, of.kind, key, { refs }).start(values);
  const form = await new UnitForm(stage, of.kind, key, { refs }).readUnits();
  // Where there is one row, or one design, a new unit is of that.
  const only = id === 'new' ? ['row_id', 'design_id'].filter((name) => refs[name].length === 1)
    .map((name) => [name, refs[name][0].value]) : [];
  return form.start({ ...Object.fromEntries(only), ...values });
}

/**
 * @param {import('./router.js').Stage} stage @param {typeof KINDS[number]} of @param {string} id
 * @returns {Promise<import('./router.js').Screen>}
 */
async function oneRecord(stage, of, id) {
  const { phone } = stage;
  const isNew = id === 'new';
  const initial = [...inputsOf(phone, of.kind).values()].filter((input) => input.initial !== null)
    .map((input) => [input.name, input.initial]);
  const datum = of.kind === 'site' ? undefined : (await phone.row('site', phone.me.site_id))?.level_datum;
  if (datum && inputsOf(phone, of.kind).has('level_datum')) initial.push(['level_datum', datum]);
  const removed = isNew ? null : await removedOne(stage, of, id, `#/set-up/${of.kind}`);
  if (removed) return removed;
  const row = isNew ? {} : asShown(of.kind, (await phone.row(of.kind, id)) ?? {});
  const form = await formFor(stage, of, id, isNew ? Object.fromEntries(initial) : row);
  const shore = of.kind === 'person' && !isNew ? onTheShore(stage, id) : null;
  await shore?.refresh();
  const others = isNew ? [] : await phone.disagreements(of.kind, id);
  const online = of.kind === 'site' ? await stage.stations() : null;
  const place = online && new online.SitePlace(stage, form);
  const back = `#/set-up/${of.kind}`;
  /** @param {Record<string, any>} fields @param {string} sentence */
  const write = async (fields, sentence) => {
    const recordId = isNew ? form.recordId : id;
    const siteId = of.kind === 'site' ? recordId : of.ofSite ? phone.me.site_id : null;
    const undo = await savedWithUndo(stage, [{ kind: of.kind, recordId, fields, siteId }]);
    if (!undo) return;
    await form.drop();
    stage.say(sentence, undo);
    stage.go(back);
  };
  const removing = new Removing(stage, { kind: of.kind, id, name: recordName(row) }, async () => {
    await form.drop();
    if (of.kind === 'site') await leaveSite(phone, id);
    stage.go(back);
  });
  const save = () => {
    const fields = form.ready();
    if (!fields) return;
    const changed = changesOf(form, fields, row);
    // Whether a tag is ours is said of that tag.
    if ('tag' in changed && 'tag_made_here' in row) changed.tag_made_here = fields.tag_made_here ?? null;
    if (!isNew && 'allowance_m' in changed && !changed.allowance_basis) { stage.refuse(REASON); return; }
    // Where an allowance comes from is not true of another one, nor beside another tide.
    if (row.allowance_basis && !('allowance_basis' in changed)
      && ('allowance_m' in changed || 'tide_station' in changed)) {
      const rules = rulesOf(row, stage.phone.pack()?.sites?.[row.record_id]);
      Object.assign(changed, { allowance_m: allowanceKept(rules), ...changed, allowance_basis: basisKept(rules) });
    }
    if (!Object.keys(changed).length) { stage.say('Nothing was changed.'); return; }
    write(changed, `Saved on this ${deviceWord()}.`);
  };
  return {
    title: () => (isNew ? `New ${(formOf(phone, of.kind).title ?? of.kind).toLowerCase()}` : recordName(row)), back,
    narrow: true,
    where: () => of.many,
    body: () => html`${others.length ? html`<div class="notice look"><div
      class="said"><p>Two phones wrote different values for
      ${others.map((difference) => form.inputs.get(difference.field)?.title ?? difference.field).join(', ')}. Saving
      settles it.</p></div></div>` : nothing}${place?.draw() ?? nothing}${form.all()}${shore?.draw()
        ?? nothing}
      ${isNew ? nothing : removing.draw()}`,
    foot: () => html`<button type="button" class="do" @click=${save}>Save</button>`,
  };
}
