/** A phone of cardboard for drawing screens: the facade's names over plain arrays, with a clock that stands still. */
import { startRouter } from '../views/router.js';
import { unpackWindows } from '../store/packed.js';
import { madePhoto } from '../store/photos.js';
import { isComplete } from '../tides/windows.js';
import { records, SITE } from './stage_records.js';

const told = new URLSearchParams(location.search);
const pack = await (await fetch('/stage_pack.json')).json();
const NOW = Date.parse(told.get('now') ?? pack.now);
let madeUp = 0;
const newId = () => `0190aaaa-0000-7000-8000-${String(++madeUp).padStart(12, '0')}`;
const tables = records(NOW, {
  site: pack.site_record, visit: told.get('visit') !== 'no', out: Number(told.get('out') ?? 12), past: told.has('past'), long: told.has('years') });
if (told.has('sites')) tables.site.push({ ...tables.site[0], record_id: '01900000-0000-7000-8000-000000000009', site_id: '01900000-0000-7000-8000-000000000009', name: 'Gannet Reach' });
if (told.has('forgotten')) tables.sign_in.push({ record_id: newId(), site_id: SITE, visit_id: null, person_id: tables.person.at(-1).record_id, in_at: new Date(NOW - 25 * 3_600_000).toISOString(), out_at: null, no_out_reason: null });
const listeners = {};
const drafts = new Map();
const originals = new Map();
/** Photos that wait for whether people can be recognized. */
const asked = [];
const tell = (event, what) => (listeners[event] ?? []).forEach((listener) => listener(what));
const isEmpty = told.get('joined') === 'empty';

const syncState = { busy: false, last_ok_ms: NOW - 3_600_000, last_error_sentence: null, portal: told.has('portal'), needs_join: told.has('unknown'), revoked: told.has('revoked'), update_app: false };
const me = told.get('joined') === 'no' ? null
  : { device_id: 'd1', role: told.get('role') ?? 'crew', sites: null, person_id: told.get('joined') === 'nobody' ? null : tables.person[0].record_id, site_id: isEmpty ? null : SITE };

