/**
 * What people read where a record should be named: its own name, or that it has none yet. Old data and other apps' data
 * may lack any field, so no screen reads a name by itself.
 */

export const NO_NAME = 'No name yet';
export const NO_TAG = 'No tag yet';

/** Controls, marks alone and what is drawn as nothing are no name. */
const UNSEEN = /[\p{C}\p{Z}\p{M}\p{DI}]/gu;
/** Signs that would turn the words after a name round. */
const TURNS = /[\u202a-\u202e\u2066-\u2069]/g;

/** @param {unknown} text @param {string} [otherwise] @returns {string} the text where it shows anything */
export const named = (text, otherwise = NO_NAME) =>
  (typeof text === 'string' && text.replace(UNSEEN, '') ? text.replace(TURNS, '') : otherwise);

/** @param {any} person @returns {string} */
export const personName = (person) => named(person?.display_name);

/** @param {any} site @returns {string} */
export const siteName = (site) => named(site?.name);

/** @param {any} row @returns {string} Row A */
export const rowName = (row) => (row?.name === undefined || named(row.name) === NO_NAME ? 'Row without a name'
  : `Row ${named(row.name)}`);

/** @param {any} unit @returns {string} */
export const unitTag = (unit) => named(unit?.tag, NO_TAG);

/**
 * Where a unit stands, and of which design.
 * @param {{unit: any, row: any, design?: any}} known @returns {string} Row A, slot 3, Block 450
 */
export const standsWhere = ({ unit, row, design = null }) =>
  [rowName(row), typeof unit.slot_number === 'number' ? `slot ${unit.slot_number}` : 'no slot yet',
    ...(design ? [named(design.name)] : [])].join(', ');

/** @param {any} species @returns {string} */
export const speciesName = (species) => named(species?.common_name, named(species?.scientific_name));

/** Any record by whatever its kind calls it. @param {any} record @returns {string} */
export const recordName = (record) =>
  [record?.tag, record?.display_name, record?.common_name, record?.name, record?.label, record?.scientific_name,
    record?.datum].reduceRight((otherwise, text) => named(text, otherwise), NO_NAME);

/** Rows that are not here, or say no order, come last. */
const LAST = 1000;

/** Rows, or other records, by the order that they say, then by name. @param {any} one @param {any} other */
export const byOrder = (one, other) => (one.order_number ?? LAST) - (other.order_number ?? LAST)
  || (one === other ? 0 : byName(recordName(one), recordName(other)));

/** @param {string} one @param {string} other */
export const byName = (one, other) => one.localeCompare(other, undefined, { numeric: true });
