/** Sightings: what was seen, how many, or looked for and not there. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, section } from './marks.js';
import { byName, named, speciesName, unitTag } from './names.js';
import { keepPhoto, photoButtons, Photos } from './photo-box.js';
import { labelOf } from './kind-forms.js';
import { recordRow, withRemovals } from './removed.js';
import { has, searchBox } from './search-box.js';
import { runningVisit } from './shore.js';
import { SightingForm } from './sighting-form.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { instant, momentOf, turnMs } from './words.js';

/** Of the list: at first, and with each tap on "Show more". */
const SHOWN = 30;
const DRAFT = 'sighting:new';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new Sightings(stage);
  await screen.open();
  return screen;
}

class Sightings {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.photos = new Photos(stage.phone, stage);
    this.searched = '';
    /** @type {{value: string, label: string}[]} */ this.units = [];
    /** @type {Map<string, any>} */ this.byId = new Map();
    /** @type {any[]} the newest, removed ones too */ this.list = [];
    this.most = SHOWN;
    this.hasOlder = false;
    /** @type {any[]} */ this.species = [];
  }

  async open() {
    await this.refresh();
    await this.fresh();
  }

  async fresh() {
    this.form = await new SightingForm(this.stage, DRAFT, { refs: { near_unit_id: this.units } },
      (id) => this.byId.get(id)?.group).start({ found: 'seen' });
    await this.photos.read([{ kind: 'sighting', id: this.form.recordId }]);
    this.searched = '';
  }

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [species, units, sightings, visit] = await Promise.all([phone.rows('species', { siteId }),
      phone.rows('unit', { siteId }), phone.rowsAndRemoved('sighting', { siteId }), runningVisit(phone)]);
    this.visit = visit;
    this.species = species.sort((one, other) => byName(speciesName(one),
      speciesName(other)));
    this.units = units.map((unit) => ({ value: unit.record_id, label: unitTag(unit) }))
      .sort((one, other) => byName(one.label, other.label));
    const newest = sightings.sort((one, other) =>
      turnMs(other, other.seen_at) - turnMs(one, one.seen_at)).slice(0, this.most);
    this.hasOlder = sightings.length > newest.length;
    this.list = await withRemovals(this.stage, 'sighting', newest);
    this.byId = new Map(species.map((species) => [species.record_id, species]));
  };

  title = () => 'Sightings';
  aside = () => this.stage.alarm.pill();
  where = () => (!this.mayWrite ? 'As of the last sync' : this.visit ? 'Noted with the running visit'
    : 'No visit is open: saved for the site');
  get mayWrite() { return this.stage.phone.me.role === 'crew' || this.stage.phone.me.role === 'lead'; }

  body = () => html`<div class="cols even">${this.mayWrite ? html`<div class="stack">${this.draw()}</div>`
    : nothing}<div class="stack">${this.listed()}</div></div>`;

  draw() {
    const form = /** @type {SightingForm} */ (this.form);
    const isNone = form.typed.found === 'looked_for_none';
    return html`${form.input('found', { title: 'Did you see it?' })}${this.chooseSpecies(form)}
      ${isNone ? nothing : html`${this.counter(form)}${form.input('life_stage')}`}
      <details ?open=${Boolean(form.typed.behaviour || form.typed.sureness || form.typed.near_unit_id)}>
        <summary>More: ${isNone || !form.fitting.moves ? '' : 'behavior, '}how sure, near which unit</summary><div
        class="stack">${isNone ? nothing
          : form.input('behaviour')}${form.input('sureness')}${form.input('near_unit_id')}</div></details>
      ${form.input('note')}${photoButtons((file) => this.take(file))}${this.photos.draw((photo) => photo.shows ?? '')}`;
  }

  /** @param {File} file */
  take(file) {
    const form = /** @type {SightingForm} */ (this.form);
    form.keep('photo');
    const shows = form.typed.taxon ?? (form.typed.species_id ? speciesName(this.byId.get(form.typed.species_id))
      : null);
    return keepPhoto(this.stage, this.photos, file,
      { of_kind: 'sighting', of_id: form.recordId, shows, visitId: this.visit?.record_id ?? null });
  }

  /** @param {SightingForm} form */
  chooseSpecies(form) {
    const chosen = this.byId.get(form.typed.species_id);
    if (chosen) {
      return html`<div class="row"><span
        class="said"><b>${speciesName(chosen)}</b><small><i>${named(chosen.scientific_name)}</i></small></span><button
        type="button" class="or short" @click=${() => form.set('species_id', null)}>Change</button></div>`;
    }
    const { searched } = this;
    const listed = this.species.filter((species) => has([species.common_name, species.scientific_name], searched));
    const take = (/** @type {string} */ text) => { this.searched = text; form.set('taxon', text); };
    return html`${searchBox({ label: 'What was it?', hint: 'Find it in the list, or write what you saw.', id: 'f-taxon',
      name: 'taxon', value: form.typed.taxon ?? '', take })}
      <div class="species">${listed.slice(0, searched.trim() ? 12 : 6)
        .map((species) => html`<button type="button" class="row"
          @click=${() => this.pick(form, species.record_id)}><span
          class="said">${speciesName(species)}<small><i>${named(species.scientific_name)}</i></small></span></button>`)}
      ${searched.trim() && !listed.length ? html`<p class="small">Not in the list: saved as you wrote it.</p>`
        : nothing}</div>`;
  }

  /** @param {SightingForm} form @param {string} id */
  pick(form, id) {
    delete form.typed.taxon;
    form.set('species_id', id);
  }

  /** @param {SightingForm} form */
  counter(form) {
    const count = Number(form.typed.count) || 0;
    return html`${form.input('count')}<div class="three">${[1, 5, 10]
      .map((more) => html`<button type="button" class="or"
        @click=${() => form.set('count', String(count + more))} aria-label="${more} more">+${more}</button>`)}</div>`;
  }

  listed() {
    const { phone, zone } = this.stage;
    const rows = this.list.map((sighting) => {
      const species = this.byId.get(sighting.species_id);
      const what = species ? speciesName(species) : named(sighting.taxon, 'not named');
      const seen = sighting.found === 'looked_for_none' ? labelOf(phone, 'sighting', 'found', sighting.found)
        : sighting.count ? `${sighting.count} seen` : 'seen';
      return recordRow(this.stage, 'sighting', sighting, what,
        `${seen}, ${momentOf(sighting, sighting.seen_at, phone.now(), zone)}`);
    });
    const standing = this.list.filter((sighting) => !sighting.removed).length;
    return section('Noted before', this.hasOlder ? `newest ${rows.length}` : standing,
      html`${rows.length ? rows : html`<p class="row">Nothing noted yet.</p>`}${this.hasOlder ? html`<button
        type="button" class="or" @click=${() => this.showMore()}>Show more</button>` : nothing}`);
  }

  async showMore() {
    this.most += SHOWN;
    await this.refresh();
    this.stage.redraw();
  }

  foot = () => (this.mayWrite ? html`<button type="button" class="do"
    @click=${() => this.save()}>Save the sighting</button>` : nothing);

  async save() {
    const { stage } = this;
    if (stage.isSecondTap()) return;
    const { phone } = stage;
    const form = /** @type {SightingForm} */ (this.form);
    if (form.typed.found === 'looked_for_none') for (const name of ['count', 'life_stage', 'behaviour']) form.set(name,
      '');
    if (!form.typed.species_id && !form.typed.taxon) {
      stage.refuse('Say what was seen or looked for: choose it from the list, or write it.');
      document.getElementById('f-taxon')?.focus();
      return;
    }
    const fields = form.ready({ seen_at: instant(phone.now()) });
    if (!fields) return;
    const sighting = { kind: 'sighting', recordId: form.recordId, fields, visitId: this.visit?.record_id ?? null };
    const undo = await savedWithUndo(stage, onVisit(phone, this.visit ?? null, [sighting]));
    if (!undo) return;
    await form.drop();
    await this.fresh();
    stage.say(`Sighting saved on this ${deviceWord()}.`, undo);
    window.scrollTo(0, 0);
  }

  close = () => this.photos.close();
}
