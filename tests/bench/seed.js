async ([code, count]) => {
  const { openPhone } = await import('/store/phone.js');
  globalThis.phone = await openPhone({ now: () => Date.now() });
  await phone.join(code, 'bench');
  await phone.syncNow();
  const me = phone.newId();
  await phone.write('person', me, { display_name: 'Ines Calder', role: 'leader', minor: false }, { siteId: null });
  await phone.setPerson(me);
  const site = phone.newId();
  await phone.write('site', site, {
    name: 'Alder Spit', lat_deg: 42.3, lon_deg: -71, zone: 'America/New_York', tide_station: 'noaa/8443970', level_datum: 'MLLW',
    work_level_m: 0.5, route_low_level_m: 0.9, walk_out_min: 10, muster_min: 5, least_usable_min: 40, grid_azimuth_deg: 0,
  }, { siteId: site });
  await phone.setSite(site);
  await phone.syncNow();
  const list = [];
  const add = (kind, fields) => { const recordId = phone.newId(site); list.push({ kind, recordId, fields, siteId: site }); return recordId; };
  const ago = (i, ms) => new Date(Date.now() - i * ms).toISOString();
  const rows = [1, 2, 3, 4].map((n) => add('row', { name: 'ABCD'[n - 1], order_number: n, bed_level_m: -0.1 * n, level_datum: 'MLLW' }));
  const design = add('unit_design', { name: 'Low block', height_mm: 450, footprint_mm: 600 });
  const units = Array.from({ length: 48 }, (_, i) => add('unit', { tag: `U${i}`, design_id: design, row_id: rows[i % 4], slot_number: Math.floor(i / 4) + 1, planned_east_m: i, planned_north_m: 2 }));
  for (let i = 0; i < 40; i++) add('person', { display_name: `Person ${i}`, role: 'student', minor: false });
  for (let i = 0; i < 60; i++) add('visit', { purpose: 'monitoring', started_at: ago(i + 3, 864e5), ended_at: ago(i + 2.9, 864e5) });
  while (list.length < count) {
    const i = list.length;
    if (i % 10 < 6) add('unit_check', { unit_id: units[i % 48], checked_at: ago(i, 36e5), found_state: 'seen', body_grade: 0, exposed_height_mm: 300 + (i % 50), tilt_deg: i % 9, note: `a short note ${i}` });
    else if (i % 10 < 8) add('sighting', { found: 'seen', taxon: 'Rockweed', count: i % 7, seen_at: ago(i, 36e5) });
    else add('sign_in', { person_id: me, sign_in_role: 'student', in_at: ago(i, 36e5), out_at: ago(i - 0.5, 36e5) });
  }
  // One unit has ten years behind it: a check a month with three measures, tapes or a receiver twice a year, work, photos.
  const month = 30.44 * 864e5;
  for (let i = 0; i < 120; i++) add('unit_check', { unit_id: units[0], checked_at: ago(i + 0.5, month), found_state: 'seen', exposed_height_mm: 400 - (i % 20), tilt_deg: i % 9,
    crest_level_mm: 1000 + i / 2, crest_datum: 'mark M1', scour_depth_mm: i % 30 });
  for (let i = 0; i < 20; i++) add('position_fix', { of_kind: 'unit', of_id: units[0], fixed_at: ago(6 * i + 1, month), method: 'typed', east_m: (i % 5) / 50, north_m: 2 + (i % 4) / 50, sigma_m: 0.02 });
  for (const [i, event] of ['righted', 'cleaned', 'placed'].entries()) add('unit_event', { unit_id: units[0], event, event_at: ago(60 * i + 1, month) });
  for (let i = 0; i < 24; i++) add('photo', { of_kind: 'unit', of_id: units[0], taken_at: ago(5 * i + 0.5, month), sha256: i.toString(16).padStart(64, '0'), bytes: 300_000, media_type: 'image/jpeg' });
  for (let i = 0; i < list.length; i += 100) await phone.writeMany(list.slice(i, i + 100));
  await phone.syncNow();
  if (phone.counts().phone || phone.counts().held) throw new Error('the seed was not taken');
  // A phone comes to years of lines in years: what it does when nobody waits is over long before somebody taps.
  const { markTaken } = await import('/store/retention.js');
  await markTaken(phone.store);
  return { units, site };
}
