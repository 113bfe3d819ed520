/**
 * What this phone's own checks raise before they are sent: told at once, since a flag of the programme comes with a
 * later sync. What was found or done since takes it back as it does on the server, sent or not: a later check of what
 * stood, or the unit set upright.
 */
import { unitTag } from './names.js';
import { placedMs, tellsMeasures } from './unit-facts.js';
import { day, localDay, msOf } from './words.js';
import { raisedBy } from '../survey/raised.js';

/**
 * @param {import('./router.js').Phone} phone @param {any} site its row @param {string} zone
 * @returns {Promise<import('../records/pack.js').ShownFlag[]>} as the flags of the pack, with `isHere`;
 *   their sentence says that they are not sent
 */
export async function seenHere(phone, site, zone) {
  const unsent = phone.me ? phone.counts().phone : 0;
  if (!unsent) return [];
  const entries = await phone.entries({ state: 'phone', limit: unsent });
  const ids = [...new Set(entries.filter((entry) => entry.kind === 'unit_check')
    .map((entry) => entry.recordId))];
  const rows = (await Promise.all(ids.map((id) => phone.row('unit_check',
    /** @type {string} */ (id))))).flatMap((check) => (check?.checked_at && tellsMeasures(check) ? [check] : []));
  const unitIds = [...new Set(rows.map((check) => check.unit_id ?? ''))];
  const flags = await Promise.all(unitIds.map(async (unitId) => {
    const unit = await phone.row('unit', unitId);
    if (unit?.site_id !== phone.me.site_id) return [];
    const [design, checks] = await Promise.all([phone.row('unit_design', unit.design_id), checksOf(phone, unitId)]);
    return raisedBy(checks, { height_mm: design?.height_mm, lean_look_deg: site?.lean_look_deg },
      (check) => ids.includes(check.record_id))
      .map((raised) => flagOf(unit, raised, localDay(msOf(raised.check.checked_at) ?? 0, zone) === localDay(phone.now(),
        zone) ? 'today' : day(msOf(raised.check.checked_at) ?? 0, zone)));
  }));
  return flags.flat().sort((one, other) => one.severity.localeCompare(other.severity));
}

/**
 * The checks since a unit was last placed, set or righted that tell measures, oldest first.
 * @param {import('./router.js').Phone} phone @param {string} unitId @returns {Promise<any[]>}
 */
async function checksOf(phone, unitId) {
  const of = { kind: 'unit', id: unitId };
  const [checks, events] = await Promise.all([phone.rowsOf('unit_check', of), phone.rowsOf('unit_event', of)]);
  const sinceMs = placedMs(events);
  const timeOf = (/** @type {any} */ check) => msOf(check.checked_at) ?? -1;
  return checks.filter((check) => tellsMeasures(check) && timeOf(check) >= sinceMs)
    .sort((one, other) => timeOf(one) - timeOf(other));
}

/**
 * @param {import('../records/rows.js').Unit} unit @param {import('../survey/raised.js').Raised} raised
 * @param {string} when @returns {import('../records/pack.js').ShownFlag}
 */
const flagOf = (unit, { rule, severity, what, check }, when) => ({
  flag_id: `here ${unit.record_id} ${rule}`, rule, severity, subject: { kind: 'unit', id: unit.record_id },
  unitId: unit.record_id,
  sentence: `${unitTag(unit)}: ${what}, seen ${when}, not yet sent.`, evidence: {}, raised_at: check.checked_at,
  state: 'open', isHere: true,
});
