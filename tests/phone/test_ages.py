"""App and server of different ages: what one of 0.2.0 and one of today say to each other loses nothing."""

from __future__ import annotations

import pytest

from tests.phone.old_app import old_phone
from tests.phone.old_server import old_server
from tests.phone.phone_page import PhonePage
from tests.phone.test_lanes import head_of, name, names

pytestmark = pytest.mark.browser


def test_the_app_of_today_works_with_a_server_of_0_2_0(browser, tmp_path) -> None:
    with old_server(tmp_path) as (url, code):
        context = browser.new_context()
        phone = PhonePage(context, url)
        phone.join(code)
        phone.write(3)
        assert phone.sync() is True
        assert phone.states() == ["taken"] * 3
        assert head_of(phone)["past"] is None
        phone.do("await phone.exportFile();")
        phone.write(2)
        assert phone.sync() is True
        other = PhonePage(browser.new_context(), url)
        other.join(phone.do("return (await phone.api('POST', '/api/invitations', { role: 'lead', uses: 1, hours: 24 })).code;"))
        assert other.do("return (await phone.rows('species')).length;") == 5
        phone.page.reload()
        phone.write()
        assert phone.sync() is True
        assert phone.states() == ["taken"] * 6
        other.page.context.close()
        context.close()


def test_an_app_of_0_2_0_works_with_the_server_of_today(context, live_server) -> None:
    phone = old_phone(context, live_server.url)
    phone.join(live_server.join_link("lead").split("=")[1])
    phone.do(name("one") + name("two"))
    assert phone.sync() is True
    assert phone.states() == ["taken"] * 2
    phone.do("await phone.write('species', (await phone.rows('species'))[0].record_id, { common_name: 'wrack' }, { siteId: null });")
    assert phone.sync() is True
    assert phone.states() == ["taken"] * 3


PLAN = """const recordId = phone.newId ? phone.newId(told.site) : crypto.randomUUID();
  for (const fields of told.entries) await phone.write('visit_plan', recordId, fields, { siteId: told.site });
  return recordId;"""
PLANNED = {"window_id": "w", "low_at": "2026-06-14T12:00:00Z", "made_at": "2026-06-13T08:00:00Z", "teams": 1, "stops": "1 00000000-0000-4000-8000-0000000000b1 -40.25 5 8"}
STOPS = [{"team": 1, "stop_kind": "unit", "stop_id": "00000000-0000-4000-8000-0000000000b1", "after_low_min": -40.25, "takes_min": 5, "weight": 8}]
SITE_ID = "00000000-0000-4000-8000-00000000000a"
STOPS_OF = """const { stopsOf } = await import('/views/plan.js');
  return stopsOf(await phone.row('visit_plan', told));"""


def test_an_app_of_0_2_0_and_one_of_today_read_each_others_plans(browser, context, lead, live_server) -> None:
    old = old_phone(browser.new_context(), live_server.url)
    old.join(live_server.join_link("lead").split("=")[1])
    listed = lead.do(PLAN, {"site": SITE_ID, "entries": [PLANNED, {"planned_stops": STOPS}]})
    texts = old.do(PLAN, {"site": SITE_ID, "entries": [PLANNED]})
    for phone in (lead, old, lead, old):
        assert phone.sync() is True
    assert lead.states() == ["taken", "taken"] and old.states() == ["taken"]
    assert [old.do("return (await phone.row('visit_plan', told)).stops;", one) for one in (listed, texts)] == [PLANNED["stops"]] * 2
    assert lead.do(STOPS_OF, listed) == lead.do(STOPS_OF, texts) == [
        {"team": 1, "stopId": STOPS[0]["stop_id"], "beginsMs": 1_781_435_985_000, "minutes": 5, "weight": 8}
    ]
    assert old.do("return phone.disagreements ? (await phone.disagreements('visit_plan', told)).length : 0;", listed) == 0
    old.page.context.close()


def test_an_app_of_0_2_0_that_joins_again_writes_what_was_unsent_in_a_new_lane_and_comes_to_rest(context, live_server) -> None:
    phone = old_phone(context, live_server.url)
    phone.join(live_server.join_link("lead").split("=")[1])
    phone.do(name("one"))
    phone.sync()
    phone.do(name("two"))
    context.clear_cookies()
    phone.join(live_server.join_link("lead").split("=")[1])
    phone.sync()
    assert names(live_server) == ["one", "two"]
    assert set(phone.states()) == {"taken"}
    asked = []
    phone.page.on("request", lambda request: asked.append(request.url))
    assert phone.sync() is True
    assert len(asked) <= 4, "it asks round after round"


def test_going_back_from_a_phone_in_the_middle_of_its_past_starts_again_and_has_all(browser, lead, live_server) -> None:
    """The app of 0.2.0 knows nothing of earlier years that are still to come: its cursor is refused, and it reads from the start."""
    lead.do("""for (let turn = 0; turn < 12; turn++) {
      await phone.write('sighting', null, { found: 'seen', seen_at: '2026-09-22T06:12:00Z' }, { siteId: told });
    }""", "00000000-0000-4000-8000-00000000000a")
    lead.sync()
    live_server.programme.db().conn.execute("UPDATE log SET received_at = 1")
    context = browser.new_context()
    new = PhonePage(context, live_server.url)
    asked: list[str] = []

    def cut(route) -> None:
        asked.append(route.request.url)
        if len(asked) == 1:
            route.continue_()
        else:
            route.abort("connectionreset")

    new.page.route("**/api/sync", cut)
    new.do("await phone.join(told, 'a phone');", live_server.join_link("lead").split("=")[1])
    new.sync()
    assert head_of(new)["past"] is not None
    new.page.close()
    old = old_phone(context, live_server.url)
    assert old.sync() is True
    assert old.do("return (await phone.rows('sighting')).length;") == 12
    context.close()
