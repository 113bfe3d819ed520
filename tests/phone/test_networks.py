"""No network is trusted: what it does to a sync is a wait with a sentence, never a loss."""

from __future__ import annotations

import json

import pytest

from tests.phone.phone_page import SPECIES

pytestmark = pytest.mark.browser
DAY_MS = 86_400_000


def log_of(live_server) -> list[str]:
    rows = live_server.programme.db().conn.execute("SELECT entry_id FROM log ORDER BY seq").fetchall()
    return [row[0] for row in rows]


def test_a_portals_page_is_a_log_in_and_no_answer(lead, live_server) -> None:
    lead.write(3)
    page = "<html>Welcome, log in to the guest network</html>"
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=200, content_type="text/html", body=page))
    assert lead.sync() is False
    assert lead.state["portal"] is True
    assert lead.state["last_error_sentence"].startswith("This network needs a login first.")
    assert lead.states() == ["phone"] * 3
    lead.page.unroute("**/api/sync")
    assert lead.sync() is True
    assert (lead.state["portal"], lead.state["last_error_sentence"]) == (False, None)
    assert lead.states() == ["taken"] * 3
    assert len(log_of(live_server)) == 3


def test_a_browser_without_timeouts_of_its_own_has_a_network_and_ends_what_is_never_answered(lead) -> None:
    lead.do("delete AbortSignal.timeout;")
    lead.write()
    assert lead.sync() is True
    lead.page.route("**/api/sync", lambda _route: None)
    lead.do("const real = setTimeout; globalThis.setTimeout = (work, ms) => real(work, ms >= 60_000 ? 50 : ms);")
    assert (lead.sync(), lead.state["waiting"]) == (False, True)


def test_a_portal_that_redirects_or_answers_in_json_is_no_answer_either(lead) -> None:
    lead.write()
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=302, headers={"Location": "/healthz"}))
    assert (lead.sync(), lead.state["portal"]) == (False, True)
    lead.page.unroute("**/api/sync")
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=200, json={"rid": "x", "acks": []}))
    assert (lead.sync(), lead.state["portal"]) == (False, True)
    assert lead.states() == ["phone"]


def test_a_reply_lost_after_the_server_took_it_doubles_nothing(lead, live_server) -> None:
    lead.write(30)
    lost = []

    def lose(route) -> None:
        if len(lost) < 2:
            lost.append(route.fetch())
            route.abort("connectionreset")
        else:
            route.continue_()

    lead.page.route("**/api/sync", lose)
    assert [lead.sync(), lead.sync(), lead.sync()] == [False, False, True]
    assert lead.states() == ["taken"] * 30
    assert len(log_of(live_server)) == len(set(log_of(live_server))) == 30


def test_an_answer_to_an_earlier_request_is_ignored_whole(lead) -> None:
    lead.write()
    stale = []

    def swap(route) -> None:
        answer = route.fetch()
        stale.append(answer.json())
        said = {**stale[-1], "rid": "another"} if len(stale) == 1 else stale[-1]
        route.fulfill(response=answer, body=json.dumps(said))

    lead.page.route("**/api/sync", swap)
    assert lead.sync() is True
    assert len(stale) == 2
    assert lead.states() == ["taken"]


CLOCK_STANDS = "const at = Date.now(); Date.now = () => at;"
"""A wait is told from a moment, however long the machine takes to look."""


@pytest.mark.parametrize("status", [429, 502, 503])
def test_a_server_that_cannot_answer_is_asked_later_and_later(lead, status: int) -> None:
    lead.write()
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=status, body="later"))
    lead.do(CLOCK_STANDS)
    due = "const { sync } = await phone.online(); await sync.run(); return sync.notBeforeMs - phone.now();"
    waits = [lead.do(due) for _ in range(8)]
    assert 2_400 < waits[0] <= 5_000
    assert 75_000 < waits[5] <= 160_000
    assert 149_000 < waits[7] <= 300_000
    assert lead.do("return (await phone.online()).sync.runIfDue();") is False
    assert lead.states() == ["phone"]