const phone = {
  me, syncState, newId, idForForm: (kind, draftId) => draftId ?? newId(), now: () => NOW,
  lackingTiers: [], updateReady: told.has('update'), cleared: told.has('cleared') ? { unsent: 14 } : null, takeUpdate: () => {},
  random: (bits) => '5'.repeat(bits / 4), async changeMe(changes) { Object.assign(me, changes); tell('change'); },
  setPerson: (id) => { phone.me.person_id = id; }, setSite: (id) => { phone.me.site_id = id; },
  async write(kind, recordId, fields, { visitId = null } = {}) {
    if (told.has('full')) throw Object.assign(new Error('full'), { sentence: 'NOT SAVED. This phone has no space left. Free some space, then save again.' });
    const id = recordId ?? newId();
    window.written.push({ kind, recordId: id, fields });
    const row = (tables[kind] ??= []).find((one) => one.record_id === id);
    if (!originals.has(id)) originals.set(id, { ...(row ?? { entry_state: 'phone', created_by: me.person_id, ...fields }) });
    if (row) Object.assign(row, fields, { entry_state: 'phone' });
    else tables[kind].push({ record_id: id, site_id: SITE, visit_id: visitId, entry_state: 'phone', created_by: me.person_id, ...fields });
    tell('change');
    return { recordId: id, entryId: 'e'.repeat(32) };
  },
  async writeMany(list) {
    const before = await Promise.all(list.map(({ kind, recordId }) => phone.row(kind, recordId)));
    const written = [];
    for (const [n, one] of list.entries()) written.push({ ...await phone.write(one.kind, one.recordId, one.fields, one), before: before[n] });
    return written;
  },
  async row(kind, id) { const row = await phone.rowOrRemoved(kind, id); return row?._deleted ? undefined : row; },
  async rowOrRemoved(kind, id) { const row = isEmpty ? undefined : tables[kind]?.find((one) => one.record_id === id); return row && { ...row }; },
  async rows(kind) { return (await phone.rowsAndRemoved(kind)).filter((row) => !row._deleted); },
  async rowsAndRemoved(kind) { return isEmpty ? [] : (tables[kind] ?? []).map((row) => ({ ...row })); },
  async rowsOf(kind, of) { return (await phone.rowsOfAndRemoved(kind, of)).filter((row) => !row._deleted); },
  async rowsOfAndRemoved(kind, given) { return (await phone.rowsAndRemoved(kind)).filter((row) => [given].flat().some((of) => row[`${of.kind}_id`] === of.id || (row.of_kind === of.kind && row.of_id === of.id))); },
  async disagreements() { return []; },
  async historyOf(kind, id) {
    const made = originals.get(id) ?? (await phone.rowOrRemoved(kind, id)) ?? {};
    const { entry_state: state, created_by: by, record_id: _id, site_id: _site, visit_id: _visit, ...fields } = made;
    const first = { entryId: 'f', at_ms: NOW - 3_600_000, by: by ?? null, fields, state: state ?? 'taken', own: state !== undefined };
    return [first, ...window.written.filter((one) => one.recordId === id).map((one) => ({ entryId: 'e', at_ms: NOW, by: me.person_id, fields: one.fields, state: 'phone', own: true }))];
  },
  async draft(key) { return drafts.get(key); },
  keepDraft(key, values) { drafts.set(key, values); }, async dropDraft(key) { drafts.delete(key); },
  async drafts() { return [...drafts].map(([key, values]) => ({ key, values, at_ms: NOW })).concat(told.has('draft') ? [{ key: 'unit_check:u1', values: {}, at_ms: NOW - 600_000 }] : []); },
  madePhoto,
  async addPhoto(given, { visitId, people, ...about }) {
    const waiting = { recordId: newId(), visitId, fields: { taken_at: new Date(NOW).toISOString(), ...about, sha256: given.sha256 ?? 'a'.repeat(64) } };
    asked.push(waiting);
    if (people !== undefined) await phone.recordPhoto(waiting, people);
    return { recordId: waiting.recordId, asked: waiting };
  },
  async askedPhotos() { return asked; },
  async recordPhoto(waiting, people) {
    asked.splice(asked.indexOf(waiting), 1);
    const kind = people === false ? 'photo' : 'people_photo';
    await phone.write(kind, waiting.recordId, people ? { ...waiting.fields, recognizable: true } : waiting.fields);
    return kind;
  },
  async photoUrl() { return '/stage_photo.png'; },
  async entries({ state } = {}) { return tables.entries.filter((entry) => !state || entry.state === state); },
  counts: () => ({ phone: 14, held: told.has('held') ? 1 : 0, taken: 212, photos_waiting: 2, drafts: told.has('draft') ? 1 : 0, oldest_unsent_ms: told.has('old') ? NOW - 31 * 3_600_000 : NOW - 2 * 3_600_000 }),
  async exportFile() { return new Blob(['{}']); },
  async storage() { return { usage: 48_000_000, quota: 2_100_000_000, persisted: !told.has('old') }; },
  sites: () => tables.site ?? [],
  pack: () => (isEmpty ? { forms: pack.forms, sites: {}, programme: pack.programme } : pack),
  tides: () => pack.sites[SITE].tide,
  windows: (siteId, rowId) => !pack.sites[SITE].windows || !isComplete(pack.site_record) ? [] : unpackWindows(pack.sites[SITE].windows, rowId ?? 'site', pack.site_record).map((one) => ({ ...one, id: `w${one.lowMs}` })),
  async syncNow() {}, async join() { throw Object.assign(new Error('no'), { sentence: 'This code does not count: mistyped, used up or too old. Ask your lead for a new one.' }); },
  async leave() {}, visitId: async (site, windowId) => `visit-${windowId}`, signInId: () => newId(),
  on(event, fn) { (listeners[event] ??= []).push(fn); return () => {}; },
  async api(method, path) {
    if (path === '/api/devices') return pack.devices;
    if (path === '/api/incidents') return { incidents: pack.incidents, in_all: 345 };
    if (path === '/api/imports') return { uploads: [], imports: [], mappings: [] };
    if (path.endsWith('/held')) return pack.held_about;
    if (path.endsWith('/purge')) return { initials: 'J. O.', is_clean: true, named: pack.held_about.named, copies: pack.held_about.copies, phones: [] };
    if (path.includes('water-records')) return { records: [], readings: null };
    if (method === 'POST') return { code: 'K7QM-3XDP', link: '/#join=K7QM-3XDP', expires_at: '2026-11-28T11:14:00Z', qr_svg: pack.qr_svg };
    return [{ invitation_id: 'i1', role: 'crew', uses_left: 17, expires_at: '2026-11-28T11:14:00Z' }];
  },
};

