/** Invented records of Alder Spit for drawing screens: 48 units in four rows, checks, people, a visit that runs. */
export const SITE = '01900000-0000-7000-8000-000000000001';
export const VISIT = '01900000-0000-7000-8000-000000000002';
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const NAMES = ['Ines Calder', 'Tobias Wren', 'Ruth Okafor-Lind', 'Sam Petrel', 'Noor Halim', 'Lev Marsh', 'Ada Quill', 'Bo Sandvik', 'Mei Tarn', 'Joss Fenn', 'Pia Holm', 'Dov Sedge', 'Uma Reed', 'Kit Brack', 'Yara Dune', 'Olu Shoal', 'Tess Ebb', 'Finn Loam'];

const iso = (ms) => new Date(ms).toISOString().replace('.000Z', 'Z');
const id = (group, n) => `0190${group}-0000-7000-8000-${String(n).padStart(12, '0')}`;
const own = (record) => ({ site_id: SITE, visit_id: null, ...record });

function units(rows) {
  return rows.flatMap((row, r) => Array.from({ length: 12 }, (_, n) => own({
    record_id: id('0001', r * 12 + n), tag: `${row.name}${String(n + 1).padStart(2, '0')}${(r * 3 + n * 7) % 10}`, design_id: id('0003', 0), row_id: row.record_id,
    slot_number: n + 1, planned_east_m: 4 + n * 2.5, planned_north_m: 6 + r * 3,
  })));
}

function checks(all, now, visitOn) {
  const list = [];
  all.forEach((unit, n) => {
    for (const back of [44, 14]) {
      list.push(own({
        record_id: id('0005', n * 10 + back), unit_id: unit.record_id, checked_at: iso(now - back * DAY_MS), created_by: id('0006', 0), visit_id: `old-${back}`,
        found_state: n === 40 ? 'not_found_dry' : n === 37 ? 'probed' : 'seen', exposed_height_mm: n === 37 || n === 40 ? null : 300 - (n % 5) * 18 - (44 - back),
        tilt_deg: n === 39 ? 17 : 3 + (n % 6), ...(n === 34 ? { lost_volume_pct: 15, chip_depth_mm: 60 } : {}),
      }));
    }
    if (visitOn && n >= 36 && n < 38) list.push(own({ record_id: id('0007', n), unit_id: unit.record_id, visit_id: VISIT, checked_at: iso(now - (50 - n) * 60_000), created_by: id('0006', 0), found_state: n === 37 ? 'probed' : 'seen', exposed_height_mm: n === 37 ? null : 265, tilt_deg: 4, entry_state: n === 36 ? 'taken' : 'phone' }));
  });
  return list;
}

function entries(now) {
  const fields = { unit_id: id('0001', 3), checked_at: iso(now - HOUR_MS), found_state: 'seen', exposed_height_mm: 265, tilt_deg: 9 };
  const made = (n, kind, state, of, more = {}) => ({ lane: 'a'.repeat(32), n, entryId: String(n).padStart(32, '0'), kind, recordId: id('0008', n), at_ms: now - n * 240_000, state, fields: of, visitId: VISIT, ...more });
  return [
    made(1, 'unit_check', 'phone', fields), made(2, 'unit_check', 'phone', fields), made(3, 'sighting', 'phone', { taxon: 'Dog whelk', found: 'seen', count: 6, seen_at: iso(now - HOUR_MS) }),
    made(4, 'unit_check', 'held', { ...fields, exposed_height_mm: 5000 }, { why: 'beyond-limit:exposed_height_mm', sentence: 'Exposed height is 5000 mm; it must be between 0 and 3000 mm. Was the decimal point left out?' }),
    made(5, 'sign_in', 'taken', { person_id: id('0006', 1), in_at: iso(now - HOUR_MS) }), made(6, 'visit', 'taken', { purpose: 'monitoring', started_at: iso(now - HOUR_MS) }),
  ];
}

/** A visit of two weeks ago, and one of the year before. */
const PAST = [[3, 14.09], [4, 400.1]];
const pastId = (n) => `01900000-0000-7000-8000-00000000000${n}`;
const pastVisits = (now) => PAST.map(([n, days]) => own({
  record_id: pastId(n), purpose: 'storm_check', started_at: iso(now - days * DAY_MS), ended_at: iso(now - days * DAY_MS + 2 * HOUR_MS),
  leader_id: id('0006', 0), conditions: 'Showers, wind along the shore', briefing_done: true, level_datum: 'MLLW',
  observed_level_m: n === 3 ? 0.42 : null, observed_at: n === 3 ? iso(now - days * DAY_MS + HOUR_MS) : null,
}));
const pastSignIns = (now) => PAST.flatMap(([n, days]) => Array.from({ length: 8 }, (_, place) => own({
  record_id: id('00f0', n * 100 + place), person_id: id('0006', place), in_at: iso(now - days * DAY_MS + place * 120_000), visit_id: pastId(n),
  out_at: place === 2 ? null : iso(now - days * DAY_MS + 2 * HOUR_MS - place * 300_000), no_out_reason: place === 2 ? 'Drove home' : null,
})));

