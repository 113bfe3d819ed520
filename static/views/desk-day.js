/** What a desk knows of the day: who is out, who is on the roster, which waiver is in use. */
import { waiverInUse } from '../records/waivers.js';
import { partedOut, peopleOut } from './heads.js';
import { byName, personName } from './names.js';
import { readVisits, runningOf } from './visits.js';

/** @param {import('./router.js').Phone} phone @returns what a desk knows of the day, of its site */
export async function readDay(phone) {
  const siteId = phone.me.site_id;
  const [visits, everyone, people, signIns, waivers, site] = await Promise.all([
    readVisits(phone), peopleOut(phone), phone.rows('person', { siteId }), phone.rowsAndRemoved('sign_in', { siteId }),
    phone.rows('waiver', { siteId }), phone.row('site', siteId)]);
  const visit = runningOf(phone, visits);
  const { party, out: all } = partedOut(visit, visits, everyone, phone.now());
  return { visit, out: visit ? party : all, everyone, people, signIns, site,
    inUse: waiverInUse(waivers, phone.now()) };
}

/** Adults who are in: one of them looks after a minor. @param {import('./heads.js').Out[]} out */
export const adultsIn = (out) => out.filter(({ person }) => person.minor === false && person.record_id)
  .sort((one, other) => byName(personName(one.person), personName(other.person)));
