/** Where one record is looked at: on a screen of its own, or in the set-up. */

/** Kinds of readings at fixed places and on units, as fieldlog/records/own_field.py lists them. */
export const READINGS = ['stake_reading', 'table_reading', 'horizon_reading', 'level_run', 'rod_profile',
  'cover_reading', 'edge_reading', 'settlement_count', 'water_reading'];
/** Those of which each is a reading of a plot. */
export const OF_PLOTS = READINGS.filter((kind) => kind !== 'settlement_count');
/** What was seen or done. A phone's part of a visit stays, since it says that the phone was on it. */
const HERE = ['unit_check', 'unit_event', 'position_fix', 'sighting', 'sign_in', 'visit', 'photo', 'people_photo',
  'person', 'level_word', 'flag_decision', 'plot_event', 'preparation', 'mileage', 'award_hours', 'hours_signed',
  'method_note', ...READINGS];
/** What has its screen under Set-up. */
const SET_UP = ['site', 'closure', 'datum_offset', 'row', 'control_mark', 'unit_design', 'casting_batch', 'unit',
  'plot', 'instrument', 'own_field', 'species', 'person', 'award', 'rate'];

/**
 * Whether a record of this kind has its screen here.
 * @param {import('./router.js').Phone} phone @param {string} kind
 */
export const hasScreen = (phone, kind) => Boolean(phone.pack()?.forms?.kinds?.[kind]) && HERE.includes(kind);

/**
 * Where one record is looked at, corrected and removed.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string|null} id @returns {string|null}
 */
export function placeOfRecord(phone, kind, id) {
  if (id && phone.me?.role === 'lead' && SET_UP.includes(kind)) return `#/set-up/${kind}/${id}`;
  if (id && kind === 'plot') return `#/plots/${id}`;
  return id && hasScreen(phone, kind) ? `#/record/${kind}/${id}` : null;
}
