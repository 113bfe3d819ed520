/**
 * Forms of walk-ups that wait on this device: kept as drafts, which go when they are saved or a day after they were
 * begun; and the device in a volunteer's hands, which shows such a form and nothing else.
 */

/** @typedef {import('../records/waivers.js').WalkUp} WalkUp */
/** @typedef {WalkUp & {_id: string, _begun_ms: number}} KeptWalkUp `_id`: of the person it will make */

export const WALK_UP = 'walk_up:';
export const WALK_UP_MS = 24 * 3_600_000;

/** @param {string} id */
const keyOf = (id) => `${WALK_UP}${id}`;

/** @param {import('./router.js').Phone} phone @returns {Promise<KeptWalkUp[]>} oldest first */
export async function waitingForms(phone) {
  const drafts = await phone.drafts();
  return drafts.filter(({ key }) => key.startsWith(WALK_UP))
    .map(({ values }) => /** @type {KeptWalkUp} */ (values)).sort((one, other) => one._begun_ms - other._begun_ms);
}

/** @param {import('./router.js').Phone} phone @param {string} id @returns {Promise<KeptWalkUp|undefined>} */
export const waitingForm = async (phone, id) => /** @type {KeptWalkUp|undefined} */ (await phone.draft(keyOf(id)));

/** @param {import('./router.js').Phone} phone @param {KeptWalkUp} form */
export const keepForm = (phone, form) => phone.keepDraft(keyOf(form._id), form,
  { untilMs: form._begun_ms + WALK_UP_MS });

/** @param {import('./router.js').Phone} phone @param {string} id */
export const dropForm = (phone, id) => phone.dropDraft(keyOf(id));

/** Four digits that the desk remembers. @param {import('./router.js').Phone} phone */
export const newNumber = (phone) => String(1000 + (parseInt(phone.random(32), 16) % 9000));

/**
 * From now on this device shows one form, also after it was switched off.
 * @param {import('./router.js').Stage} stage @param {KeptWalkUp} form @param {string} number
 */
export async function handOver(stage, form, number) {
  keepForm(stage.phone, form);
  await stage.phone.changeMe({ handed_over: { draft: form._id, number } });
  stage.reopen();
}

/** The desk has it back: its form is looked at before it is saved. @param {import('./router.js').Stage} stage */
export async function takeBack(stage) {
  const id = stage.phone.me.handed_over?.draft ?? '';
  await stage.phone.changeMe({ handed_over: null });
  const place = `#/desk/${id}`;
  if (location.hash === place) stage.reopen();
  else stage.go(place);
}