/** A deployment day's desk: a waiver in two languages, which all but one signed; contacts of two; a form in a volunteer's hands or waiting. */
if (told.has('desk')) {
  const text = { site_id: SITE, version: '2026-03', used_from_at: '2026-03-01T12:00:00Z', keep_until: '2029-12-31' };
  tables.waiver = [{ ...text, record_id: newId(), language: 'en', paragraphs: ['I take part at my own risk, and do what the leaders say.', 'I am fit to walk on uneven ground.'] },
    { ...text, record_id: newId(), language: 'es', paragraphs: ['Participo por mi cuenta y riesgo.'] }];
  tables.site[0].spanish_form = true;
  for (const person of tables.person) person.waiver_version = person.waiver_valid ? '2026-03' : null;
  const contact = { site_id: SITE, changed_at_ms: NOW - 3_600_000, phone: '555 0100', emergency_name: 'Pat Quill', emergency_phone: '555 0101' };
  tables.person_private = [6, 7].map((n) => ({ ...contact, record_id: newId(), person_id: tables.person[n].record_id, entry_state: 'phone' }));
  const walkUp = { _id: '0190aaaa-0000-7000-8000-00000000beef', _begun_ms: NOW, language: told.get('desk') || 'en', display_name: 'Ada Quill', minor: true, guardian_name: 'Pat Quill',
    ...(told.has('done') ? { guardian_phone: '555 0101', signed_name: 'Pat Quill', signature: ['M20 60L60 20L90 70L140 40'], photos_allowed: false, is_done: true, waiver_version: '2026-03', waiver_id: tables.waiver[0].record_id } : {}) };
  if (told.has('handed') || told.has('done')) drafts.set(`walk_up:${walkUp._id}`, walkUp);
  if (told.has('handed')) me.handed_over = { draft: walkUp._id, number: '4821' };
}

/** For a page that goes through many programmes: other rows, another person, another pack of the site; told of it as a save is. */
window.stage = {
  phone,
  show(rows, who, part, told = {}) {
    for (const kind of Object.keys(tables)) delete tables[kind];
    Object.assign(tables, { entries: [], ...rows });
    Object.assign(me, who);
    Object.assign(pack, told);
    pack.sites[SITE] = part ?? { tide: null, sun: null, windows: null, sentence: null, closures: [], beds: {}, doubts: [], flags: [] };
    pack.site_record = tables.site.find((one) => one.record_id === SITE);
  },
};
phone.emit = tell;
phone.deafen = () => { for (const event of Object.keys(listeners)) delete listeners[event]; };

window.breaches = [];
window.written = [];
document.addEventListener('securitypolicyviolation', (event) => window.breaches.push(`${event.violatedDirective} ${event.blockedURI} ${event.sample}`));
await startRouter(phone, document.getElementById('screen'));
document.documentElement.dataset.ready = '';
if (told.has('fault')) tell('fault', { sentence: 'NOT SAVED. This phone has no space left. Free some space, then save again.' });
