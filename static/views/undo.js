/** Save, and be able to take it back: nothing leaves the log, so a save is undone by another entry. */
import { MISTAKEN } from '../records/mistaken.js';

/** The records that a save wrote, by what takes it back. @type {WeakMap<() => Promise<unknown>, string[]>} */
const WROTE = new WeakMap();

/**
 * Whose rows may say "Saved. Undo": each is the only one of its kind that was saved, so that what its button takes back
 * is what stands there.
 * @param {() => Promise<unknown>} undo @returns {string[]} their ids
 */
export const wroteAlone = (undo) => WROTE.get(undo) ?? [];

/** Parts say that a phone was on a visit; a save that is taken back does not unsay that. */
const STAYS = ['visit_part'];

/**
 * @typedef {{kind: string, recordId: string|null, fields: Record<string, any>, visitId?: string|null,
 *   siteId?: string|null, fixes?: string|null}} Change
 * @param {import('./router.js').Stage} stage @param {Change[]|Promise<Change[]>} changes all or none are saved
 * @param {{from: string, to: string}|null} [led] where whoever takes it back is led to from the screen that the save
 *   went on to
 * @returns {Promise<(() => Promise<boolean>)|null>} what takes it back, each field as it stood and a new record
 *   removed; null where nothing was saved
 */
export async function savedWithUndo(stage, changes, led = null) {
  const { phone } = stage;
  /** @type {(Change & {reopens: string|null})[]} */ let back = [];
  const isSaved = await stage.saving(async () => {
    const list = await changes;
    const written = await phone.writeMany(list);
    back = list.map(({ kind, fields, visitId, fixes = null }, n) => ({
      kind, recordId: written[n].recordId, visitId, fields: undone(kind, fields, written[n].before), reopens: fixes,
    })).filter(({ kind, recordId }, n) => written[n].before
      // A record that several entries made is removed once.
      || (!STAYS.includes(kind) && written.findIndex((entry) => entry.recordId === recordId) === n));
  });
  if (!isSaved) return null;
  const undo = async () => {
    const isBack = await stage.saving(() => phone.writeMany(back));
    if (isBack) stage.say('Undone.');
    if (isBack && led && location.hash === led.from) stage.go(led.to);
    return isBack;
  };
  WROTE.set(undo, back.filter(({ kind }) => back.filter((other) => other.kind === kind).length === 1)
    .flatMap(({ recordId }) => recordId ?? []));
  return undo;
}

/**
 * @param {string} kind @param {Record<string, any>} fields
 * @param {Record<string, any>|undefined} before the record, undefined where it is new
 */
function undone(kind, fields, before) {
  if (before) return Object.fromEntries(Object.keys(fields).map((name) => [name, before[name] ?? null]));
  return kind === 'sign_in' ? MISTAKEN : { _deleted: true };
}
