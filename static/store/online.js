/** What a phone does with the network: its session, what an answer changes on the phone, and its schedule. */
import { counted } from '../rounding.js';
import { http, NoAnswer } from '../sync/http.js';
import { createSync, keepSyncing } from '../sync/session.js';
import { letGo, markTaken, wipePrivate } from './retention.js';
import { Refused, wasTold } from '../log/db.js';
import { lookForSpace } from './space.js';
import { dropMark, goOnAs, setMark } from './eviction.js';
import { joinedAs, openHead, siteOf } from '../log/identity.js';

/** @param {unknown} error */
const isNoAnswer = (error) => { if (!(error instanceof NoAnswer)) throw error; };

/** After a sync, and after what follows at once. */
const QUIET_MS = 3_000;

/* Joining a programme, leaving it, and what it lets this phone see. */

/**
 * Join with a code. A phone that was known before goes on with what it has.
 * @param {import('./phone.js').Phone} phone @param {Online} online @param {string} code
 * @param {string} deviceName
 */
export async function join(phone, online, code, deviceName) {
  const answer = await online.call('POST', '/api/join', { code, device_name: deviceName });
  phone.me = joinedAs(answer, phone.me);
  phone.cleared = null;
  Object.assign(phone.syncState, { needs_join: false, revoked: false, portal: false, last_error_sentence: null });
  await phone.keepMeta({ cleared: null, me: phone.me,
    sync: { last_ok_ms: phone.syncState.last_ok_ms, revoked: false } });
  setMark(phone);
  phone.tell('change');
  navigator.storage?.persist?.();
  online.sync.run().catch(wasTold);
}

/** Clear the phone; refused while anything waits. @param {import('./phone.js').Phone} phone @param {Online} online */
export async function leave(phone, online) {
  const { phone: unsent, held, photos_waiting: photos, drafts } = phone.counts();
  if (unsent + held + photos + drafts > 0) {
    throw new Refused(`Only this phone has ${counted(unsent, 'entry', 'entries')}, ${held} held, `
      + `${counted(photos, 'photo')} and ${counted(drafts, 'open form')}. Sync or export them first.`);
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

/**
 * The programme changed what this phone may see.
 * @param {import('./phone.js').Phone} phone @param {string} role @param {string[]|null} sites
 */
export async function takeScope(phone, role, sites) {
  if (!phone.me || (phone.me.role === role && JSON.stringify(phone.me.sites) === JSON.stringify(sites))) return;
  await phone.changeMe({ role, sites, site_id: siteOf(sites, phone.me.site_id) });
}

export class Online {
  /**
   * @param {import('./phone.js').Phone} phone
   * @param {import('../sync/session.js').Transport & {call: typeof http.call}} [transport]
   */
  constructor(phone, transport = http) {
    this.phone = phone;
    this.transport = transport;
    this.lastKept = '';
    /** Private entries stay here while their head count is open. */ this.isShowing = false;
    /** @type {{saved: () => void}|null} */ this.schedule = null;
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.marking = undefined;
    this.sync = createSync({
      db: phone.store, transport, now: phone.now, random: phone.random, state: phone.syncState,
      ears: {
        person: () => phone.me?.person_id ?? null,
        etag: () => phone.packed.etag(phone.me?.site_id),
        onState: () => phone.emit('sync', null),
        onPhoto: () => phone.photoLeft(),
        onFault: (sentence) => phone.emit('fault', { sentence }),
        onReply: (reply, hasNewRecords) => this.afterSync(reply, hasNewRecords),
        bringPack: () => this.bringPack(),
      },
    });
  }

  /** Sync by itself from now on. */
  start() {
    this.phone.drafts_.dropOver().catch(wasTold);
    this.schedule ??= keepSyncing(this.sync, () => this.phone.me !== null);
  }

  saved() {
    this.schedule?.saved();
  }

  /** @param {string} method @param {string} path @param {unknown} [body] */
  call(method, path, body) {
    return this.transport.call(method, path, body);
  }

  /** @param {import('../sync/exchange.js').Reply} reply @param {boolean} hasNewRecords */
  async afterSync(reply, hasNewRecords) {
    const { phone } = this;
    if (reply.revoked) {
      await wipePrivate(phone.store, phone.packed.kinds((form) => form['x-privacy'] === 'open'));
      await phone.packed.dropTray(phone.store);
      await phone.drafts_.dropOver(true);
    }
    if (reply.role && !reply.revoked) await takeScope(phone, reply.role, reply.sites ?? null);
    // While heads are counted, what the desk wrote stays where it was written; that is asked again each hour.
    const turn = () => `${reply.durable}|${Math.floor(phone.now() / (this.isShowing ? 3_600_000 : 86_400_000))}`;
    const left = turn() === this.lastKept ? null : await letGo(phone.store, phone.now());
    if (left) this.isShowing = left.isShowing;
    const hasLetGo = left?.hasHidden ?? false;
    this.lastKept = turn();
    await phone.keepMeta({ sync: { last_ok_ms: phone.syncState.last_ok_ms, revoked: phone.syncState.revoked } });
    const before = JSON.stringify(phone.counts());
    await phone.recount();
    if (hasNewRecords || hasLetGo || reply.revoked) {
      phone.shown.forget();
      await phone.readSites();
    }
    if (hasNewRecords || reply.revoked || JSON.stringify(phone.counts()) !== before) phone.tell('change');
    await lookForSpace(phone);
    const { settleAsked } = await import('./photos.js');
    await settleAsked(phone).catch(wasTold);
    clearTimeout(this.marking);
    this.marking = setTimeout(() => { markTaken(phone.store).catch(wasTold); }, QUIET_MS);
  }

  async bringPack() {
    const { phone, transport } = this;
    if (!(await phone.packed.bring(phone.store, transport.pack, phone.me?.site_id))) return;
    await phone.readSites();
    phone.tell('pack');
  }

  /**
   * A browser may clear all that scripts have stored and leave the cookie: the programme then still knows this phone.
   * It goes on as who it was, and somebody is told that what it held is not here.
   */
  async findAgain() {
    const { phone } = this;
    if (phone.me) return;
    const index = await this.transport.pack('/index?only_known=1', null).catch(isNoAnswer);
    if (!index || phone.me) return;
    await goOnAs(phone, joinedAs(JSON.parse(index).me, null));
    await this.sync.run();
  }

  /** Another site is shown: what is not here of it comes now. */
  siteShown() {
    if (!this.schedule || this.phone.packed.etag(this.phone.me?.site_id)) return;
    this.bringPack().catch((error) => { if (!(error instanceof NoAnswer)) wasTold(error); });
  }
}
