/** The form of one sighting, new or corrected: it offers the life stages and behaviors that fit the species' group. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { RecordForm } from './record-form.js';
import { fitting } from './taxon-groups.js';

export class SightingForm extends RecordForm {
  /**
   * @param {import('./router.js').Stage} stage @param {string} draftKey
   * @param {ConstructorParameters<typeof RecordForm>[3]} given
   * @param {(speciesId: string) => string|null|undefined} groupOf a species' group
   */
  constructor(stage, draftKey, given, groupOf) {
    super(stage, 'sighting', draftKey, given);
    this.groupOf = groupOf;
  }

  /** What fits the group of the species that is chosen. */
  get fitting() { return fitting(this.groupOf(this.typed.species_id)); }

  /**
   * What stands in a record stays in sight, though it does not fit.
   * @param {import('../records/form.js').Input} input
   */
  choicesOf(input) {
    const all = super.choicesOf(input);
    if (input.name !== 'life_stage') return all;
    const { stages } = this.fitting;
    return all.filter(({ value }) => stages.includes(String(value)) || value === this.typed.life_stage);
  }

  /** A stage or behavior that does not fit goes with the species before. @param {string} name @param {any} value */
  set(name, value) {
    super.set(name, value);
    if (name !== 'species_id' || !value) return;
    const { stages, moves } = this.fitting;
    if (!stages.includes(this.typed.life_stage)) super.set('life_stage', null);
    if (!moves) super.set('behaviour', null);
  }

  /** @param {string} name @param {Parameters<RecordForm['input']>[1]} [instead] */
  input(name, instead = {}) {
    const drawn = super.input(name, instead);
    if (name !== 'behaviour') return drawn;
    const { does, moves } = this.fitting;
    if (!moves && !this.typed.behaviour) return nothing;
    return html`${drawn}${does.length ? html`<div class="choices by-two">${does.map((word) => html`<button
      type="button" class="or" aria-pressed=${String(this.typed.behaviour === word)}
      @click=${() => this.set('behaviour', word)}>${word}</button>`)}</div>` : nothing}`;
  }
}
