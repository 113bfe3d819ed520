"""A phone that joins is of use with this season; earlier years come while it is used, each record whole."""

from __future__ import annotations

import pytest

from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser
SITE = "00000000-0000-4000-8000-00000000000a"
SIGHTING = """
const made = [];
for (let turn = 0; turn < told.count; turn++) {
  made.push((await phone.write('sighting', null, { found: 'seen', seen_at: '2026-09-22T06:12:00Z', count: turn }, { siteId: told.site })).recordId);
}
return made;
"""
A_PHOTO = """
await phone.setSite(told);
const canvas = Object.assign(document.createElement('canvas'), { width: 40, height: 30 });
const blob = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg'));
await phone.addPhoto(blob, { of_kind: 'visit', of_id: phone.newId(told), people: false, shows: 'a block' });
"""
OF_LONG_AGO = "UPDATE log SET received_at = 1 WHERE kind = 'sighting'"


def sightings(phone: PhonePage) -> list[str]:
    return phone.do("return (await phone.rows('sighting')).map((row) => row.record_id);")


def test_a_new_phone_has_the_season_after_one_answer_and_the_past_soon_after(browser, lead, live_server) -> None:
    old = lead.do(SIGHTING, {"count": 30, "site": SITE})
    lead.sync()
    db = live_server.programme.db().conn
    db.execute(OF_LONG_AGO)
    lead.do("await phone.write('sighting', told, { count: 99 });", old[3])
    lead.write(2)
    new = lead.do(SIGHTING, {"count": 5, "site": SITE})
    lead.sync()
    context = browser.new_context()
    phone = PhonePage(context, live_server.url)
    phone.do("""
      globalThis.answers = [];
      const { transport, exchange } = (await phone.online()).sync;
      const { sync } = transport;
      transport.sync = async (body, heard) => { const reply = await sync(body, heard); answers.push([reply.pull.length + (reply.older?.length ?? 0), reply.past ?? null]); return reply; };
      globalThis.firstRows = null;
      phone.on('change', async () => { if (answers.length) firstRows ??= [answers.length, (await phone.rows('sighting')).length, phone.syncState.past_coming]; });
    """)
    phone.join(live_server.join_link("lead").split("=")[1])
    assert set(sightings(phone)) == set(old) | set(new)
    assert phone.state["past_coming"] is False
    first, *rest = phone.page.evaluate("answers")
    assert first[0] == 2 + 5 + 2, "species, this season's, and the old one that was changed, with all its entries"
    assert first[1] is not None and rest[-1][1] is None
    assert phone.page.evaluate("firstRows[1]") == 6
    assert phone.do("return (await phone.row('sighting', told)).count;", old[3]) == 99
    assert phone.do("return phone.store.run(['meta'], 'readonly', async (tx) => (await tx.store.get('head')).past);") is None
    context.close()


def joined_and_cut(context, live_server) -> PhonePage:
    """A phone that joined and has its season; its second answer was lost, so the past is still to come."""
    phone = PhonePage(context, live_server.url)
    asked: list[str] = []

    def cut(route) -> None:
        asked.append(route.request.url)
        if len(asked) == 2:
            route.abort("connectionreset")
        else:
            route.continue_()

    phone.page.route("**/api/sync", cut)
    phone.do("await phone.join(told, 'a phone');", live_server.join_link("lead").split("=")[1])
    phone.sync()
    assert phone.state["past_coming"] is True
    return phone


def test_a_phone_that_was_closed_in_between_goes_on_where_it_stopped(browser, lead, live_server) -> None:
    old = lead.do(SIGHTING, {"count": 30, "site": SITE})
    lead.sync()
    live_server.programme.db().conn.execute(OF_LONG_AGO)
    context = browser.new_context()
    phone = joined_and_cut(context, live_server)
    phone.page.reload()
    assert phone.state["past_coming"] is True, "it is known before the network is"
    phone.do(SIGHTING, {"count": 1, "site": SITE})
    assert phone.sync() is True
    assert len(sightings(phone)) == len(old) + 1
    assert set(phone.states()) == {"taken"}
    assert phone.state["past_coming"] is False
    context.close()


def test_a_photo_that_is_refused_for_now_does_not_keep_the_past_from_coming(browser, lead, live_server) -> None:
    old = lead.do(SIGHTING, {"count": 30, "site": SITE})
    lead.sync()
    live_server.programme.db().conn.execute(OF_LONG_AGO)
    context = browser.new_context()
    phone = joined_and_cut(context, live_server)
    phone.do(A_PHOTO, SITE)
    busy = {"status": 503, "headers": {"X-Fieldlog": "1", "Retry-After": "60", "Content-Type": "application/problem+json"},
            "body": '{"status": 503, "word": "writer-busy", "detail": "Others are writing."}'}  # fmt: skip
    phone.page.route("**/api/photos/*", lambda route: route.fulfill(**busy))
    assert phone.sync() is False, "the photo still waits"
    assert phone.do("return phone.counts().photos_waiting;") == 1
    assert set(sightings(phone)) >= set(old)
    assert phone.state["past_coming"] is False
    context.close()


ASKED_WHILE_THE_PAST_COMES = """
await phone.join(told, 'a phone');
const { sync } = await phone.online();
const { transport } = sync;
const send = transport.sync;
const syncs = [];
let asked = null;
transport.sync = async (body, heard) => {
  const reply = await send(body, heard);
  syncs.push(phone.syncState.busy);
  if (phone.syncState.past_coming && !phone.syncState.busy && !asked) asked = Promise.all([phone.syncNow(), phone.syncNow()]);
  return reply;
};
await phone.syncNow();
const answers = await asked;
await sync.running;
return { answers, syncs, past: phone.syncState.past_coming };
"""


def test_who_asks_for_a_sync_while_the_past_comes_gets_one(browser, lead, live_server) -> None:
    old = lead.do(SIGHTING, {"count": 30, "site": SITE})
    lead.sync()
    live_server.programme.db().conn.execute(OF_LONG_AGO)
    context = browser.new_context()
    phone = PhonePage(context, live_server.url)
    told = phone.do(ASKED_WHILE_THE_PAST_COMES, live_server.join_link("lead").split("=")[1])
    assert told["answers"] == [True, True]
    assert told["syncs"].count(True) == 2, "one by itself, and one more for both that asked"
    assert told["past"] is False
    assert set(sightings(phone)) >= set(old)
    context.close()


COUNTED = """
globalThis.most = 0;
let under = 0;
const { transport } = (await phone.online()).sync;
const { sync } = transport;
transport.sync = async (body, heard) => {
  most = Math.max(most, ++under);
  try {
    const reply = await sync(body.replace('"want":1000', '"want":5'), heard);
    await new Promise((done) => setTimeout(done, told));
    return reply;
  } finally { under -= 1; }
};
"""


def test_what_comes_next_of_the_past_is_asked_for_while_an_answer_is_put_away(browser, lead, live_server) -> None:
    old = lead.do(SIGHTING, {"count": 40, "site": SITE})
    lead.sync()
    live_server.programme.db().conn.execute(OF_LONG_AGO)
    context = browser.new_context()
    phone = joined_and_cut(context, live_server)
    phone.do(COUNTED, 100)
    phone.do(SIGHTING, {"count": 1, "site": SITE})
    assert phone.sync() is True
    assert phone.page.evaluate("most") == 2, "one on its way beside the one that is put away, never more"
    assert len(sightings(phone)) == len(old) + 1
    assert set(phone.states()) == {"taken"}
    context.close()
