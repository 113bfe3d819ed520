/** The forms of kinds as the pack brought them: their inputs, and what their choices are called. */
import { describe } from '../records/form.js';
import { listWords } from './list-input.js';

/** @typedef {import('../records/form.js').Input} Input */

/**
 * @param {import('./router.js').Phone} phone @param {string} kind
 * @returns {import('../records/pack.js').PackedForm} the description that the pack brought; no form opens before that
 */
export const formOf = (phone, kind) => /** @type {import('../records/pack.js').PackContent} */ (phone.pack()).forms
  .kinds[kind];

/**
 * Inputs by the description they are made of, once: lists ask for the words of many choices.
 * @type {WeakMap<object, Map<string, Input>>}
 */
const described = new WeakMap();

/** @param {import('./router.js').Phone} phone @param {string} kind @returns {Map<string, Input>} by field name */
export function inputsOf(phone, kind) {
  const form = formOf(phone, kind);
  let inputs = described.get(form);
  if (!inputs) {
    inputs = new Map(describe(form).map((input) => [input.name, input]));
    described.set(form, inputs);
  }
  return inputs;
}

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} field @param {unknown} value
 * @param {string} [otherwise] where nothing was chosen @returns {string} the words for a choice
 */
export function labelOf(phone, kind, field, value, otherwise = '') {
  const input = inputsOf(phone, kind).get(field);
  if (input?.control === 'list' && Array.isArray(value)) return listWords(input, value);
  return input?.choices.find((choice) => choice.value === value)?.label
    ?? String(value ?? otherwise);
}
