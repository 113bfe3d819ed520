"""A phone takes the parts of its pack that changed, of the sites it shows, and loses none to a cut, an older server or an older app."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from a_phone import Phone
from tests.live_server import code_for
from tests.phone.phone_page import PhonePage
from tests.sync.lines import record_id

pytestmark = pytest.mark.browser
SITES = [record_id(f"site {n}") for n in range(6)]
READY = {
    "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
    "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
}  # fmt: skip
PACKED = """Object.fromEntries(Object.entries(phone.pack()?.sites ?? {}).map(([id, site]) =>
  [id, [Boolean(site.windows), (site.flags ?? null) && site.flags.length]]))"""


@pytest.fixture
def lead_phone(live_server) -> Phone:
    """A lead's phone without a screen that set six sites up."""
    now_ms = int(datetime.now(UTC).timestamp() * 1000)
    client = live_server.app.test_client()
    answer = client.post("/api/join", json={"code": code_for(live_server.programme, "lead", None, now_ms), "device_name": "a laptop"})
    client.device_id = answer.json["device_id"]
    phone = Phone(client, now_ms)
    for n, site in enumerate(SITES):
        phone.note("site", site, site, name=f"Site {n}", **READY)
    phone.sync()
    return phone


@pytest.fixture
def joined(context, live_server, lead_phone):
    """joined(role, site_id=None): a phone that joined, and the addresses below /api/ that it asked for since `asked.clear()`."""

    def made(role: str, site_id: str | None = None) -> tuple[PhonePage, list[str]]:
        phone, asked = PhonePage(context, live_server.url), []
        phone.page.on("request", lambda request: asked.append(request.url.split("/api/")[-1]))
        phone.join(live_server.join_link(role, site_id).split("=")[1])
        return phone, asked

    return made


def parts(asked: list[str]) -> list[str]:
    return sorted(address.removeprefix("pack/") for address in asked if address.startswith("pack"))


def an_older_server(context) -> Callable[[], None]:
    """From now on the server knows no parts. Returns what ends that."""
    pattern = "**/api/pack/**"
    headers = {"X-Fieldlog": "1", "Content-Type": "application/problem+json"}
    context.route(pattern, lambda route: route.fulfill(status=404, headers=headers, body='{"word": "not-found", "detail": "Nothing here."}'))
    return lambda: context.unroute(pattern)


def test_a_crews_phone_takes_its_site_whole_and_then_only_what_changed(joined, lead_phone) -> None:
    phone, asked = joined("crew", SITES[0])
    whole = ["forms", f"sites/{SITES[0]}/state", f"sites/{SITES[0]}/windows"]
    assert parts(asked) == sorted(["index", *whole])
    assert phone.do(f"return {PACKED};") == {SITES[0]: [True, 0]}
    assert phone.do("return Boolean(phone.pack().forms.kinds.site && phone.pack().sites[told].calendar);", SITES[0])
    asked.clear()
    phone.sync()
    assert parts(asked) == []
    lead_phone.note("closure", record_id("closure"), SITES[0], name="Nesting", from_day="2030-04-01", to_day="2030-06-01", closure="care")
    lead_phone.sync()
    phone.sync()
    assert parts(asked) == sorted(["index", *whole[1:]]), "a closure changes windows too"
    asked.clear()
    lead_phone.note("unit", record_id("unit"), SITES[0], tag="A1", slot_number=1)
    lead_phone.note("unit_event", record_id("placed"), SITES[0], unit_id=record_id("unit"), event="placed", event_at="2026-01-05T06:00:00Z")
    lead_phone.note("site", SITES[0], SITES[0], check_every_days=30)
    lead_phone.sync()
    phone.sync()
    assert parts(asked) == sorted(["index", f"sites/{SITES[0]}/state"])
    assert phone.do("return phone.pack().sites[told].flags.some((flag) => flag.rule === 'overdue');", SITES[0])


def test_a_lead_of_many_sites_takes_a_site_when_it_is_shown_and_keeps_it(joined, context) -> None:
    phone, asked = joined("lead")
    assert parts(asked) == ["forms", "index", "tray"]
    phone.do("await phone.setSite(told); await phone.syncNow();", SITES[1])
    asked.clear()
    phone.do("await phone.setSite(told); await phone.syncNow();", SITES[2])
    assert parts(asked) == sorted(["index", f"sites/{SITES[2]}/state", f"sites/{SITES[2]}/windows"])
    asked.clear()
    phone.do("await phone.setSite(told); await phone.syncNow();", SITES[1])
    assert parts(asked) == []
    phone.page.reload()
    phone.do("return null;")
    context.set_offline(True)
    here = phone.do(f"return {PACKED};")
    assert [site for site in SITES if here[site][0]] == SITES[1:3]
    assert phone.do("return phone.windows(told, null).length;", SITES[2]) > 500


