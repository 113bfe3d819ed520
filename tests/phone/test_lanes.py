"""A phone's lane is named by a key that never leaves phone and server; a phone of 0.2.0 goes on without losing an entry."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest

from tests.phone.old_app import old_phone
from tests.phone.phone_page import SPECIES, PhonePage

pytestmark = pytest.mark.browser
HEAD = "return phone.store.run(['meta'], 'readonly', (tx) => tx.store.get('head'));"


def head_of(phone: PhonePage) -> dict[str, Any]:
    return phone.do(HEAD)


def named_by(key: str) -> str:
    return "k-" + hashlib.sha256(f"fieldlog lane {key}".encode()).hexdigest()[:32]


def bodies_of(phone: PhonePage) -> list[tuple[dict[str, Any], int]]:
    """Header and number of lines of each sync request from now on, as it is sent."""
    sent: list[tuple[dict[str, Any], int]] = []
    phone.do("delete globalThis.CompressionStream;")

    def note(request: Any) -> None:
        if request.url.endswith("/api/sync"):
            header, *lines = request.post_data.split("\n")[:-1]
            sent.append((json.loads(header), len(lines)))

    phone.page.on("request", note)
    return sent


def log_of(live_server) -> list[dict[str, Any]]:
    rows = live_server.programme.db().conn.execute("SELECT line FROM log ORDER BY seq").fetchall()
    return [json.loads(row[0]) for row in rows]


def name(said: str) -> str:
    return f"await phone.write('species', null, {{ scientific_name: '{said}' }}, {{ siteId: null }});"


def names(live_server) -> list[str]:
    return [line["f"]["scientific_name"] for line in log_of(live_server)]


def test_a_new_phone_writes_into_a_lane_that_is_named_by_its_key_and_shows_the_key_at_each_request(lead) -> None:
    sent = bodies_of(lead)
    lead.write(2)
    lead.sync()
    head = head_of(lead)
    key = head["lanes"][head["lane"]]["key"]
    assert len(key) == 32
    assert head["lane"] == named_by(key)
    assert [(header["d"], header["key"]) for header, _ in sent] == [(named_by(key), key)] * len(sent)
    assert lead.states() == ["taken"] * 2


def test_the_key_is_in_no_entry_no_answer_to_views_and_no_fault(lead) -> None:
    lead.write()
    lead.sync()
    head = head_of(lead)
    key = head["lanes"][head["lane"]]["key"]
    shown = lead.do("""
      return JSON.stringify([await phone.entries(), phone.counts(), phone.syncState, phone.me, phone.pack(), faults, { ...localStorage },
        await phone.store.run(['lines', 'others', 'records'], 'readonly', (tx) => Promise.all(
          ['lines', 'others', 'records'].map((name) => tx.objectStore(name).getAll())))]);""")
    assert head["lane"] in shown
    assert key not in shown


def test_an_updated_phone_sends_what_waits_on_its_old_lane_before_what_it_writes_anew(context, live_server) -> None:
    old = old_phone(context, live_server.url)
    old.join(live_server.join_link("lead").split("=")[1])
    old.do(name("sent by 0.2.0"))
    old.sync()
    old.do(name("unsent one") + name("unsent two"))
    before = old.do(HEAD)
    assert not before["lane"].startswith("k-")
    old.page.close()
    new = PhonePage(context, live_server.url)
    assert new.do("return [phone.counts().phone, phone.counts().taken, phone.unsent()];") == [2, 1, 2]
    assert new.states() == ["taken", "phone", "phone"]
    new.do(name("of today"))
    sent = bodies_of(new)
    assert new.sync() is True
    head = head_of(new)
    assert list(head["lanes"]) == [before["lane"], head["lane"]]
    assert [(header["d"], lines) for header, lines in sent if lines] == [(before["lane"], 2), (head["lane"], 1)]
    assert names(live_server) == ["sent by 0.2.0", "unsent one", "unsent two", "of today"]
    assert not any("was" in line for line in log_of(live_server)), "something was written anew"
    assert new.states() == ["taken"] * 4
    assert new.do("return (await phone.rows('species')).length;") == 4


def test_the_new_lane_waits_until_the_old_one_is_answered_for(context, live_server) -> None:
    old = old_phone(context, live_server.url)
    old.join(live_server.join_link("lead").split("=")[1])
    old.do(name("first"))
    lane = old.do(HEAD)["lane"]
    old.page.close()
    new = PhonePage(context, live_server.url)
    new.do(name("second"))
    sent = bodies_of(new)
    new.do("""
      const { exchange } = (await phone.online()).sync;
      globalThis.body = await exchange.request(told, { batch: 50, want: 50 });""", head_of(new)["lane"])
    assert len(new.page.evaluate("body").split("\n")[:-1]) == 1, "lines went before older ones"
    assert new.sync() is True
    assert next(header["d"] for header, lines in sent if lines) == lane
    assert names(live_server) == ["first", "second"]


def test_going_back_to_the_old_app_loses_and_doubles_nothing(context, live_server) -> None:
    new = PhonePage(context, live_server.url)
    new.join(live_server.join_link("lead").split("=")[1])
    new.do(name("one"))
    new.sync()
    new.do("const { markTaken } = await import('/store/retention.js'); await markTaken(phone.store);")
    new.do(name("two"))
    new.page.close()
    old = old_phone(context, live_server.url)
    old.do(name("three"))
    assert old.sync() is True
    assert set(old.states()) == {"taken"}
    assert names(live_server) == ["one", "two", "three"]
    old.do(name("four"))
    old.page.close()
    again = PhonePage(context, live_server.url)
    assert again.do("return phone.counts().phone;") == 1
    again.do(name("five"))
    assert again.sync() is True
    assert names(live_server) == ["one", "two", "three", "four", "five"]
    assert again.do("return [phone.counts().phone, phone.counts().taken];") == [0, 5]


def test_what_an_old_app_asks_for_again_is_no_longer_taken_for_answered(context, live_server) -> None:
    """A page of the old app may still be open beside the new one."""
    new = PhonePage(context, live_server.url)
    new.write(3)
    new.do("""await phone.store.run(['lines', 'meta'], 'readwrite', async (tx) => {
      const head = await tx.objectStore('meta').get('head');
      Object.assign(head.lanes[head.lane], { answered: 3, marked: 3 });
      for (const line of await tx.objectStore('lines').getAll()) tx.objectStore('lines').put({ ...line, state: 'taken' });
      tx.objectStore('meta').put(head, 'head');
    });""")
    assert new.states() == ["taken"] * 3
    new.do("""await phone.store.run(['lines', 'meta'], 'readwrite', async (tx) => {
      const head = await tx.objectStore('meta').get('head');
      const [, , third] = await tx.objectStore('lines').getAll();
      tx.objectStore('lines').put({ ...third, state: 'phone' });
      tx.objectStore('meta').put({ ...head, rid: null }, 'head');
    });""")
    assert new.states() == ["taken", "taken", "phone"]
    new.do("await phone.recount();")
    assert new.do("return phone.counts().phone;") == 1


def test_a_fork_goes_on_in_a_lane_with_a_key_of_its_own(lead, live_server) -> None:
    lead.write()
    lead.sync()
    before = head_of(lead)
    lead.write()
    with live_server.programme.db().conn as conn:
        conn.execute("INSERT INTO device(device_id, token_sha256, role, name, made_at) VALUES ('other', 'x', 'lead', 'y', 0)")
    lead.page.route("**/api/sync", fork_once(lead))
    assert lead.sync() is True
    head = head_of(lead)
    assert head["lane"] != before["lane"]
    assert head["lane"] == named_by(head["lanes"][head["lane"]]["key"])
    assert head["lanes"][before["lane"]]["key"] == before["lanes"][before["lane"]]["key"]
    assert lead.states() == ["taken"] * 2


def test_a_fix_goes_with_the_line_that_it_fixes_when_both_are_written_anew(lead, live_server) -> None:
    """The fix named a line that was no more, so that the line was to be fixed again."""
    wrong = lead.do("return phone.write('species', null, { no_such_field: 1, scientific_name: 'Fucus' }, { siteId: null });")
    lead.do("await phone.write('species', told.recordId, { scientific_name: 'Fucus' }, { siteId: null, fixes: told.entryId });", wrong)
    lead.page.route("**/api/sync", fork_once(lead))
    assert lead.sync() is True
    assert lead.states() == ["held", "taken"]
    fix = lead.do("return (await phone.entries({ limit: 1 }))[0].entryId;")
    assert live_server.programme.db().execute("SELECT resolved_by FROM tray").fetchall() == [(fix,)]
    assert lead.do("await phone.recount(); return phone.counts().held;") == 0


def fork_once(phone: PhonePage):
    """An answer as a server gives it that holds another line at the number."""
    answered: list[str] = []

    def answer(route: Any) -> None:
        if answered:
            route.continue_()
            return
        header = json.loads(route.request.post_data.split("\n")[0])
        answered.append(header["rid"])
        reply = {
            "rid": header["rid"], "now": phone.page.evaluate("Date.now()"), "err": "fork", "acks": [], "top": [header["from"] - 1, ""],
            "pull": [], "cursor": [0, ""], "more": False, "reset": False,
        }  # fmt: skip
        route.fulfill(json=reply, headers={"X-Fieldlog": "1"})

    phone.do("delete globalThis.CompressionStream;")
    return answer


def test_after_an_export_the_phone_goes_on_in_another_lane(lead, live_server) -> None:
    lead.write(2)
    before = head_of(lead)
    text = lead.do("return (await phone.exportFile()).text();")
    header = json.loads(text.split("\n")[0])
    assert header["key"] == before["lanes"][before["lane"]]["key"]
    assert header["d"] == before["lane"] == named_by(header["key"])
    after = head_of(lead)
    assert after["lane"] not in text
    assert after["lanes"][after["lane"]]["key"] not in text
    lead.write()
    assert lead.sync() is True
    assert [line["d"] for line in log_of(live_server)] == [before["lane"]] * 2 + [after["lane"]]
    lead.do("await phone.exportFile(); await phone.exportFile();")
    assert len(head_of(lead)["lanes"]) == 3, "an empty lane needs no other after it"


def test_after_a_reset_the_phone_asks_for_the_receipts_of_its_keyed_lanes_again(context, live_server) -> None:
    old = old_phone(context, live_server.url)
    old.join(live_server.join_link("lead").split("=")[1])
    old.do(name("old"))
    old.sync()
    old.page.close()
    new = PhonePage(context, live_server.url)
    new.write(3)
    new.sync()
    with live_server.programme.db().conn as conn:
        conn.execute("UPDATE log SET h = 'another' || substr(h, 8)")
    sent = bodies_of(new)
    assert new.sync() is True
    lane = head_of(new)["lane"]
    assert [(header["d"], header["from"], lines) for header, lines in sent if lines] == [(lane, 1, 3)]
    assert new.states() == ["taken"] * 4
    assert len(log_of(live_server)) == 4
    assert new.do("return (await phone.rows('species')).length;") == 4


def test_an_entry_that_a_restored_server_holds_is_no_longer_shown_as_taken(lead, live_server) -> None:
    lead.write(2)
    lead.sync()
    reply = "const reply = JSON.parse(text); const second = reply.acks.find((ack) => ack[0] === 2); "
    lead.do(f"""
      const {{ transport }} = (await phone.online()).sync;
      const {{ sync }} = transport;
      transport.sync = async (body) => {{
        const text = JSON.stringify(await sync(body)); {reply}
        if (second) second.splice(2, 4, 'q', 0, 'other-site', 'This record is of another site.');
        return reply;
      }};""")
    with live_server.programme.db().conn as conn:
        conn.execute("UPDATE log SET h = 'another' || substr(h, 8)")
    lead.sync()
    assert lead.states()[0] == "taken"
    (held,) = lead.do("return phone.entries({ state: 'held' });")
    assert (held["n"], held["why"], held["sentence"]) == (2, "other-site", "This record is of another site.")


def test_a_lane_that_cannot_be_gone_on_with_is_left_and_the_rest_written_anew(lead, live_server) -> None:
    """A backup covered a text, so it left the phone; then the server went back to before it."""
    lead.write(3)
    lead.sync()
    lead.do("""await phone.store.run(['lines'], 'readwrite', async (tx) => {
      const [, second] = await tx.store.getAll();
      tx.store.put({ ...second, text: null });
    });""")
    with live_server.programme.db().conn as conn:
        conn.execute("DELETE FROM log WHERE number > 1")
        conn.execute("DELETE FROM record_state")
        conn.execute("DELETE FROM species")
        conn.execute("UPDATE lane SET top = 1, top_id = ''")
    assert lead.sync() is True
    assert [line["n"] for line in log_of(live_server)] == [1, 1]
    assert len({line["d"] for line in log_of(live_server)}) == 2
    assert lead.do("return phone.counts().phone;") == 0


def test_a_lane_of_which_nothing_waits_is_asked_once_a_start(context, live_server) -> None:
    """Each lane is a request of its own; one that a backup covers whole is left alone."""
    phone = PhonePage(context, live_server.url)
    phone.join(live_server.join_link("lead").split("=")[1])
    phone.do(f"await {SPECIES}; await phone.exportFile(); await {SPECIES};")
    phone.sync()
    live_server.programme.db().conn.execute("UPDATE lane SET durable = top")
    phone.sync()
    sent = bodies_of(phone)
    phone.sync()
    assert [header["d"] for header, _ in sent] == [head_of(phone)["lane"]]
    phone.page.reload()
    sent = bodies_of(phone)
    phone.sync()
    assert len({header["d"] for header, _ in sent}) == 2


SPECIES_FIELDS = "{ kind: 'species', recordId: null, fields: { scientific_name: 'Ulva' }, siteId: null }"
COUNTED = """
const asked = { get: 0, getAll: 0, put: 0, count: 0, openCursor: 0 };
for (const type of [IDBObjectStore, IDBIndex]) for (const name of Object.keys(asked)) {
  const before = type.prototype[name];
  if (before) type.prototype[name] = function (...told) {
    if (this.name === 'lines' || this.objectStore?.name === 'lines') asked[name] += 1;
    return before.apply(this, told);
  };
}
await phone.syncNow();
return asked;
"""


def test_receipts_touch_no_line_and_cost_the_same_whatever_the_phone_has_written(lead) -> None:
    lead.write()
    lead.sync()
    lead.write(100)
    few = lead.do(COUNTED)
    assert few["put"] == 0, "a line was written to change one word"
    assert few["count"] == 0
    lead.page.reload()
    lead.do("const { markTaken } = await import('/store/retention.js'); await markTaken(phone.store);")
    for _ in range(4):
        lead.do(f"await phone.writeMany(Array.from({{ length: 150 }}, () => ({SPECIES_FIELDS})));")
        lead.sync()
    lead.write(100)
    assert lead.do(COUNTED) == few
    assert lead.do("return phone.counts().taken;") == 801

