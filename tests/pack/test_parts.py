"""Parts of a pack: who is given which, what makes which anew, and how many flags travel."""

from __future__ import annotations

import gzip
import json
from datetime import timedelta

import pytest

from a_phone import Phone
from fieldlog.pack.kept import KeptParts, Part, part_of
from fieldlog.store import write
from fieldlog.windows.constants import CONSTANTS
from tests.sync.lines import record_id

SITE_1, SITE_2, UNIT = record_id("site 1"), record_id("site 2"), record_id("unit")
READY = {
    "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
    "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
    "check_every_days": 30,
}  # fmt: skip
PARTS = ("windows", "state")


@pytest.fixture
def lead(client_of, now, programme) -> Phone:
    """A lead's phone that set two sites up; what is flagged of them by now is no matter."""
    phone = Phone(client_of("lead"), int(now().timestamp() * 1000))
    phone.note("site", SITE_1, SITE_1, name="Alder Spit", **READY)
    phone.note("site", SITE_2, SITE_2, name="Gannet Reach", **READY)
    phone.note("unit", UNIT, SITE_1, tag="A1")
    phone.sync()
    with write(programme.db()):
        programme.db().conn.execute("DELETE FROM flag")
    return phone


def index_of(client) -> dict:
    answer = client.get("/api/pack/index")
    assert answer.status_code == 200
    return answer.json


def add_flags(db, count: int, severity: str = "look", raised_at: str = "2026-11-01T06:00:00Z", state: str = "open", **more: str) -> None:
    settled_at = more.get("settled_at")
    with write(db):
        db.conn.executemany(
            "INSERT INTO flag VALUES (?, 'leaning', ?, 'unit', ?, ?, 'A1: leaning.', '{}', ?, NULL, ?, ?, NULL, NULL)",
            [(f"{severity}{state}{raised_at}{n:04}", severity, UNIT, SITE_1, raised_at, state, settled_at) for n in range(count)],
        )


def test_the_index_names_every_part_by_the_tag_that_it_has(lead) -> None:
    index = index_of(lead.client)
    assert set(index["parts"]) == {"forms", "tray", *(f"sites/{site}/{part}" for site in (SITE_1, SITE_2) for part in PARTS)}
    for address, tag in index["parts"].items():
        answer = lead.client.get(f"/api/pack/{address}")
        assert answer.headers["ETag"] == f'"{tag}"'
        again = lead.client.get(f"/api/pack/{address}", headers={"If-None-Match": f'"{tag}"'})
        assert (again.status_code, again.data) == (304, b"")
    assert set(index["calendars"]) == {SITE_1, SITE_2}


def test_the_parts_together_are_what_older_apps_get_in_one_document(lead) -> None:
    document, index = lead.client.get("/api/pack").json, index_of(lead.client)
    parts = {address: lead.client.get(f"/api/pack/{address}").json for address in index["parts"]}
    for site in (SITE_1, SITE_2):
        whole = parts[f"sites/{site}/windows"] | parts[f"sites/{site}/state"] | {"calendar": index["calendars"][site]}
        assert document["sites"][site] == whole
        assert whole["windows"]["levels"]["site"]["daylight"]
        assert whole["constants"] == CONSTANTS
        assert {moon for moon, _ in whole["moons"]} == {"new", "full"}
    assert document["forms"] == parts["forms"]["forms"]
    assert document["tray"] == parts["tray"]["tray"] == []
    assert [device["role"] for device in document["devices"]] == ["lead"]
    assert {name: document[name] for name in ("etag", "me", "programme", "attribution")} == {
        name: index[name] for name in ("etag", "me", "programme", "attribution")
    }


