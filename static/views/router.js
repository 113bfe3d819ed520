/** From the hash to a screen: loads its module, draws it in the frame, keeps focus and redraws on change. */
import { render } from '../vendor/lit-html-3.3.3/lit-html.js';
import { Alarm } from './alarm.js';
import { keepFocus } from './focus.js';
import { frame, NOT_SAVED, told } from './frame.js';
import { keepUnits } from './line-ends.js';
import { inDeviceWords } from './marks.js';
import { nothingYet } from './no-site.js';
import { chosenRow, listenToKeys, Pairs } from './pairs.js';
import { hasUse } from './roles.js';
import { zoneOf } from './shore.js';
import { readSettings } from './shows.js';
import { loaded, withServer } from './tiers.js';
import { wroteAlone } from './undo.js';

/** @typedef {import('./shows.js').Settings} Settings */

/**
 * What a screen gives back to be drawn. Every part is called at each redraw.
 * @typedef {{title: () => string, where?: () => unknown, aside?: () => unknown, back?: string, body: () => unknown,
 *   foot?: () => unknown, refresh?: () => Promise<void>, close?: () => void, narrow?: boolean, alone?: boolean, first?:
 *   () => string|null, beside?: string, named?: () => string}} Screen alone: no way leads from it; first: of a list,
 *   the record that stands beside it
 *   while none is chosen; beside: the list that stands beside the record `named`
 *
 * @typedef {import('../store/phone.js').Joined} Phone
 * @typedef {import('../store/phone.js').Phone} AnyPhone one that may be of no programme yet
 *
 * What a screen is given.
 * @typedef {{phone: Phone, params: string[], zone: string, settings: Settings, alarm: Alarm, redraw: () => void, say:
 *   (sentence: string, undo?: () => Promise<unknown>) => void, refuse: (sentence: string) => void, unsay: () => void,
 *   justSaved: (id: string) => import('./marks.js').JustSaved|null, reopen: () => void, go: (hash: string) => void,
 *   saving: (work: () => Promise<unknown>) => Promise<boolean>, isSecondTap: () => boolean, stations: () =>
 *   Promise<typeof import('../online/stations.js')|null>, chosen?: () => string|null}} Stage `refuse`: says what must
 *   be put right first, and `unsay` takes that away once somebody does so; `justSaved`: of a record, whether its row
 *   says so; `stations`: what finds a site's place, null where the server is away; `chosen`: of a list that has a
 *   record beside it, which one
 */

const TICK_MS = 5_000;
const TOLD_MS = 5_000;
/** What can be taken back stays longer, and for as long as its button is held by the focus. */
const UNDO_MS = 10_000;
/** A cold finger taps twice; the second tap must not hit what has just come under it. */
const DOUBLE_TAP_MS = 350;

/** @type {Record<string, () => Promise<{view: (stage: Stage) => Promise<Screen>}>>} */
export const SCREENS = {
  today: () => import('./today.js'),
  visit: () => import('./visit.js'),
  visits: () => import('./past-visits.js'),
  'past-visit': () => import('./past-visit.js'),
  'correct-visit': () => import('./correct-visit.js'),
  people: () => import('./people.js'),
  desk: () => import('./desk.js'),
  'walk-up': () => import('./walk-up.js'),
  'count-heads': () => import('./count-heads.js'),
  person: () => import('./person.js'),
  units: () => import('./units.js'),
  'unit-history': () => import('./unit-history.js'),
  'unit-check': () => import('./unit-check.js'),
  sighting: () => import('./sighting.js'),
  record: () => import('./record.js'),
  'low-tides': () => import('./low-tides.js'),
  flags: () => import('./flags.js'),
  flag: () => import('./flag.js'),
  phone: () => import('./this-phone.js'),
  settings: () => import('./settings.js'),
  'set-up': () => import('./set-up.js'),
  'turn-back': () => import('./turn-back.js'),
  plan: () => import('./plan.js'),
  plots: () => import('./plots.js'),
  plot: () => import('./plot.js'),
  stakes: () => import('./stakes.js'),
  'plot-reading': () => import('./plot-reading.js'),
  sheet: () => import('./sheet.js'),
  'add-photos': () => import('./add-photos.js'),
  access: () => withServer(import('../online/access.js')),
  'plan-making': () => withServer(import('../online/plan-making.js')),
  data: () => withServer(import('../online/data.js')),
  'site-tide': () => withServer(import('../online/site-tide.js')),
  held: () => withServer(import('../online/held.js')),
  'bring-in': () => withServer(import('../online/bring-in.js')),
  hours: () => withServer(import('../online/hours.js')),
  'own-hours': () => import('./own-hours.js'),
  closing: () => withServer(import('../online/closing.js')),
  join: () => import('./join.js'),
};
/** Screens of one record, by the list that it is opened from. @type {Record<string, string>} */
const OPENED_FROM = { visits: 'past-visit', flags: 'flag', people: 'person' };
/** What shows a record to who may not write of it. */
const INSTEAD = { 'unit-check': 'unit-history', stakes: 'plot', 'plot-reading': 'plot' };
const WITHOUT_SITE = ['join', 'phone', 'settings', 'set-up', 'access', 'data'];

