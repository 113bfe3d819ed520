/** What a head count may get wrong: one person in the list twice, and a minor whose adult has left. */
import { isRemoved } from '../records/mistaken.js';
import { doubt } from './marks.js';
import { personName } from './names.js';
import { isSameName } from './search-box.js';
import { clock, counted, msOf } from './words.js';

/**
 * @param {import('./heads.js').Out[]} out @param {any[]} today sign-ins of the day, removed ones too
 * @param {Map<string, string>} names of people @param {string} zone @returns {string[]} sentences
 */
export function twiceIn(out, today, names, zone) {
  /** @type {string[]} */ const seen = [];
  return out.flatMap(({ signIn, person }) => {
    const name = personName(person);
    if (!person.display_name || seen.some((other) => isSameName(other, name))) return [];
    const isNamesake = (/** @type {any} */ other) => other.person_id !== signIn.person_id
      && isSameName(names.get(other.person_id) ?? '', name);
    const others = out.filter((stay) => isNamesake(stay.signIn)).length;
    const left = today.find((other) => other.out_at && !isRemoved('sign_in', other) && isNamesake(other));
    if (!others && !left) return [];
    seen.push(name);
    const leftAt = left ? clock(msOf(left.out_at) ?? 0, zone) : '';
    return [others ? `${counted(others + 1, 'person', 'people')} called ${name} are out. If it is one person, remove a `
      + 'sign-in: the count is too high.' : `${name} is out, and another ${name} signed out at ${leftAt}. If it is `
        + 'one person, sign them out here too.'];
  });
}

/**
 * Minors who are out while the adult who looks after them is not.
 * @param {import('./heads.js').Out[]} out @param {Map<string, string>} names @returns {string[]} sentences
 */
export function minorsAlone(out, names) {
  const ids = new Set(out.map(({ signIn }) => signIn.person_id));
  return out.filter(({ signIn }) => signIn.adult_id && !ids.has(signIn.adult_id)).map(({ signIn, person }) =>
    `${personName(person)} is out, and the adult with them, ${names.get(signIn.adult_id ?? '') ?? 'not on this list'}, `
      + 'is not. Name another adult now.');
}

/** @param {string[]} sentences */
export const headDoubts = (sentences) => sentences.map((sentence) => doubt(sentence));