/** Ten years of one unit: monthly checks with a winter left out, looks, a storm, tapes of two epochs, photos. */
function years(now, unit) {
  const of = (n, days, record) => own({ record_id: id('0011', n), created_by: id('0006', n % 3), visit_id: null, ...record(iso(now - days * DAY_MS)) });
  const months = Array.from({ length: 120 }, (_, n) => n).filter((n) => n % 12 < 9 || n > 100);
  const looks = [26, 50, 62].map((n) => n * 30.4);
  const checks = months.map((n) => of(n, n * 30.4 + 20, (at) => ({
    unit_id: unit.record_id, checked_at: at, found_state: n === 70 ? 'not_found_dry' : 'seen', ...(n === 70 ? {} : {
      exposed_height_mm: n > 40 ? 430 - (n % 4) * 6 - (119 - n) * 0.5 : 395 - (n % 3) * 5, tilt_deg: n === 41 ? 19 : 3 + (n % 4),
      ...(n % 2 ? {} : { crest_level_mm: 1060 - (119 - n) * 0.6, crest_datum: n > 60 ? 'mark M1' : 'mark M2' }), ...(n < 30 ? { scour_depth_mm: 20 + (n % 5) * 4 } : {}) }),
    ...(n === 50 ? { time_known: false } : {}) })));
  const event = (n, days, name, note) => of(n, days, (at) => ({ unit_id: unit.record_id, event: name, event_at: at, note }));
  const photo = (n, days) => of(n, days, (at) => ({ of_kind: 'unit', of_id: unit.record_id, sha256: String(n).slice(-1).repeat(64), shows: 'From the north mark', taken_at: at }));
  return {
    unit_check: [...checks, ...looks.map((days, n) => of(300 + n, days, (at) => ({ unit_id: unit.record_id, checked_at: at, found_state: 'seen', looked_only: true })))],
    unit_event: [event(400, 3650, 'placed', null), event(401, 1230, 'righted', 'Four people, level bed made under it'), event(402, 700, 'cleaned', null)],
    photo: [3600, 2400, 1240, 1200, 400, 20].map((days, n) => photo(500 + n, days)),
    position_fix: Array.from({ length: 12 }, (_, n) => of(600 + n, 30 + n * 100, (at) => ({ of_kind: 'unit', of_id: unit.record_id, fixed_at: at,
      method: 'typed', east_m: 19 + (n === 0 ? 0.31 : (n % 3) * 0.02), north_m: 9 + (n === 0 ? 0.08 : (n % 4) * 0.015), sigma_m: 0.02 }))),
  };
}

/** Ten stakes that are read together, a marsh plot, a transect and a photo point: what is due, and what is not. */
const PLOTS = [...Array.from({ length: 10 }, (_, n) => ({ label: `C${n + 1}`, plot_type: 'stake', set_label: 'Stakes C', treatment: 'treatment', read_every_days: 30 })),
  { label: 'Q1', plot_type: 'quadrat', treatment: 'control', read_every_days: 90, grid_points: 50, area_m2: 0.25 }, { label: 'T1', plot_type: 'transect', treatment: 'treatment', azimuth_deg: 120 },
  { label: 'P1', plot_type: 'photo_point', in_frame: 'Row A from the north mark', azimuth_deg: 95, camera_height_m: 1.5, read_every_days: 180 }];
const LAST_MM = [212, 198, 221, 205, 217, 209, 230, 196, 224, 203];
function readings(now) {
  const at = (n, days, more) => own({ record_id: id('0021', n * 10 + days), plot_id: id('0020', n), read_at: iso(now - days * DAY_MS), created_by: id('0006', n % 3), visit_id: `old-${days}`, ...more });
  return {
    plot: PLOTS.map((plot, n) => own({ record_id: id('0020', n), ...plot })),
    plot_event: [own({ record_id: id('0022', 1), plot_id: id('0020', 0), event: 'set', event_at: iso(now - 400 * DAY_MS), note: 'Rod driven 1.8 m into firm ground' })],
    stake_reading: LAST_MM.flatMap((mm, n) => [at(n, 34, { exposed_mm: mm, scour_ring: n === 6 }), at(n, 90, { exposed_mm: mm + 5 })]),
    cover_reading: [at(10, 60, { cover_method: 'points', points_read: 50, cover: [{ species_id: id('000e', 6), hits: 31 }, { surface: 'bare', hits: 19 }], stems: 42, stems_area_m2: 0.0625 })],
    edge_reading: [at(11, 80, { shore_line: 'marsh_edge', distance_m: 12.4, uncertainty_m: 0.2 })],
  };
}

