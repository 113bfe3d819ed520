"""A phone with the app of 0.1.0 syncs with today's server, and goes on with today's app: nothing lost, nothing doubled."""

from __future__ import annotations

import json

import pytest

from tests.phone.old_app import old_phone
from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser


def wrote(phone: PhonePage, *names: str) -> None:
    phone.do("for (const name of told) await phone.write('species', null, { scientific_name: name }, { siteId: null });", list(names))


def test_a_phone_of_0_1_0_syncs_and_goes_on_with_todays_app(context, live_server) -> None:
    other = PhonePage(context.browser.new_context(), live_server.url)
    other.join(live_server.join_link("lead").split("=")[1])
    wrote(other, "Crab")
    assert other.sync() is True
    phone = old_phone(context, live_server.url, is_oldest=True)
    phone.join(live_server.join_link("lead").split("=")[1])
    assert phone.do("return typeof phone.sites;") == "undefined", "this is the old app"
    wrote(phone, "Whelk", "Limpet")
    assert phone.sync() is True
    assert phone.states() == ["taken"] * 2
    assert phone.do("return (await phone.rows('species')).length;") == 3, "it reads what others wrote"
    assert phone.do("return phone.pack().programme.name;") == "Skein Bay"
    wrote(phone, "Barnacle")
    phone.page.close()
    new = PhonePage(context, live_server.url)
    wrote(new, "Mussel")
    assert new.sync() is True
    assert set(new.states()) == {"taken"}
    lines = [json.loads(row[0]) for row in live_server.programme.db().conn.execute("SELECT line FROM log ORDER BY seq")]
    assert [line["f"]["scientific_name"] for line in lines] == ["Crab", "Whelk", "Limpet", "Barnacle", "Mussel"]
    assert live_server.programme.db().execute("SELECT count(*) FROM tray").fetchone() == (0,)
    other.page.context.close()