def test_an_older_app_finds_in_the_document_the_tag_that_its_sync_named(lead, client_of) -> None:
    crew = Phone(client_of("crew", SITE_1), lead.now_ms)
    named = crew.sync().json["pack"]
    document = crew.client.get("/api/pack", headers={"If-None-Match": '"of yesterday"'}).json
    assert crew.sync().json["pack"] == document["etag"] != named, "its calendar address was made with the first document"
    assert crew.client.get("/api/pack", headers={"If-None-Match": f'"{document["etag"]}"'}).status_code == 304
    lead.note("unit", record_id("unit 2"), SITE_1, tag="A2")
    lead.sync()
    assert crew.sync().json["pack"] != document["etag"]


def test_a_reader_learns_nothing_of_people_visits_and_sign_ins_from_flags(lead, client_of) -> None:
    crew = Phone(client_of("crew", SITE_1), lead.now_ms)
    crew.note("sign_in", record_id("too late"), SITE_1, person_id=record_id("nobody"), in_at="2027-11-25T05:00:00Z")
    crew.note("visit", record_id("slow"), SITE_1, purpose="walk", started_at="2026-11-25T05:00:00Z", walk_timed_min=500)
    crew.note("sighting", record_id("odd"), SITE_1, species_id=record_id("no such species"))
    assert {ack[2] for ack in crew.sync().json["acks"]} == {"ok"}

    def told(client) -> tuple[set[str], int]:
        state = client.get(f"/api/pack/sites/{SITE_1}/state").json
        document = client.get("/api/pack").json["sites"][SITE_1]
        assert document["flags"] == state["flags"]
        return {flag["subject"]["kind"] for flag in state["flags"]}, state["flag_counts"]["open"]

    kinds, count = told(crew.client)
    reader_kinds, reader_count = told(client_of("reader", SITE_1))
    assert {"sign_in", "visit", "sighting"} <= kinds
    assert "sighting" in reader_kinds and not reader_kinds & {"sign_in", "visit", "person"}
    assert reader_count == count - 3, "two of the sign-in, one of the visit"


def test_parts_are_packed_for_who_takes_gzip_alone(lead) -> None:
    address = f"/api/pack/sites/{SITE_1}/windows"
    packed, plain = lead.client.get(address, headers={"Accept-Encoding": "gzip"}), lead.client.get(address)
    assert (packed.content_encoding, plain.content_encoding) == ("gzip", None)
    assert gzip.decompress(packed.data) == plain.data
    assert packed.headers["Vary"] == plain.headers["Vary"] == "Accept-Encoding"


ROUTES = ("/api/pack", "/api/pack/index", "/api/pack/forms", "/api/pack/tray", *(f"/api/pack/sites/{SITE_1}/{part}" for part in (*PARTS, "visits")))


@pytest.mark.parametrize("route", ROUTES)
def test_nothing_of_a_pack_is_given_to_strangers_or_to_who_was_taken_off(lead, client_of, app, route: str) -> None:
    assert app.test_client().get(route).status_code == 401
    crew = client_of("lead", SITE_1)
    assert crew.get(route).status_code == 200
    assert lead.client.delete(f"/api/devices/{crew.device_id}").status_code == 204
    assert (crew.get(route).status_code, crew.get(route).json["word"]) == (403, "revoked")


def test_a_browser_that_does_not_know_who_it_is_may_ask_without_fault(lead, app) -> None:
    """A first visit is no failed request in a browser's own list of faults."""
    answer = app.test_client().get("/api/pack/index?only_known=1")
    assert (answer.status_code, answer.data) == (204, b"")
    assert lead.client.get("/api/pack/index?only_known=1").json == lead.client.get("/api/pack/index").json


