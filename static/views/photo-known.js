/** What this phone knows that photos can be matched to: visits with their checks, units with their places. */
import { groupsOf } from '../records/joined.js';
import { fromDegrees, onGrid } from '../survey/grid.js';
import { byName, unitTag } from './names.js';
import { startOf } from './visit-sums.js';
import { endOf, idsOf, isOver, readVisits, VISIT_MS } from './visits.js';
import { msOf, turnMs } from './words.js';

const DAY_MS = 24 * 3_600_000;

/**
 * @param {import('./router.js').Phone} phone
 * @returns {Promise<{spans: import('./photo-match.js').Span[], visits: import('./visits.js').Visit[]}>} newest first
 */
export async function readSpans(phone) {
  const siteId = phone.me.site_id;
  const [{ visits, parts }, checks] = await Promise.all([readVisits(phone), phone.rows('unit_check', { siteId })]);
  /** @type {Map<string|null, typeof checks>} */ const ofVisit = new Map();
  for (const check of checks) {
    const list = ofVisit.get(check.visit_id) ?? [];
    list.push(check);
    ofVisit.set(check.visit_id, list);
  }
  const shown = groupsOf(visits).all.filter((visit) => visit.started_at)
    .sort((one, other) => turnMs(other, other.started_at) - turnMs(one, one.started_at));
  return { visits: shown, spans: shown.map((visit) => {
    const fromMs = visit.time_known === false ? turnMs(visit, visit.started_at) : startOf(visit, visits);
    const endMs = isOver(visit, visits, parts) ? endOf(visit, visits, parts) : phone.now();
    // Old data may have an end years away; a visit that says its day alone may have been at any time of it.
    const untilMs = visit.time_known === false ? fromMs + DAY_MS
      : Math.min(Math.max(fromMs, endMs), fromMs + VISIT_MS);
    return {
      id: visit.record_id, fromMs, untilMs,
      checks: [...idsOf(visit, visits)].flatMap((id) => ofVisit.get(id ?? null) ?? [])
        .flatMap(({ record_id: id, unit_id: unitId, checked_at: at, time_known: isTimed }) =>
          (unitId && at ? [{ id, unitId, ms: msOf(at) ?? 0, isTimed: isTimed !== false }] : [])),
    };
  }) };
}

/**
 * @typedef {{units: {id: string, tag: string}[], distanceTo: (unitId: string, place: {lat_deg: number, lon_deg:
 *   number}) => number|null}} Units distanceTo: metres on the site grid, null where the unit's place is not known
 * @param {import('./router.js').Phone} phone @returns {Promise<Units>}
 */
export async function readUnitPlaces(phone) {
  const siteId = phone.me.site_id;
  const [site, rows, fixes] = await Promise.all([phone.row('site', siteId), phone.rows('unit', { siteId }),
    phone.rows('position_fix', { siteId })]);
  /** @type {Map<string, [number, number]>} */ const places = new Map();
  for (const unit of rows) {
    if (typeof unit.planned_east_m === 'number' && typeof unit.planned_north_m === 'number')
      places.set(unit.record_id, [unit.planned_east_m, unit.planned_north_m]);
  }
  const oldestFirst = fixes.sort((one, other) => turnMs(one, one.fixed_at) - turnMs(other, other.fixed_at));
  for (const fix of oldestFirst.map((each) => onGrid(each, site))) {
    if (fix.of_kind === 'unit' && typeof fix.east_m === 'number' && typeof fix.north_m === 'number')
      places.set(fix.of_id ?? '', [fix.east_m, fix.north_m]);
  }
  const { lat_deg, lon_deg } = site ?? {};
  return {
    units: rows.map((unit) => ({ id: unit.record_id, tag: unitTag(unit) }))
      .sort((one, other) => byName(one.tag, other.tag)),
    distanceTo(unitId, place) {
      const known = places.get(unitId);
      if (!known || typeof lat_deg !== 'number' || typeof lon_deg !== 'number') return null;
      const [east, north] = fromDegrees({ lat_deg, lon_deg, grid_azimuth_deg: site?.grid_azimuth_deg }, place.lat_deg,
        place.lon_deg);
      return Math.hypot(east - known[0], north - known[1]);
    },
  };
}
