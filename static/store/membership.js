/** Joining a programme, leaving it, and what it lets this phone see. */
import { Refused, wasTold } from './faults.js';
import { openHead } from './head.js';
import { dropMark, joinedAs, setMark, siteOf } from './identity.js';

/**
 * Join with a code. A phone that was known before goes on with what it has.
 * @param {import('./phone.js').Phone} phone @param {import('./online.js').Online} online @param {string} code
 * @param {string} deviceName
 */
export async function join(phone, online, code, deviceName) {
  const answer = await online.call('POST', '/api/join', { code, device_name: deviceName });
  phone.me = joinedAs(answer, phone.me);
  phone.cleared = null;
  Object.assign(phone.syncState, { needs_join: false, revoked: false, portal: false, last_error_sentence: null });
  await phone.keepMeta({ cleared: null, me: phone.me, sync: { last_ok_ms: phone.syncState.last_ok_ms, revoked: false } });
  setMark(phone.store.name, phone.unsent());
  phone.tell('change');
  navigator.storage?.persist?.();
  online.sync.run().catch(wasTold);
}

/** Clear the phone; refused while anything waits. @param {import('./phone.js').Phone} phone @param {import('./online.js').Online} online */
export async function leave(phone, online) {
  const { phone: unsent, held, photos_waiting: photos, drafts } = phone.counts();
  if (unsent + held + photos + drafts > 0) {
    throw new Refused(`This phone still holds ${unsent} entries, ${held} held, ${photos} photos and ${drafts} open forms that only it has. Sync or export them first.`);
  }
  await online.call('POST', '/api/leave');
  const { store } = phone;
  await store.run([...(await store.connection()).objectStoreNames], 'readwrite', (tx) => {
    for (const name of tx.objectStoreNames) tx.objectStore(name).clear();
  });
  dropMark(store.name);
  phone.shown.forget();
  await openHead(store, phone.random);
  await phone.readMeta();
  await phone.tally.read();
  phone.tell('pack');
  phone.emit('change', null);
}

/** The programme changed what this phone may see. @param {import('./phone.js').Phone} phone @param {string} role @param {string[]|null} sites */
export async function takeScope(phone, role, sites) {
  if (!phone.me || (phone.me.role === role && JSON.stringify(phone.me.sites) === JSON.stringify(sites))) return;
  await phone.changeMe({ role, sites, site_id: siteOf(sites, phone.me.site_id) });
}