@pytest.mark.parametrize("role", ["lead", "crew", "desk", "reader"])
def test_the_flags_of_a_unit_are_told_however_long_ago_they_were_settled(lead, client_of, programme, role: str) -> None:
    seen = {"unit_id": UNIT, "found_state": "seen"}
    lead.note("unit_check", record_id("leaning"), SITE_1, checked_at="2026-01-05T05:00:00Z", tilt_deg=20, **seen)
    lead.note("unit_check", record_id("upright"), SITE_1, checked_at="2026-02-05T05:00:00Z", tilt_deg=2, **seen)
    lead.sync()
    assert "leaning" not in [flag["rule"] for flag in lead.client.get(f"/api/pack/sites/{SITE_1}/state").json["flags"]]
    client = client_of(role, SITE_1)
    (flag,) = client.get(f"/api/pack/sites/{SITE_1}/units/{UNIT}/flags").json["flags"]
    assert (flag["rule"], flag["state"], flag["settled_at"], flag["settled_by"]) == ("leaning", "settled", "2026-02-05T05:00:00.000Z", record_id("upright"))
    assert client.get(f"/api/pack/sites/{SITE_1}/units/{record_id('no unit')}/flags").json == {"flags": []}
    assert lead.client.get(f"/api/pack/sites/{SITE_2}/units/{UNIT}/flags").json == {"flags": []}, "a unit of another site"
    assert client.get(f"/api/pack/sites/{SITE_2}/units/{UNIT}/flags").status_code == 403


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_only_leads_are_told_of_held_lines_and_devices(lead, client_of, role: str) -> None:
    client = client_of(role, SITE_1)
    assert client.get("/api/pack/tray").status_code == 403
    assert "tray" not in index_of(client)["parts"]
    assert {"tray", "devices"} & set(client.get("/api/pack").json) == set()


@pytest.mark.parametrize("role", ["lead", "crew", "desk", "reader"])
def test_a_site_is_given_to_its_own_devices_alone(lead, client_of, role: str) -> None:
    client = client_of(role, SITE_2)
    sites = {address.split("/")[1] for address in index_of(client)["parts"] if address.startswith("sites/")}
    assert sites == set(index_of(client)["calendars"]) == set(client.get("/api/pack").json["sites"]) == {SITE_2}
    for part in PARTS:
        assert client.get(f"/api/pack/sites/{SITE_1}/{part}").status_code == 403
        assert client.get(f"/api/pack/sites/{SITE_2}/{part}").status_code == 200
        assert client.get(f"/api/pack/sites/{record_id('nowhere')}/{part}").status_code in (403, 404)


def test_no_two_devices_share_a_calendar_address_though_they_share_parts(lead, client_of) -> None:
    indices = [index_of(client_of("crew", SITE_1)) for _ in range(2)]
    assert indices[0]["parts"] == indices[1]["parts"]
    assert indices[0]["calendars"] != indices[1]["calendars"]
    for address in indices[0]["parts"]:
        assert b"/calendar/" not in lead.client.get(f"/api/pack/{address}").data


def test_a_check_makes_a_sites_state_anew_and_never_its_windows(lead, client_of, now) -> None:
    crew = Phone(client_of("crew", SITE_1), lead.now_ms)
    before = index_of(crew.client)["parts"]
    crew.note("unit_check", record_id("check"), SITE_1, unit_id=UNIT, checked_at="2026-11-25T05:00:00Z", found_state="seen", tilt_deg=40)
    crew.sync()
    after = index_of(crew.client)["parts"]
    assert {address for address in after if after[address] != before[address]} == {f"sites/{SITE_1}/state"}
    lead.note("row", record_id("row"), SITE_1, name="A", bed_level_m=0.3, level_datum="MLLW")
    lead.sync()
    assert index_of(crew.client)["parts"][f"sites/{SITE_1}/windows"] != after[f"sites/{SITE_1}/windows"]
    now.forward(days=1)
    assert index_of(crew.client)["parts"][f"sites/{SITE_1}/windows"] != after[f"sites/{SITE_1}/windows"]


