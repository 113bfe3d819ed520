/** What a phone does with the network: its session, what an answer changes on the phone, and its schedule. */
import { http } from '../sync/http.js';
import { createSync } from '../sync/session.js';
import { keepSyncing } from '../sync/schedule.js';
import { takeScope } from './membership.js';
import { letGo, wipePrivate } from './retention.js';

export class Online {
  /** @param {import('./phone.js').Phone} phone @param {import('../sync/session.js').Transport & {call: typeof http.call}} [transport] */
  constructor(phone, transport = http) {
    this.phone = phone;
    this.transport = transport;
    this.lastKept = '';
    /** @type {{saved: () => void}|null} */ this.schedule = null;
    this.sync = createSync({
      db: phone.store, transport, now: phone.now, random: phone.random, state: phone.syncState,
      ears: {
        person: () => phone.me?.person_id ?? null,
        etag: () => phone.pack()?.etag ?? null,
        onState: () => phone.emit('sync', null),
        onPhoto: () => phone.photoLeft(),
        onFault: (sentence) => phone.emit('fault', { sentence }),
        onReply: (reply, hasNewRecords) => this.afterSync(reply, hasNewRecords),
        onPack: (text) => this.takePack(text),
      },
    });
  }

  /** Sync by itself from now on. */
  start() {
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
    if (reply.revoked) await wipePrivate(phone.store, phone.packed.kinds((form) => form['x-privacy'] === 'open'));
    if (reply.role && !reply.revoked) await takeScope(phone, reply.role, reply.sites ?? null);
    const kept = `${reply.durable}|${Math.floor(phone.now() / 86_400_000)}`;
    const mayLetGo = kept !== this.lastKept;
    if (mayLetGo) await letGo(phone.store, phone.now());
    this.lastKept = kept;
    await phone.keepMeta({ sync: { last_ok_ms: phone.syncState.last_ok_ms, revoked: phone.syncState.revoked } });
    const before = JSON.stringify(phone.counts());
    await phone.recount();
    if (hasNewRecords || mayLetGo || reply.revoked) {
      phone.shown.forget();
      await phone.readSites();
    }
    if (hasNewRecords || reply.revoked || JSON.stringify(phone.counts()) !== before) phone.tell('change');
  }

  /** @param {string} text */
  async takePack(text) {
    await this.phone.keepMeta({ pack: text });
    this.phone.packed.read(text);
    await this.phone.readSites();
    this.phone.tell('pack');
  }
}