def test_a_server_that_names_a_wait_is_left_alone_so_long(lead) -> None:
    headers = {"Retry-After": "700"}
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=503, headers=headers, body="later"))
    lead.do(CLOCK_STANDS)
    lead.sync()
    assert 690_000 < lead.do("return (await phone.online()).sync.notBeforeMs - phone.now();") <= 700_000


def test_a_server_that_is_busy_for_a_moment_is_waited_for_within_the_same_sync(lead) -> None:
    lead.write(3)
    asked = []

    def busy_twice(route) -> None:
        asked.append(route.request.url)
        if len(asked) <= 2:
            headers = {"Retry-After": "1", "X-Fieldlog": "1"}
            route.fulfill(status=503, headers=headers, json={"word": "writer-busy", "detail": "Another writer is at work."})
        else:
            route.continue_()

    lead.page.route("**/api/sync", busy_twice)
    said = lead.do("""
      const said = []; phone.on('sync', () => said.push(phone.syncState.last_error_sentence));
      if (!await phone.syncNow()) throw new Error('the sync ended');
      return said;""")
    assert set(said) == {None}, "a wait was shown as a fault"
    assert len(asked) >= 3
    assert lead.states() == ["taken"] * 3


def test_an_hours_budget_that_is_used_up_is_told_and_waited_for(lead) -> None:
    lead.write()
    sentence = "This phone sent its 40,000 entries of this hour. Nothing is lost: it goes on by itself in 20 min."
    lead.page.route("**/api/sync", lambda route: route.fulfill(
        status=429, headers={"Retry-After": "1200", "X-Fieldlog": "1"}, json={"word": "over-budget", "detail": sentence}))
    assert lead.sync() is False
    assert lead.state["last_error_sentence"] == sentence
    assert lead.state["waiting"] is True
    assert 1_190_000 < lead.do("return (await phone.online()).sync.notBeforeMs - phone.now();") <= 1_200_000
    assert lead.states() == ["phone"]


def test_a_busy_server_of_0_2_0_that_answers_409_is_a_wait_and_no_refusal(lead) -> None:
    lead.write()
    lead.page.route("**/api/sync", lambda route: route.fulfill(
        status=409, headers={"X-Fieldlog": "1"}, json={"word": "programme-busy", "detail": "Another server holds the folder."}))
    assert lead.sync() is False
    assert lead.state["waiting"] is True
    assert lead.do("return (await phone.online()).sync.notBeforeMs > phone.now();") is True
    assert lead.states() == ["phone"]


def test_a_server_that_answers_for_fewer_lines_than_it_was_sent_gets_the_rest_again(lead, live_server) -> None:
    lead.write(7)
    lead.do("delete globalThis.CompressionStream;")
    sizes = []

    def some(route) -> None:
        head, *lines = route.request.post_data.split("\n")[:-1]
        sizes.append(len(lines))
        route.continue_(post_data="\n".join([head, *lines[:3]]) + "\n")

    lead.page.route("**/api/sync", some)
    assert lead.sync() is True
    assert sizes == [7, 4, 1]
    assert lead.states() == ["taken"] * 7


def test_a_server_that_never_answers_for_the_rest_is_not_asked_for_ever(lead) -> None:
    lead.write(2)
    lead.do("delete globalThis.CompressionStream;")
    asked = []

    def none(route) -> None:
        asked.append(route.request.url)
        route.continue_(post_data=route.request.post_data.split("\n")[0] + "\n")

    lead.page.route("**/api/sync", none)
    assert lead.sync() is True
    assert len(asked) <= 5
    assert lead.states() == ["phone"] * 2


def test_an_unknown_phone_keeps_all_and_goes_on_where_it_stopped_when_it_joins_again(lead, live_server, context) -> None:
    lead.write(2)
    lead.sync()
    lead.write(2)
    context.clear_cookies()
    assert lead.sync() is False
    assert lead.state["needs_join"] is True
    lead.write()
    assert lead.states() == ["taken"] * 2 + ["phone"] * 3
    lead.join(live_server.join_link("lead").split("=")[1])
    lead.sync()
    assert (lead.states(), lead.state["needs_join"]) == (["taken"] * 5, False)
    assert lead.do("return Object.keys((await (await phone.online()).sync.exchange.head()).lanes).length;") == 1


