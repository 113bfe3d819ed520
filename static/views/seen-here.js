/**
 * What this phone's own checks raise before they are sent: told at once, since a flag of the programme comes with a
 * later sync.
 */
import { unitTag } from './names.js';
import { tellsMeasures } from './unit-facts.js';
import { day, localDay, msOf } from './words.js';
import { raisedBy } from '../survey/raised.js';

/**
 * @param {import('./router.js').Phone} phone @param {any} site its row @param {string} zone
 * @returns {Promise<any[]>} as the flags of the pack, with `isHere`; their sentence says that they are not sent
 */
export async function seenHere(phone, site, zone) {
  const unsent = phone.me ? phone.counts().phone : 0;
  if (!unsent) return [];
  const entries = await phone.entries({ state: 'phone', limit: unsent });
  const ids = [...new Set(entries.filter((entry) => entry.kind === 'unit_check')
    .map((entry) => entry.recordId))];
  const rows = (await Promise.all(ids.map((id) => phone.row('unit_check',
    /** @type {string} */ (id))))).flatMap((check) => (check?.checked_at && tellsMeasures(check) ? [check] : []));
  /** @type {Map<string, any[]>} */ const ofUnit = new Map();
  for (const check of rows) {
    const unitId = check.unit_id ?? '';
    ofUnit.set(unitId, [...(ofUnit.get(unitId) ?? []), check]);
  }
  const flags = await Promise.all([...ofUnit].map(async ([unitId, checks]) => {
    const unit = await phone.row('unit', unitId);
    if (unit?.site_id !== phone.me.site_id) return [];
    const design = await phone.row('unit_design', unit.design_id);
    checks.sort((one, other) => (msOf(one.checked_at) ?? 0) - (msOf(other.checked_at) ?? 0));
    return raisedBy(checks, { height_mm: design?.height_mm, lean_look_deg: site?.lean_look_deg })
      .map((raised) => flagOf(unit, raised, localDay(msOf(raised.check.checked_at) ?? 0, zone) === localDay(phone.now(),
        zone) ? 'today' : day(msOf(raised.check.checked_at) ?? 0, zone)));
  }));
  return flags.flat().sort((one, other) => one.severity.localeCompare(other.severity));
}

/** @param {any} unit @param {import('../survey/raised.js').Raised} raised @param {string} when */
const flagOf = (unit, { rule, severity, what, check }, when) => ({
  flag_id: `here ${unit.record_id} ${rule}`, rule, severity, subject: { kind: 'unit', id: unit.record_id },
  unitId: unit.record_id,
  sentence: `${unitTag(unit)}: ${what}, seen ${when}, not yet sent.`, evidence: {}, raised_at: check.checked_at,
  state: 'open', isHere: true,
});
