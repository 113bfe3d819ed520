/**
 * Judge what is typed, offline, as the server will: from the form description alone, with the same words.
 * fieldlog/records/fields.py and kind.py are the other half; both run tests/vectors/records_values.json.
 */
import { brokenRules } from './rules.js';
import * as say from './sentences.js';
import { checkTag } from './tags.js';

/** @typedef {{field: string, word: string, sentence: string, hard: boolean}} Fault */
/** @typedef {{word: string, sentence: string, hard: boolean}} Verdict */
/** @typedef {Record<string, any>} Property one field's description: JSON Schema with x-* words */
/** @typedef {{title: string, properties: Record<string, Property>, required?: string[], 'x-rules'?: any[]}} Form */

const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** @param {string} text */
function inCalendar(text) {
  const [year, month, day] = text.slice(0, 10).split('-').map(Number);
  if (year < 1970 || year > 2199 || month < 1 || month > 12) return false;
  const leap = month === 2 && year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 1 : 0;
  return day >= 1 && day <= DAYS[month - 1] + leap;
}

/** @param {string} text */
const inClock = (text) => text.slice(11, 13) <= '23' && text.slice(14, 16) <= '59' && text.slice(17, 19) <= '59';

/** @param {string} zone */
function zoneKnown(zone) {
  try {
    return zone.length <= 64 && Boolean(new Intl.DateTimeFormat('en', { timeZone: zone }));
  } catch (fault) {
    if (fault instanceof RangeError) return false;
    throw fault;
  }
}

/**
 * What a field of a fixed form must be, and what its pattern cannot say.
 * @type {Record<string, [string, (text: string) => boolean]>}
 */
const PATTERNED = {
  instant: ['a moment in UTC such as 2026-11-25T06:12:00Z', (text) => inCalendar(text) && inClock(text)],
  date: ['a date such as 2026-11-25', inCalendar],
  ref: ["a record's id", () => true],
  sha256: ['64 hex digits', () => true],
  flag_id: ['32 hex digits', () => true],
  zone: ['a time zone such as Europe/Oslo', zoneKnown],
};

/** @param {string} word @param {string} sentence @returns {Verdict} */
const hard = (word, sentence) => ({ word, sentence, hard: true });

/** @param {string} sentence @returns {Verdict} */
const doubtful = (sentence) => ({ word: 'implausible', sentence, hard: false });

/** @param {Property} of @param {any} value @returns {Verdict|null} */
function judgeNumber(of, value) {
  const { title, minimum: least, maximum: most, 'x-unit': unit, 'x-plausible': plausible } = of;
  const whole = of['x-type'] === 'whole';
  if (typeof value !== 'number' || (whole && !Number.isInteger(value))) {
    return hard('bad-type', say.notA(title, say.inUnit(whole ? 'a whole number' : 'a number', unit), value));
  }
  if (!(least <= value && value <= most)) {
    return hard('beyond-limit', say.outside(title, value, least, most, unit, whole));
  }
  if (plausible && !(plausible[0] <= value && value <= plausible[1])) {
    return doubtful(say.unlikely(title, value, plausible[0], plausible[1], unit));
  }
  return null;
}

/** @param {Property} of @param {any} value @returns {Verdict|null} */
function judgeText(of, value) {
  if (typeof value !== 'string') return hard('bad-type', say.notA(of.title, 'text', value));
  const { minLength: least = 0, maxLength: most } = of;
  const count = say.letters(value).length;
  if (count < least || count > most) return hard('beyond-limit', say.length(of.title, count, least, most));
  const doubt = of['x-type'] === 'tag' ? checkTag(value) : null;
  return doubt === null ? null : doubtful(doubt);
}

/** @param {Property} of @param {any} value @returns {Verdict|null} */
function judgeChoice(of, value) {
  if (typeof value !== 'string') return hard('bad-type', say.notA(of.title, 'one of the choices', value));
  const labels = of['x-labels'];
  if (Object.hasOwn(labels, value)) return null;
  return hard('beyond-limit', say.notOffered(of.title, value, Object.values(labels)));
}

/** @param {Property} of @param {any} value @returns {Verdict|null} */
function judgePatterned(of, value) {
  const [wanted, holds] = PATTERNED[of['x-type']];
  const right = typeof value === 'string' && new RegExp(of.pattern, 'u').test(value) && holds(value);
  return right ? null : hard('bad-type', say.notA(of.title, wanted, value));
}

/** @param {Property} of @param {any} value @returns {Verdict|null} */
const judgeYesNo = (of, value) =>
  typeof value === 'boolean' ? null : hard('bad-type', say.notA(of.title, 'yes or no', value));

/** @type {Record<string, (of: Property, value: any) => Verdict|null>} */
const JUDGES = {
  number: judgeNumber, whole: judgeNumber, text: judgeText, tag: judgeText, choice: judgeChoice, yesno: judgeYesNo,
};

/**
 * Judge the fields of one entry, which need not be all. Null empties a field and is always allowed.
 * @param {Form} form
 * @param {Record<string, any>} fields
 * @returns {Fault[]} hard ones (the entry would be held) and soft ones (taken, someone should look)
 */
export function check(form, fields) {
  return Object.entries(fields).flatMap(([field, value]) => {
    if (!Object.hasOwn(form.properties, field)) {
      return { field, ...hard('unknown-field', say.noSuchField(form.title, field)) };
    }
    const of = form.properties[field];
    const verdict = value === null ? null : (JUDGES[of['x-type']] ?? judgePatterned)(of, value);
    return verdict === null ? [] : { field, ...verdict };
  });
}

/**
 * Judge a merged record: what is required and missing, and the rules between fields. All of these are soft; a form
 * insists on them.
 * @param {Form} form
 * @param {Record<string, any>} row
 * @returns {Fault[]}
 */
export function complete(form, row) {
  const { properties, required = [], 'x-rules': rules = [] } = form;
  const missing = Object.keys(properties)
    .filter((name) => required.includes(name) && [null, undefined, ''].includes(row[name]))
    .map((name) => ({ field: name, word: 'missing', sentence: say.missing(properties[name].title), hard: false }));
  const broken = brokenRules(rules, row, (name) => properties[name].title);
  return [...missing, ...broken.map((fault) => ({ ...fault, hard: false }))];
}
