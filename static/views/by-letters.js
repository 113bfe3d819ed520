/** Somebody found by two letters: the first of the first name and of the family name, or how a name begins. */
import { byName, personName } from './names.js';
import { plain } from './search-box.js';

/**
 * How well letters name somebody: 0 by initials, 1 by the beginning of a name, 2 anywhere; null where they do not.
 * @param {string} name @param {string} letters
 */
function rank(name, letters) {
  const whole = plain(name);
  const looked = plain(letters);
  const words = whole.split(/[\s\-\u2010\u2011'\u2019.]+/).filter(Boolean);
  if (words.map((word) => word[0]).join('').startsWith(looked.replace(/\s+/g, ''))) return 0;
  if (words.some((word) => word.startsWith(looked)) || whole.startsWith(looked)) return 1;
  return whole.includes(looked) ? 2 : null;
}

/**
 * @template {{display_name?: string|null}} P
 * @param {P[]} people @param {string} letters @returns {P[]} best first, then by name; nobody for no letters
 */
export function byLetters(people, letters) {
  if (!letters.trim()) return [];
  return people.map((person) => ({ person, name: personName(person), at: rank(personName(person), letters) }))
    .filter(({ at }) => at !== null)
    .sort((one, other) => (one.at ?? 0) - (other.at ?? 0) || byName(one.name, other.name))
    .map(({ person }) => person);
}
