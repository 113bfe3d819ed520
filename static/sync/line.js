/**
 * The line: JSON text that a phone writes once and nobody re-serialises. Its members stand in a fixed order, since its
 * bytes are its name.
 *
 * @typedef {{lane: string, number: number, stamp: string, person: string|null, kind: string, record: string,
 *   site: string|null, visit: string|null, fields: Record<string, any>, bases: Record<string, string[]>,
 *   offset: [number, string, number]|null, random?: string, fixes?: string|null}} Said
 */

/** @param {Said} said @returns {string} */
export function lineOf(said) {
  /** @type {Record<string, any>} */ const line = {
    v: 1, d: said.lane, n: said.number, s: said.stamp, u: said.person, t: said.kind, r: said.record, g: said.site,
    y: said.visit, f: said.fields, b: said.bases, o: said.offset,
  };
  if (said.random) line.k = said.random;
  if (said.fixes) line.fixes = said.fixes;
  return JSON.stringify(line);
}

/** @param {string} text @returns {any} what a line says, null where it is no entry */
export function parsed(text) {
  try {
    const said = JSON.parse(text);
    const isEntry = said && typeof said === 'object' && said.f && typeof said.f === 'object' && !Array.isArray(said.f);
    return isEntry ? said : null;
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

/**
 * The same entry under another lane and number.
 * @param {any} said as `parsed` gave it @param {string} id its old id @param {string} lane @param {number} number
 * @param {Map<string, string>} renamed old ids to new ones, of entries that were moved before it
 */
export function moved(said, id, lane, number, renamed) {
  said.d = lane;
  said.n = number;
  said.was = id;
  said.b = Object.fromEntries(Object.entries(said.b ?? {}).map(
    ([name, ids]) => [name, /** @type {string[]} */ (ids).map((base) => renamed.get(base) ?? base)],
  ));
  return JSON.stringify(said);
}

/** @param {string} kind @param {string} record @returns {string} one text for both */
export const recordKey = (kind, record) => `${kind}|${record}`;
