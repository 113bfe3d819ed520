/** What the references of a kind's form may name, each by its name. */
import { formOf, inputsOf } from './kind-forms.js';
import { byName, recordName } from './names.js';

/**
 * @param {import('./router.js').Phone} phone @param {string} kind
 * @returns {Promise<Record<string, {value: string, label: string}[]>>} by field; of a list's by list and field
 */
export async function refsOf(phone, kind) {
  const named = [...inputsOf(phone, kind).values()]
    // Those within a list too, by the names that list-input.js asks for.
    .flatMap((input) => [input, ...(input.inner ?? []).map((inner) =>
      ({ ...inner, name: `${input.name}.${inner.name}` }))])
    .flatMap(({ name, control, refers, across }) =>
      (control === 'ref' && !across && refers && formOf(phone, refers) ? [{ name, refers }] : []));
  const refs = await Promise.all(named.map(async (input) => {
    const rows = await phone.rows(input.refers, { siteId: phone.me.site_id });
    const choices = rows.map((row) => ({ value: row.record_id, label: recordName(row) }));
    return [input.name, choices.sort((one, other) => byName(one.label, other.label))];
  }));
  return Object.fromEntries(refs);
}
