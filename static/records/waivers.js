/**
 * Which waiver a site uses now, who has signed it, and what a walk-up form still lacks. Pure.
 *
 * @typedef {import('./rows.js').Waiver} Waiver
 * @typedef {{version: string, texts: Map<string, Waiver>}} InUse texts: by language
 */

/**
 * The version that was put in use last, in each language that it was written in.
 * @param {Waiver[]} waivers of the site @param {number} nowMs @returns {InUse|null} null where there is none
 */
export function waiverInUse(waivers, nowMs) {
  const fromMs = (/** @type {Waiver} */ waiver) => Date.parse(waiver.used_from_at ?? '');
  const [newest] = waivers.filter((waiver) => waiver.version && waiver.paragraphs?.length && fromMs(waiver) <= nowMs)
    .sort((one, other) => fromMs(other) - fromMs(one) || (one.record_id < other.record_id ? -1 : 1));
  if (!newest?.version) return null;
  const texts = new Map(waivers.filter((waiver) => waiver.version === newest.version
      && waiver.paragraphs?.length)
    .map((waiver) => [waiver.language ?? 'en', waiver]));
  return { version: newest.version, texts };
}

/**
 * Whether somebody signed the version in use. Where a site has no waiver text, a lead's word that one is valid counts.
 * @param {{waiver_valid?: boolean|null, waiver_version?: string|null}} person @param {InUse|null} inUse
 */
export const hasCurrentWaiver = (person, inUse) => person.waiver_valid === true
  && (!inUse || person.waiver_version === inUse.version);

/**
 * A walk-up's form as it is typed; `person_id` where somebody known signs a waiver.
 * @typedef {{person_id?: string, display_name?: string, minor?: boolean, phone?: string, emergency_name?: string,
 *   emergency_phone?: string, guardian_name?: string, guardian_phone?: string, medical_note?: string,
 *   signed_name?: string, signature?: string[], by_name_only?: boolean, photos_allowed?: boolean, language?: string,
 *   is_done?: boolean, waiver_id?: string, waiver_version?: string}} WalkUp
 */

const isBlank = (/** @type {string|undefined} */ text) => !text?.trim();

/**
 * What a form lacks before it can be saved: the field, and the key of its sentence. A minor needs a guardian, by name
 * and phone, who signs; an adult on site is asked for at the desk, which knows who is.
 * @param {WalkUp} form @param {boolean} hasText whether there is a waiver to sign
 * @returns {{field: string, key: string}[]}
 */
export function lackingOf(form, hasText) {
  const lacks = [];
  if (isBlank(form.display_name)) lacks.push({ field: 'display_name', key: 'lacksName' });
  if (typeof form.minor !== 'boolean') lacks.push({ field: 'minor', key: 'lacksMinor' });
  if (form.minor) {
    if (isBlank(form.guardian_name)) lacks.push({ field: 'guardian_name', key: 'lacksGuardianName' });
    if (isBlank(form.guardian_phone)) lacks.push({ field: 'guardian_phone', key: 'lacksGuardianPhone' });
  }
  if (hasText) {
    if (isBlank(form.signed_name))
      lacks.push({ field: 'signed_name', key: form.minor ? 'lacksGuardianSigned' : 'lacksSignedName' });
    if (!form.signature?.length && !form.by_name_only) lacks.push({ field: 'signature', key: 'lacksDrawing' });
  }
  if (hasText && typeof form.photos_allowed !== 'boolean') lacks.push({ field: 'photos_allowed', key: 'lacksPhotos' });
  return lacks;
}
