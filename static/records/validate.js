/**
 * Judge what is typed, offline, as the server will: from the form description alone, with the same words.
 * fieldlog/records/fields.py and kind.py are the other half; both run tests/vectors/records_values.json.
 */
import { checkTag } from './tags.js';

/* The few rules between fields of one record, as data; fieldlog/records/rules.py says what each means. */

/** @typedef {{rule: string, field?: string, other?: string, is?: string[], fields?: string[]}} Rule */
/** @typedef {{field: string, word: string, sentence: string}} Broken */
/** @typedef {(rule: any, row: Record<string, any>, title: (name: string) => string) => Broken|null} Check */

/**
 * White space and what is drawn as nothing, the same as in fieldlog/records/empty.py whichever Unicode this browser
 * knows.
 */
const SHOWS = new RegExp(
  '[^\\u0000-\\u0020\\u007f-\\u00a0\\u00ad\\u034f\\u061c\\u115f-\\u1160\\u1680\\u17b4-\\u17b5\\u180b-\\u180f'
  + '\\u2000-\\u200f\\u2028-\\u202f\\u205f-\\u206f\\u2800\\u3000\\u3164\\ufe00-\\ufe0f\\ufeff\\uffa0'
  + '\\ufff0-\\ufffb\\u{1bca0}-\\u{1bca3}\\u{1d173}-\\u{1d17a}\\u{e0000}-\\u{e0fff}]', 'u',
);

/** @param {any} value @returns {boolean} whether it is none, a list of nothing, or a text that shows nothing */
export const empty = (value) => value === null || value === undefined || (Array.isArray(value) && !value.length)
  || (typeof value === 'string' && !SHOWS.test(value));

