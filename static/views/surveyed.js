/**
 * From a unit's records to what its positions are read with: marks, tapes of the site, the least shift that matters.
 */
import { leastShift, surveys } from './readings.js';
import { onGrid } from '../survey/grid.js';

/**
 * What a unit's positions are read with.
 * @param {import('./router.js').Stage} stage
 * @param {{unit?: import('../records/rows.js').Unit|null, design?: import('../records/rows.js').UnitDesign|null,
 *   site?: import('../records/rows.js').Site|null, marks: import('../records/rows.js').ControlMark[],
 *   visits: import('../records/rows.js').Visit[], fixes: import('./readings.js').Fix[],
 *   events: import('../records/rows.js').UnitEvent[]}} rows
 * @returns {import('./readings.js').Surveyed}
 */
export function surveyedOf({ phone, zone }, { unit, design, site, marks, visits, fixes, events }) {
  const [east_m, north_m] = [unit?.planned_east_m, unit?.planned_north_m];
  return {
    marks, events, fixes: fixes.map((fix) => onGrid(fix, site)),
    azimuthDeg: site?.grid_azimuth_deg ?? 0, surveyOf: surveys(visits, zone),
    planned: typeof east_m === 'number' && typeof north_m === 'number' ? { east_m, north_m } : null,
    scale: phone.pack()?.sites?.[phone.me.site_id ?? '']?.tape_scale ?? null, leastShiftM: leastShift(site, design),
  };
}
