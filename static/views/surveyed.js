/**
 * From a unit's records to what its positions are read with: marks, tapes of the site, the least shift that matters.
 */
import { leastShift, surveys } from './readings.js';
import { onGrid } from '../survey/grid.js';

/**
 * What a unit's positions are read with.
 * @param {import('./router.js').Stage} stage
 * @param {{unit: any, design: any, site: any, marks: any[], visits: any[], fixes: any[], events: any[]}} rows
 * @returns {import('./readings.js').Surveyed}
 */
export function surveyedOf({ phone, zone }, { unit, design, site, marks, visits, fixes, events }) {
  const isPlanned = typeof unit?.planned_east_m === 'number' && typeof unit?.planned_north_m === 'number';
  return {
    marks, events, fixes: fixes.map((fix) => onGrid(fix, site)),
    azimuthDeg: site?.grid_azimuth_deg ?? 0, surveyOf: surveys(visits, zone),
    planned: isPlanned ? { east_m: unit.planned_east_m, north_m: unit.planned_north_m } : null,
    scale: phone.pack()?.sites?.[phone.me.site_id ?? '']?.tape_scale ?? null, leastShiftM: leastShift(site, design),
  };
}