def test_a_batch_too_large_is_halved_until_it_passes(lead) -> None:
    lead.write(9)
    sizes = []

    def small_only(route) -> None:
        _head, *lines = route.request.post_data.split("\n")[:-1]
        sizes.append(len(lines))
        if len(lines) > 3:
            route.fulfill(status=413, body="too large")
        else:
            route.continue_()

    lead.do("delete globalThis.CompressionStream;")
    lead.page.route("**/api/sync", small_only)
    assert lead.sync() is True
    assert sizes[:3] == [9, 4, 2]
    assert lead.states() == ["taken"] * 9


def test_a_server_of_another_age_stops_sending_and_asks_for_an_update(lead) -> None:
    lead.write()
    lead.page.route("**/api/sync", lambda route: route.fulfill(status=426, headers={"X-Fieldlog": "1"}, json={}))
    lead.sync()
    assert lead.state["update_app"] is True
    assert lead.states() == ["phone"]


@pytest.mark.parametrize(("days", "said"), [(-1, "24 h 0 min behind"), (3650, "3650 days ahead")])
def test_a_wrong_clock_orders_nothing_wrongly_and_is_said(lead, live_server, days: int, said: str) -> None:
    lead.do("globalThis.skewMs = told;", days * DAY_MS)
    lead.write()
    lead.sync()
    assert said in lead.state["clock_sentence"]
    assert lead.states() == ["taken"]
    lead.write()
    lead.sync()
    effs = [row[0] for row in live_server.programme.db().conn.execute("SELECT eff FROM log ORDER BY seq")]
    now_ms = lead.page.evaluate("Date.now()")
    assert effs == sorted(effs)
    assert abs(int(effs[1][:12], 16) - now_ms) < 60_000


HOUR_MS = 3_600_000
STAMPED = f"""
const {{ entryId }} = await {SPECIES};
const [line] = (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll())).filter((one) => one.id === entryId);
return parseInt(line.s.slice(0, 12), 16) - Date.now();
"""
"""How far ahead of the time an entry is stamped, ms."""


def test_a_clock_that_was_set_right_without_a_network_stamps_nothing_ahead_of_its_time(lead) -> None:
    lead.do("globalThis.skewMs = told;", -73 * HOUR_MS)
    lead.sync()
    assert abs(lead.do(STAMPED)) < 60_000, "while the clock runs on, what the server said is heeded"
    lead.do("globalThis.skewMs = 0;")
    assert abs(lead.do(STAMPED)) < 60_000
    lead.do("globalThis.skewMs = told;", 73 * HOUR_MS)
    lead.sync()
    assert abs(lead.do(STAMPED)) < 60_000
    lead.do("globalThis.skewMs = 0;")
    assert abs(lead.do(STAMPED)) < 60_000


def test_a_sync_with_nothing_new_asks_in_less_than_a_kilobyte(lead) -> None:
    lead.write(3)
    lead.sync()
    with lead.page.expect_request("**/api/sync") as asked:
        lead.sync()
    assert len(asked.value.post_data) < 1024


def test_a_long_body_is_sent_packed(lead) -> None:
    lead.write(20)
    with lead.page.expect_request("**/api/sync") as asked:
        assert lead.sync() is True
    assert asked.value.headers["content-encoding"] == "gzip"
    assert lead.states() == ["taken"] * 20


def test_a_phone_taken_off_the_programme_sends_its_last_entries_and_wipes_what_is_not_open(lead, live_server) -> None:
    lead.do("await phone.write('person', null, { display_name: 'Ada', role: 'leader' }, { siteId: null });")
    lead.write()
    lead.sync()
    lead.write()
    live_server.programme.db().conn.execute("UPDATE device SET revoked_at = 1")
    lead.sync()
    assert lead.state["revoked"] is True
    assert lead.do("return (await phone.rows('person')).length;") == 0
    assert lead.do("return (await phone.rows('species')).length;") == 1
    assert lead.states() == ["taken", "taken", "held"]