/**
 * @param {string} hash such as #/units/<id>/check or #join=CODE @returns {{name: string, params: string[]}}
 */
export function screenOf(hash) {
  const invited = hash.match(/^#join=(.*)$/);
  if (invited) return { name: 'join', params: [decodeURIComponent(invited[1])] };
  const [name, ...params] = hash.replace(/^#\/?/, '').split('/').map(decodeURIComponent);
  if (name === 'units' && params.length) {
    return { name: params[1] === 'check' ? 'unit-check' : 'unit-history', params };
  }
  if (name === 'plots' && params.length) {
    return { name: params[1] === 'stakes' ? 'stakes' : params[1] ? 'plot-reading' : 'plot', params };
  }
  if (name === 'visits' && params[1] === 'correct') return { name: 'correct-visit', params };
  if (params.length && Object.hasOwn(OPENED_FROM, name)) return { name: OPENED_FROM[name], params };
  return { name: Object.hasOwn(SCREENS, name) ? name : 'today', params };
}

/**
 * Where somebody is sent who may not see a screen yet: first join, then say who you are, then the site's data. Who may
 * write nothing has no name to say, and who has no use for a screen sees Today.
 * @param {AnyPhone} phone @param {{name: string, params: string[]}} wanted
 */
export function allowed(phone, wanted) {
  const me = phone.me;
  // In a volunteer's hands: nothing but that form.
  if (me?.handed_over) return { name: 'walk-up', params: [] };
  if (wanted.name === 'walk-up') return { name: 'today', params: [] };
  if (wanted.name === 'phone' || wanted.name === 'settings') return wanted;
  if (!me) return { name: 'join', params: wanted.name === 'join' ? wanted.params : [] };
  if (me.role === 'reader' && wanted.name === 'join') return { name: 'today', params: [] };
  if (!me.person_id && me.role !== 'reader') return { name: 'join', params: [] };
  if (hasUse(me.role, wanted.name)) return wanted;
  const shows = INSTEAD[/** @type {keyof typeof INSTEAD} */ (wanted.name)];
  return shows ? { ...wanted, name: shows } : { name: 'today', params: [] };
}

/**
 * A screen's readings one at a time, and once more for what changed during one: what stands was read after the last
 * change. One that hangs, for a server say, keeps no other screen from reading.
 * @param {() => Promise<unknown>} read @param {() => unknown} screen the one that stands
 * @returns {{refresh: () => Promise<void>, changes: () => number}} changes: how often it was told of one
 */
function oneByOne(read, screen) {
  let changes = 0;
  /** @type {unknown} */ let readBy;
  const refresh = async () => {
    const own = screen();
    changes += 1;
    if (readBy === own) return;
    readBy = own;
    try {
      for (let before = 0; before !== changes && readBy === own;) {
        before = changes;
        await read();
      }
    } finally { if (readBy === own) readBy = undefined; }
  };
  return { refresh, changes: () => changes };
}

/**
 * What is read while the phone turns to another site, in another tab say, is of neither.
 * @template T @param {AnyPhone} phone @param {() => Promise<T>} read @returns {Promise<T|null>} null: read it again
 */
async function ofOneSite(phone, read) {
  const siteId = phone.me?.site_id;
  try {
    const drawn = await read();
    return phone.me?.site_id === siteId ? drawn : null;
  } catch (error) {
    if (phone.me?.site_id === siteId) throw error;
    return null;
  }
}

/**
 * Start drawing. Resolves when the first screen stands.
 * @param {AnyPhone} phone the facade of store/phone.js
 * @param {HTMLElement} root
 */
export async function startRouter(phone, root) {
  const state = { name: '', screen: /** @type {Screen|null} */ (null), due: false, turn: 0 };
  const settings = readSettings(root.ownerDocument.documentElement);
  let toldTimer = 0;
  let isRefused = false;
  /** @type {{ids: string[], undo: (() => void)|null}|null} */ let just = null;
  let tappedMs = -DOUBLE_TAP_MS;

  keepUnits(root);
  const focus = keepFocus(root);
  const draw = () => {
    state.due = false;
    if (state.screen) focus.drawing(() => render(frame(phone, state, settings, stage), root));
  };
  const redraw = () => {
    if (state.due) return;
    state.due = true;
    queueMicrotask(draw);
  };
  /** @param {string} sentence @param {() => Promise<unknown>} [undo] */
  const say = (sentence, undo) => {
    clearTimeout(toldTimer);
    isRefused = false;
    just = undo ? { ids: wroteAlone(undo), undo: () => { if (!isSecondTap()) undo(); } } : null;
    const isHeld = told(sentence, root, just?.undo ?? null);
    const end = () => {
      if (isHeld() || document.activeElement?.matches('.saved-here')) toldTimer = window.setTimeout(end, TOLD_MS);
      else {
        told('', root);
        if (just) just.undo = null;
        redraw();
      }
    };
    redraw();
    toldTimer = window.setTimeout(end, undo ? UNDO_MS : TOLD_MS);
  };
  const justSaved = (/** @type {string} */ id) => (just?.ids.includes(id) ? { undo: just.undo } : null);
  const refuse = (/** @type {string} */ sentence) => { say(sentence); isRefused = true; };
  const unsay = () => { if (isRefused) say(''); };
  root.addEventListener('input', unsay);
  /** @param {() => Promise<unknown>} work a save; a failed one is never silent */
  const saving = async (work) => {
    try {
      await work();
      return true;
    } catch (error) {
      const sentence = /** @type {{sentence?: string}} */ (error).sentence;
      if (!sentence) throw error;
      warn(sentence.startsWith(NOT_SAVED) ? sentence : `${NOT_SAVED} ${sentence}`);
      return false;
    }
  };
  /** @param {string} sentence */
  const warn = (sentence) => { settings.fault = inDeviceWords(sentence); redraw(); };
  /** Asked once by what a tap starts. @returns {boolean} whether it is the second half of a double tap */
  const isSecondTap = () => {
    const nowMs = performance.now();
    if (nowMs - tappedMs < DOUBLE_TAP_MS) return true;
    tappedMs = nowMs;
    return false;
  };
  const alarm = new Alarm(phone, redraw, settings);
  const stage = {
    phone: /** @type {Phone} */ (phone), settings, alarm, redraw, say, refuse, unsay, justSaved, saving, isSecondTap,
    params: /** @type {string[]} */ ([]),
    zone: /** @type {string} */ ('UTC'),
    go: (/** @type {string} */ hash) => { location.hash = hash; }, reopen: () => { open(); },
    stations: () => import('../online/stations.js').catch(() => null),
  };
  const pairs = new Pairs(async (name, given) => (await loaded(SCREENS[name], phone)).view(given));
  const keys = listenToKeys(root, settings);

  /** The site's clock becomes the screens'. @param {string} name @returns {Promise<boolean>} whether `name` can show */
  const canShow = async (name) => {
    const zone = await zoneOf(phone);
    stage.zone = zone ?? 'UTC';
    return !phone.me || WITHOUT_SITE.includes(name) || Boolean(zone && phone.pack()?.forms);
  };
  const { refresh, changes } = oneByOne(async () => {
    const { screen } = state;
    if (screen && !await canShow(state.name)) return open();
    if (!await ofOneSite(phone, async () => { await screen?.refresh?.(); return true; })) return open();
    redraw();
    await alarm.refresh();
  }, () => state.screen);
  const open = async () => {
    const wanted = allowed(phone, screenOf(location.hash));
    if (state.screen?.alone && wanted.name === state.name) return;
    const turn = ++state.turn;
    const changesBefore = changes();
    const name = await canShow(wanted.name) ? wanted.name : 'nothing-yet';
    const shown = { ...stage, params: wanted.params };
    const screen = await ofOneSite(phone, async () => (name === 'nothing-yet' ? nothingYet(shown)
      : pairs.has(name) ? pairs.open(name, shown) : (await loaded(SCREENS[name], phone)).view(shown)));
    if (turn !== state.turn) return;
    if (!screen) { await open(); return; }
    const before = state.screen;
    before?.close?.();
    if (!before) root.replaceChildren();
    if (!screen.beside) pairs.forget();
    Object.assign(state, { screen, name });
    unsay();
    if (!just?.undo) just = null;
    tappedMs = performance.now();
    draw();
    arrive(root, screen, before, keys.takeMove());
    if (changes() !== changesBefore) refresh();
  };

  window.addEventListener('hashchange', open);
  pairs.watch(open, () => state.name);
  phone.on('change', () => (state.name === 'nothing-yet' || Boolean(phone.me?.handed_over) !== (state.screen?.alone
    ?? false) ? open() : refresh()));
  phone.on('pack', async () => (state.name === 'nothing-yet' || state.name === 'join' ? open() : refresh()));
  phone.on('sync', redraw);
  for (const change of ['online', 'offline']) window.addEventListener(change, redraw);
  phone.on('fault', (/** @type {{sentence: string}} */ event) => warn(event.sentence));
  window.setInterval(() => { if (!document.hidden) redraw(); }, TICK_MS);
  await open();
  alarm.start();
}

/**
 * Tell screen readers and the keyboard that the page is another one now.
 * @param {HTMLElement} root @param {Screen} screen @param {Screen|null} before @param {boolean} isMove the list is gone
 *   through by keys, and keeps the focus
 */
function arrive(root, screen, before, isMove) {
  document.title = `${screen.named ? `${screen.named()} \u00b7 ` : ''}${screen.title()} \u00b7 Fieldlog`;
  const isBeside = Boolean(screen.beside) && screen.beside === before?.beside;
  if (before) window.scrollTo(0, 0);
  // One that nobody chose scrolls nothing: what stands first in a list, who is not signed out say, is seen first.
  if (!isBeside && screenOf(location.hash).params.length) chosenRow(root)?.scrollIntoView({ block: 'nearest' });
  if (!before || isMove || root.querySelector('.where')?.contains(document.activeElement)) return;
  const heading = /** @type {HTMLElement|null} */ (root.querySelector(isBeside ? '#detail-title' : 'h1'));
  heading?.focus({ preventScroll: true });
}
