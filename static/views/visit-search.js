/** What visits are searched by: who came, which units, what was seen and noted. Read when somebody searches. */
import { groupsOf } from '../records/joined.js';
import { labelOf } from './kind-forms.js';
import { speciesName, unitTag } from './names.js';
import { plain } from './search-box.js';
import { leadersOf } from './visit-sums.js';
import { fullDay } from './words.js';

/** What of a record's row is searched, beside what it names. @type {[string, string[]][]} */
const NOTED = [['unit_check', ['note']], ['sighting', ['taxon', 'note', 'behaviour']], ['unit_event', ['note']],
  ['position_fix', ['note']], ['sign_in', []]];

/**
 * @param {import('./router.js').Stage} stage @param {import('./past-visits.js').Listed[]} listed
 * @param {import('./visit-sums.js').Known} known @param {Map<string, string>} people their names
 * @returns {Promise<Map<string, string>>} each visit's text, plain
 */
export async function readTexts({ phone, zone }, listed, known, people) {
  const { visits } = known;
  const siteId = phone.me.site_id;
  const [units, species, ...lists] = await Promise.all([phone.rows('unit', { siteId }),
    phone.rows('species', { siteId }),
    ...NOTED.map(([kind]) => phone.rows(kind, { siteId }))]);
  const nameOf = (/** @type {(row: any) => string} */ naming) => (/** @type {{record_id: string}} */ row) =>
    /** @type {[string, string]} */ ([row.record_id, naming(row)]);
  const names = new Map([...people, ...units.map(nameOf(unitTag)),
    ...species.map(nameOf(speciesName))]);
  const groups = groupsOf(visits);
  /** @type {Map<string, Set<string>>} */ const wordsOf = new Map();
  NOTED.forEach(([, fields], n) => {
    for (const row of lists[n]) {
      if (!row.visit_id) continue;
      const root = groups.rootOf(row.visit_id);
      const words = wordsOf.get(root) ?? new Set();
      wordsOf.set(root, words);
      for (const id of [row.person_id, row.unit_id, row.near_unit_id, row.species_id]) {
        if (id) words.add(names.get(id) ?? '');
      }
      for (const name of fields) if (row[name]) words.add(row[name]);
    }
  });
  return new Map(listed.map(({ visit, startMs }) => [visit.record_id, plain([fullDay(startMs, zone),
    labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit'), ...leadersOf(visit, known, people),
    visit.conditions ?? '',
    ...wordsOf.get(groups.rootOf(visit.record_id)) ?? []].filter(Boolean).join('\n'))]));
}

/** @param {string} text plain @param {string} searched @returns {boolean} whether every word of it stands there */
export const isFound = (text, searched) => plain(searched).split(/\s+/).every((word) => text.includes(word));