export function records(now, { site, visit, out, past = false, long = false }) {
  const rows = ['A', 'B', 'C', 'D'].map((name, n) => own({ record_id: id('0002', n), name, order_number: n + 1, bed_level_m: [0.75, 0.6, 0.45, 0.3][n] }));
  const all = units(rows);
  const person = NAMES.map((display_name, n) => own({ record_id: id('0006', n), display_name, role: n === 0 || n === 9 ? 'leader' : n < 6 ? 'student' : 'volunteer', minor: n === 7 ? null : n % 5 === 4, waiver_valid: n !== 14 }));
  const told = long ? years(now, all[18]) : {};
  const fix = (n, days, more) => own({ record_id: id('0009', n), of_kind: 'unit', of_id: all[18].record_id, fixed_at: iso(now - days * DAY_MS), tape_sigma_m: 0.02, ...more });
  return {
    site: [{ site_id: SITE, ...site }],
    row: rows, unit: all, person,
    unit_design: [{ record_id: id('0003', 0), name: 'Block 450', height_mm: 450, footprint_mm: 500, mass_kg: 62 }],
    casting_batch: [own({ record_id: id('0004', 0), label: 'Spring batch', cast_on: '2025-03-04', design_id: id('0003', 0) })],
    control_mark: [['North', 0, 20], ['South', 20, 0], ['Ramp', 0, 0], ['Post', 34, 12]].map(([label, east_m, north_m], n) => own({ record_id: id('000a', n), label, east_m, north_m, sigma_m: 0.01 })),
    ...readings(now), unit_check: [...checks(all, now, visit), ...told.unit_check ?? []], unit_event: told.unit_event ?? [own({ record_id: id('000b', 1), unit_id: all[18].record_id, event: 'placed', event_at: iso(now - 400 * DAY_MS) })],
    position_fix: told.position_fix ?? [fix(1, 14, { method: 'typed', east_m: 19.31, north_m: 9.08, sigma_m: 0.02 }), fix(2, 390, { method: 'typed', east_m: 19.0, north_m: 9.0, sigma_m: 0.02 })],
    photo: told.photo ?? [own({ record_id: id('000c', 1), of_kind: 'unit', of_id: all[18].record_id, sha256: 'a'.repeat(64), shows: 'From the north mark', taken_at: iso(now - DAY_MS) })],
    visit: [...(past ? pastVisits(now) : []), ...(visit ? [own({ record_id: VISIT, visit_id: VISIT, purpose: 'monitoring', window_id: 'w', started_at: iso(now - HOUR_MS), leader_id: id('0006', 0), observed_level_m: null, briefing_done: true })] : [])],
    sign_in: [...(past ? pastSignIns(now) : []), ...(visit ? Array.from({ length: out }, (_, n) => own({ record_id: id('000d', n), person_id: person[n].record_id, sign_in_role: person[n].role, in_at: iso(now - HOUR_MS + n * 60_000), visit_id: VISIT, briefing_heard: n !== 3, entry_state: n < 6 ? 'taken' : 'phone' })) : [])],
    species: [['Semibalanus balanoides', 'Rock barnacle'], ['Littorina littorea', 'Common periwinkle'], ['Mytilus edulis', 'Blue mussel'], ['Carcinus maenas', 'Shore crab'], ['Crassostrea virginica', 'Eastern oyster'], ['Larus argentatus', 'Herring gull'], ['Spartina alterniflora', 'Smooth cordgrass'], ['Ascophyllum nodosum', 'Knotted wrack'], ['Nucella lapillus', 'Dog whelk']].map(([scientific_name, common_name], n) => ({ record_id: id('000e', n), scientific_name, common_name, group: { 5: 'bird', 6: 'plant', 7: 'alga' }[n] ?? 'invertebrate' })),
    sighting: [own({ record_id: id('000f', 1), species_id: id('000e', 3), found: 'looked_for_none', seen_at: iso(now - HOUR_MS), entry_state: 'phone' }), own({ record_id: id('000f', 2), species_id: id('000e', 2), found: 'seen', count: 40, seen_at: iso(now - 20 * DAY_MS) })],
    flag_decision: long ? [own({ record_id: id('0012', 1), flag_id: '6'.repeat(32), decision: 'accepted', reason: 'The chip is old and does no harm', decided_at: iso(now - 8 * DAY_MS), created_by: id('0006', 0) })] : [], entries: entries(now),
  };
}
