/** The few rules between fields of one record, as data; fieldlog/records/rules.py says what each means. */

/** @typedef {{rule: string, field?: string, other?: string, is?: string[], fields?: string[]}} Rule */
/** @typedef {{field: string, word: string, sentence: string}} Broken */
/** @typedef {(rule: any, row: Record<string, any>, title: (name: string) => string) => Broken|null} Check */

/** @param {any} value */
const empty = (value) => value === null || value === undefined;

/** @type {Record<string, Check>} */
const CHECKS = {
  'not-before'({ field, other }, row, title) {
    const later = row[field];
    const earlier = row[other];
    // Without its Z, the text with milliseconds sorts after the one without.
    if (empty(later) || empty(earlier) || later.slice(0, -1) >= earlier.slice(0, -1)) return null;
    return { field, word: 'out-of-order', sentence: `${title(field)} lies before ${title(other)}. Correct one of the two.` };
  },
  'absent-when'({ field, other, is }, row, title) {
    if (empty(row[field]) || !is.includes(row[other])) return null;
    const sentence = `${title(field)} does not go with this answer to ${title(other)}. Empty one of the two.`;
    return { field, word: 'not-together', sentence };
  },
  'needed-when'({ field, other, is }, row, title) {
    if (!empty(row[field]) || !is.includes(row[other])) return null;
    return { field, word: 'missing', sentence: `${title(field)} is needed with this answer to ${title(other)}. Fill it in.` };
  },
  'any-of'({ fields }, row, title) {
    if (fields.some((/** @type {string} */ name) => !empty(row[name]))) return null;
    return { field: fields[0], word: 'missing', sentence: `${fields.map(title).join(' or ')} is needed. Fill in one of them.` };
  },
  together({ fields }, row, title) {
    const gaps = fields.filter((/** @type {string} */ name) => empty(row[name]));
    if (gaps.length === 0 || gaps.length === fields.length) return null;
    const sentence = `${fields.map(title).join(' and ')} belong together. Fill in both, or neither.`;
    return { field: gaps[0], word: 'missing', sentence };
  },
};

/**
 * @param {Rule[]} rules
 * @param {Record<string, any>} row a merged record
 * @param {(name: string) => string} title a field's title by its name
 * @returns {Broken[]} in the table's order
 */
export const brokenRules = (rules, row, title) =>
  rules.flatMap((rule) => CHECKS[rule.rule](rule, row, title) ?? []);
