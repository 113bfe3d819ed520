/** Values of a check that contradict the unit or each other are asked about before they are saved, beside their box. */
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { doubt } from './marks.js';
import { gradesOf, hasHeight, wasFound } from './unit-facts.js';
import { REPEAT_MM } from '../survey/burial.js';

/** Grades by eye and by measures this far apart are flagged by the server too (fieldlog/flags/grading.py). */
const GRADES_APART = 2;
const GRADED = ['body', 'stance', 'toe'];

/** @typedef {{field: string, sentence: string}} Contradiction */

/**
 * @param {Record<string, any>} fields of a check @param {any} design of its unit
 * @param {number|null|undefined} repeatMm the site's own repeatability of a reading
 * @returns {Contradiction[]} each with the value, its unit and the limit
 */
export function contradictions(fields, design, repeatMm) {
  if (!wasFound(fields)) return [];
  /** @type {Contradiction[]} */ const list = [];
  const most = hasHeight(design) ? design.height_mm : Infinity;
  const { exposed_height_mm: shows, chip_depth_mm: chip } = fields;
  if (shows > most + (repeatMm ?? REPEAT_MM)) {
    const sentence = `${shows} mm showing, but the whole unit is ${most} mm high. Sure?`;
    list.push({ field: 'exposed_height_mm', sentence });
  }
  if (chip > most) {
    const sentence = `A chip ${chip} mm deep, but the whole unit is ${most} mm high. Sure?`;
    list.push({ field: 'chip_depth_mm', sentence });
  }
  for (const { name, title, value } of gradesOf(fields, design, null)) {
    const own = fields[`${name}_grade`];
    if (!GRADED.includes(name) || typeof own !== 'number' || value === null) continue;
    if (Math.abs(own - value) < GRADES_APART) continue;
    list.push({ field: `${name}_grade`, sentence: `${title} is grade ${own} by eye and ${value} as measured. Sure?` });
  }
  return list;
}

/** The questions of one form, each asked once. */
export class Sure {
  /** @param {import('./router.js').Stage} stage @param {import('./record-form.js').RecordForm} form */
  constructor(stage, form) {
    this.stage = stage;
    this.form = form;
    /** @type {Set<string>} sentences that were answered with yes */ this.answered = new Set();
  }

  /**
   * @param {Contradiction[]} list @param {() => void} save once one is answered
   * @returns {boolean} nothing is left to ask
   */
  isSure(list, save) {
    const open = list.filter(({ sentence }) => !this.answered.has(sentence));
    this.form.asked = new Map(open.map((contradiction) => [contradiction.field, this.question(contradiction, save)]));
    if (!open.length) return true;
    this.stage.redraw();
    queueMicrotask(() => document.getElementById(`sure-${open[0].field}`)?.focus());
    return false;
  }

  /** @param {Contradiction} one @param {() => void} save */
  question({ field, sentence }, save) {
    const yes = () => {
      this.answered.add(sentence);
      save();
    };
    const change = () => {
      this.form.asked.delete(field);
      this.stage.redraw();
      /** @type {HTMLElement|null} */ (document.querySelector(`[name="${field}"]`))?.focus();
    };
    return html`<div class="tight" role="alert" id="sure-${field}" tabindex="-1">${doubt(sentence)}
      <div class="two"><button type="button" class="or" @click=${change}>Change it</button>
        <button type="button" class="or" @click=${yes}>Yes, save it</button></div></div>`;
  }
}