/** @type {Record<string, Check>} */
const CHECKS = {
  'not-before'({ field, other }, row, title) {
    const later = row[field];
    const earlier = row[other];
    if (empty(later) || empty(earlier) || later >= earlier) return null;
    return { field, word: 'out-of-order',
      sentence: `${title(field)} is before ${title(other)}. Correct one of the two.` };
  },
  'absent-when'({ field, other, is }, row, title) {
    if (empty(row[field]) || !is.includes(row[other])) return null;
    const sentence = `${title(field)} does not go with this answer to ${title(other)}. Clear one of the two.`;
    return { field, word: 'not-together', sentence };
  },
  'needed-when'({ field, other, is }, row, title) {
    if (!empty(row[field]) || !is.includes(row[other])) return null;
    return { field, word: 'missing',
      sentence: `${title(field)} is needed with this answer to ${title(other)}. Fill it in.` };
  },
  'any-of'({ fields }, row, title) {
    if (fields.some((/** @type {string} */ name) => !empty(row[name]))) return null;
    return { field: fields[0], word: 'missing',
      sentence: `${fields.map(title).join(' or ')} is needed. Fill in one of them.` };
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

/*
 * The sentences in which a value is doubted or turned down: what, the value, the limit with its unit, what to do.
 * fieldlog/records/sentences.py says the same, letter for letter (tests/vectors/records_values.json).
 */

const SHOWN_LETTERS = 40;

/** @param {string} text @returns {string[]} its letters, as code points */
const letters = (text) => Array.from(text);

/** @param {string} text */
const shortened = (text) => {
  const all = letters(text);
  return all.length <= SHOWN_LETTERS ? text : `${all.slice(0, SHOWN_LETTERS).join('')}…`;
};

/** @param {string} number @param {string|undefined} unit */
const withUnit = (number, unit) => (unit === undefined ? number : unit === '°' ? `${number}°` : `${number} ${unit}`);

/** @param {unknown} value @returns {string} what kind of JSON value this is, said to a person */
function told(value) {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'number') return `the number ${value}`;
  if (typeof value === 'string') return `the text “${shortened(value)}”`;
  return Array.isArray(value) ? 'a list' : 'a group of values';
}

/** @param {string} wanted @param {string|undefined} unit */
const inUnit = (wanted, unit) =>
  unit === undefined ? wanted : `${wanted} in ${unit === '°' ? 'degrees' : unit}`;

/** @param {string} title @param {string} wanted @param {unknown} value */
const notA = (title, wanted, value) => `${title} must be ${wanted}; ${told(value)} is not. Enter it again.`;

/** @param {number} value @param {number} least @param {number} most @param {boolean} whole */
function slip(value, least, most, whole) {
  if (!whole && value > most && [10, 100, 1000].some((power) => least <= value / power && value / power <= most)) {
    return 'Was the decimal point left out?';
  }
  return least <= -value && -value <= most ? 'Is the sign right?' : 'Correct it, then save again.';
}

/**
 * @param {string} title @param {number} value @param {number} least @param {number} most @param {string|undefined} unit
 * @param {boolean} whole it has no decimal point to be left out
 */
const outside = (title, value, least, most, unit, whole) =>
  `${title} is ${withUnit(String(value), unit)}; it must be between ${withUnit(`${least} and ${most}`, unit)}. ` +
  slip(value, least, most, whole);

/** @param {string} title @param {number} value @param {number} least @param {number} most @param {string} [unit] */
const unlikely = (title, value, least, most, unit) =>
  `${title} is ${withUnit(String(value), unit)}; ` +
  `it is usually between ${withUnit(`${least} and ${most}`, unit)}. Is that right?`;

/** @param {string} title @param {number} count @param {number} least @param {number} most */
const length = (title, count, least, most) =>
  count > most
    ? `${title} has ${count} letters; it may have ${most} at most. Shorten it, then save again.`
    : `${title} has ${count} letters; it must have ${least} at least. Write a little more, then save again.`;

/** @param {string} title @param {number} count @param {number} least @param {number} most */
const items = (title, count, least, most) =>
  (count > most ? `${title}: ${count} given, ${most} at most. Take some out, then save again.`
    : `${title}: ${count} given, ${least} at least. Add more, then save again.`);

/** @param {number} place from 1 on */
export const ordinal = (place) => `${place}${Math.floor(place / 10) % 10 === 1 ? 'th'
  : ['th', 'st', 'nd', 'rd'][place % 10] ?? 'th'}`;

/** @param {string} title @param {number} place @param {string} sentence */
const atPlace = (title, place, sentence) => `${title}, the ${ordinal(place)}: ${sentence}`;

/** @param {string} title @param {string} value @param {string[]} labels */
const notOffered = (title, value, labels) =>
  `${title} is “${shortened(value)}”; it must be one of: ${labels.join('; ')}. Choose again.`;

/** @param {string} kindTitle @param {string} name */
const noSuchField = (kindTitle, name) =>
  `“${kindTitle}” has no field “${shortened(name)}” in this version. ` +
  'The entry is kept, and stored after an update.';

/** @param {string} title */
const noDatum = (title) =>
  `${title} is a level without its datum. Add in the same entry what it is above, such as MLLW or NAVD88.`;

/** @param {string} title */
const missing = (title) => `${title} is not filled in. Fill it in, then save again.`;

const say = {
  atPlace, inUnit, items, length, letters, missing, noDatum, noSuchField, notA, notOffered, outside, unlikely,
};

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

/** @param {Property} of @param {any} value @param {boolean} isRequired @returns {Verdict|null} */
function judgeText(of, value, isRequired) {
  if (typeof value !== 'string') return hard('bad-type', say.notA(of.title, 'text', value));
  if (isRequired && empty(value)) return hard('missing', say.missing(of.title));
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

/**
 * The first item that is turned down, else the first that is doubted, told with its place.
 * @param {Property} of @param {any} value @param {boolean} isRequired @returns {Verdict|null}
 */
function judgeList(of, value, isRequired) {
  const { title, minItems: least = 0, maxItems: most } = of;
  if (!Array.isArray(value)) return hard('bad-type', say.notA(title, 'a list', value));
  if (isRequired && !value.length) return hard('missing', say.missing(title));
  if (value.length < least || value.length > most) {
    return hard('beyond-limit', say.items(title, value.length, least, most));
  }
  /** @type {Verdict|null} */ let doubt = null;
  for (const [n, item] of value.entries()) {
    for (const { word, sentence, hard: isHard } of checkItem(of, item)) {
      const told = { word, sentence: say.atPlace(title, n + 1, sentence), hard: isHard };
      if (isHard) return told;
      doubt ??= told;
    }
  }
  return doubt;
}

/**
 * One item of a list: a bare value, or a small record.
 * @param {Property} of the list's @param {any} item @returns {Fault[]} `field` is the inner one
 */
export function checkItem({ title, items: inner }, item) {
  if (!inner.properties) return judgeInner(inner['x-name'], inner, item, true);
  if (item === null || item === undefined) return [{ field: '', ...hard('missing', say.missing('It')) }];
  if (typeof item !== 'object' || Array.isArray(item)) {
    return [{ field: '', ...hard('bad-type', say.notA('It', 'a group of values', item)) }];
  }
  const names = Object.keys(inner.properties);
  const unknown = Object.keys(item).filter((name) => !names.includes(name)).sort();
  return [
    ...names.flatMap((name) => judgeInner(name, inner.properties[name], Object.hasOwn(item, name) ? item[name] : null,
      inner.required.includes(name))),
    ...unknown.slice(0, 1).map((name) => ({ field: name, ...hard('unknown-field', say.noSuchField(title, name)) })),
  ];
}

/** @param {string} field @param {Property} of @param {any} value @param {boolean} isNeeded @returns {Fault[]} */
function judgeInner(field, of, value, isNeeded) {
  if (isNeeded && empty(value)) return [{ field, ...hard('missing', say.missing(of.title)) }];
  const verdict = value === null || value === undefined ? null : judgeValue(of, value, isNeeded);
  return verdict ? [{ field, ...verdict }] : [];
}

/** @type {Record<string, (of: Property, value: any, isRequired: boolean) => Verdict|null>} */
const JUDGES = {
  number: judgeNumber, whole: judgeNumber, text: judgeText, tag: judgeText, choice: judgeChoice, yesno: judgeYesNo,
  list: judgeList,
};

/** @param {Property} of @param {any} value @param {boolean} isRequired @returns {Verdict|null} */
const judgeValue = (of, value, isRequired) => (JUDGES[of['x-type']] ?? judgePatterned)(of, value, isRequired);

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
    const verdict = value === null ? null : judgeValue(of, value, Boolean(form.required?.includes(field)));
    const madeHere = of['x-made-here'];
    if (verdict !== null && (verdict.hard || !madeHere || fields[madeHere])) return { field, ...verdict };
    const datum = of['x-datum'];
    return value !== null && datum && !fields[datum] ? { field, ...hard('no-datum', say.noDatum(of.title)) } : [];
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
    .filter((name) => required.includes(name) && empty(row[name]))
    .map((name) => ({ field: name, word: 'missing', sentence: say.missing(properties[name].title), hard: false }));
  const broken = brokenRules(rules, row, (name) => properties[name].title);
  return [...missing, ...broken.map((fault) => ({ ...fault, hard: false }))];
}