def test_the_gravest_200_open_flags_travel_with_the_count_of_all(lead, programme) -> None:
    db = programme.db()
    add_flags(db, 150, "look", "2026-11-20T06:00:00Z")
    add_flags(db, 90, "act", "2026-10-01T06:00:00Z", "reopened")
    add_flags(db, 70, "act", "2026-09-01T06:00:00Z")
    add_flags(db, 130, "look", "2026-11-01T06:00:00Z", "settled", settled_at="2026-11-10T06:00:00Z")
    add_flags(db, 7, "look", "2026-08-01T06:00:00Z", "settled", settled_at="2026-10-10T06:00:00Z")
    state = lead.client.get(f"/api/pack/sites/{SITE_1}/state").json
    assert state["flag_counts"] == {"open": 310, "settled": 130}
    given = [(flag["severity"], flag["state"], flag["raised_at"][:10]) for flag in state["flags"]]
    assert given == (
        [("act", "reopened", "2026-10-01")] * 90 + [("act", "open", "2026-09-01")] * 70 + [("look", "open", "2026-11-20")] * 40
        + [("look", "settled", "2026-11-01")] * 100
    )  # fmt: skip


def test_severity_counts_by_its_number_and_not_by_the_alphabet(lead, programme) -> None:
    add_flags(programme.db(), 150, "about to be a rule", "2026-11-20T06:00:00Z")
    add_flags(programme.db(), 150, "look", "2026-09-01T06:00:00Z")
    given = [flag["severity"] for flag in lead.client.get(f"/api/pack/sites/{SITE_1}/state").json["flags"]]
    assert given == ["look"] * 150 + ["about to be a rule"] * 50


def test_overdue_units_count_among_the_flags_of_their_site(lead) -> None:
    lead.note("unit_event", record_id("placed"), SITE_1, unit_id=UNIT, event="placed", event_at="2026-09-01T06:00:00Z")
    lead.sync()
    state = lead.client.get(f"/api/pack/sites/{SITE_1}/state").json
    assert "overdue" in [flag["rule"] for flag in state["flags"]]
    assert state["flag_counts"]["open"] == len(state["flags"])


def test_a_packs_size_does_not_grow_with_its_flags(lead, programme) -> None:
    add_flags(programme.db(), 696)
    index = index_of(lead.client)
    mine = [address for address in index["parts"] if SITE_2 not in address]
    sizes = [len(lead.client.get(f"/api/pack/{address}", headers={"Accept-Encoding": "gzip"}).data) for address in mine]
    assert sum(sizes) + len(gzip.compress(json.dumps(index).encode())) <= 60 * 1024


def test_what_is_kept_stays_within_its_bytes_and_the_least_asked_for_goes() -> None:
    kept = KeptParts(most_bytes=3000)
    made: list[str] = []

    def ask(name: str) -> None:
        kept.of((name,), lambda: (made.append(name), part_of({"a": [n * 7919 % 104729 for n in range(400)]}))[1])

    for name in ("a", "b", "a", "c", "a", "b"):
        ask(name)
    assert kept.size <= 3000
    assert made == ["a", "b", "c", "b"], "one of three fits no more; a was asked for again and again"


def test_a_part_that_cannot_be_made_leaves_nothing_behind() -> None:
    kept = KeptParts()

    def fail() -> Part:
        raise ValueError("no part")

    for number in range(3):
        with pytest.raises(ValueError, match="no part"):
            kept.of((str(number),), fail)
    assert not kept._making
    assert kept.of(("0",), lambda: part_of({"a": 1})).text() == b'{"a":1}'


def test_a_part_that_is_kept_twice_counts_once() -> None:
    kept = KeptParts()
    for _ in range(2):
        kept._keep(("a",), part_of({"a": 1}))
    assert kept.size == len(part_of({"a": 1}).packed)


def test_an_evening_just_gone_is_still_in_the_pack_after_midnight(lead, now) -> None:
    now.forward(hours=19)
    windows = lead.client.get(f"/api/pack/sites/{SITE_1}/windows").json["windows"]
    assert windows["from_day"] == str((now() - timedelta(days=1)).date())