def test_a_cut_on_the_way_loses_no_part_that_came(joined, context, lead_phone) -> None:
    phone, asked = joined("crew", SITES[0])
    lead_phone.note("site", SITES[0], SITES[0], work_level_m=0.7)
    lead_phone.note("closure", record_id("closure"), SITES[0], name="Nesting", from_day="2030-04-01", to_day="2030-06-01", closure="care")
    lead_phone.sync()
    context.route("**/windows", lambda route: route.abort())
    assert not phone.sync()
    assert phone.do(f"return {PACKED};") == {SITES[0]: [True, 0]}, "what was here stays"
    context.unroute("**/windows")
    asked.clear()
    assert phone.sync()
    assert f"sites/{SITES[0]}/windows" in parts(asked)
    assert phone.do("return phone.pack().sites[told].windows.levels.site.bed_level_m ?? null;", SITES[0]) is None
    asked.clear()
    phone.sync()
    assert parts(asked) == []


def test_an_older_server_still_gives_its_pack_and_a_newer_one_its_parts_again(joined, context, lead_phone) -> None:
    ends = an_older_server(context)
    phone, asked = joined("crew", SITES[0])
    assert parts(asked) == ["index", "pack"]
    assert phone.do(f"return {PACKED};") == {SITES[0]: [True, 0]}
    asked.clear()
    phone.sync()
    assert parts(asked) == []
    ends()
    lead_phone.note("unit", record_id("unit"), SITES[0], tag="A1")
    lead_phone.sync()
    phone.sync()
    assert parts(asked) == sorted(["index", "forms", f"sites/{SITES[0]}/state", f"sites/{SITES[0]}/windows"])
    ends = an_older_server(context)
    lead_phone.note("unit", record_id("unit 2"), SITES[0], tag="A2")
    lead_phone.sync()
    asked.clear()
    phone.sync()
    assert parts(asked) == ["index", "pack"]
    phone.page.reload()
    assert phone.do("return phone.pack().sites[told].flags.length;", SITES[0]) == phone.do("return phone.pack().sites[told].flag_counts.open;", SITES[0])
    ends()


def test_what_an_older_app_had_kept_serves_until_the_parts_came(joined, context, live_server) -> None:
    phone, _ = joined("crew", SITES[0])
    document = phone.page.evaluate("async () => (await fetch('/api/pack')).text()")
    phone.do(
        """await phone.store.run(['meta'], 'readwrite', (tx) => { tx.store.delete(IDBKeyRange.bound('pack', 'pack;')); });
        await phone.keepMeta({ pack: told });""",
        document,
    )
    phone.page.reload()
    phone.do("return null;")
    context.set_offline(True)
    assert phone.do(f"return {PACKED};") == {SITES[0]: [True, 0]}
    context.set_offline(False)
    assert phone.sync()
    assert phone.do("return phone.pack().programme.name;") == "Skein Bay"


def test_a_part_that_is_no_longer_this_phones_leaves_it(joined, lead_phone) -> None:
    phone, _ = joined("lead", SITES[0])
    assert phone.do("return phone.pack().tray;") == []
    device = phone.do("return phone.me.device_id;")
    changed = lead_phone.client.patch(f"/api/devices/{device}", json={"role": "crew", "sites": [SITES[3]]})
    assert changed.status_code == 200
    phone.sync()
    assert phone.do(f"return {PACKED};") == {SITES[3]: [True, 0]}
    kept = phone.do("return phone.store.run(['meta'], 'readonly', (tx) => tx.store.getAllKeys());")
    assert sorted(name for name in kept if name.startswith("pack")) == sorted(
        ["pack:index", "pack:forms", f"pack:sites/{SITES[3]}/state", f"pack:sites/{SITES[3]}/windows"]
    )


@pytest.mark.parametrize("is_older_server", [False, True])
def test_a_lead_that_was_taken_off_keeps_no_held_lines_of_others(joined, context, lead_phone, is_older_server: bool) -> None:
    lead_phone.add(b'{"held": "Bees: carries a pen"}')
    lead_phone.sync()
    ends = an_older_server(context) if is_older_server else lambda: None
    phone, _ = joined("lead")
    everything = "return JSON.stringify(await phone.store.run(['meta'], 'readonly', (tx) => tx.store.getAll()));"
    assert "carries a pen" in phone.do(everything)
    assert lead_phone.client.delete(f"/api/devices/{phone.do('return phone.me.device_id;')}").status_code == 204
    phone.sync()
    assert phone.state["revoked"]
    assert "carries a pen" not in phone.do(everything)
    phone.page.reload()
    assert phone.do("return Boolean(phone.pack().forms.kinds.site);"), "what is open stays"
    ends()
