"""What is open when a season is closed, and the page for the next leads: counted from the records, naming nobody."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from fieldlog.store import Programme, set_setting
from tests.a_phone import Phone

SITE = "00000000-0000-4000-8000-00000000000a"
PEOPLE = {"ines": "Ines Calder", "sam": "Sam Petrel"}


def id_of(number: int) -> str:
    return f"{number:08d}-0000-4000-8000-000000000000"


@pytest.fixture
def now_ms(now) -> int:
    return int(now().timestamp() * 1000)


@pytest.fixture
def lead(client_of, now_ms: int) -> Phone:
    """A lead of a site with two people, a mark, a plot and one unit."""
    phone = Phone(client_of("lead"), now_ms)
    phone.note("site", SITE, SITE, name="Alder Spit", zone="America/New_York", emergency_card="Emergency: 911")
    for number, name in enumerate(PEOPLE.values(), 1):
        phone.note("person", id_of(number), SITE, display_name=name)
    phone.note("control_mark", id_of(5), SITE, label="M1", east_m=1.5, north_m=-2, level_m=1.25, level_datum="MLLW")
    phone.note("plot", id_of(6), SITE, label="Q1")
    phone.note("row", id_of(8), SITE)
    phone.note("unit", id_of(7), SITE, tag="A010", row_id=id_of(8), tag_made_here=False)
    phone.sync()
    return phone


def matters(client: FlaskClient) -> dict[str, dict]:
    answer = client.get(f"/api/sites/{SITE}/open-matters")
    assert answer.status_code == 200, answer.json
    return {matter["word"]: matter for matter in answer.json["matters"]}


def test_who_is_out_while_a_season_is_closed_is_not_signed_out(lead: Phone, now) -> None:
    """It said that everyone was, of people on a visit that went on."""
    lead.note("sign_in", id_of(30), SITE, person_id=id_of(2), in_at=now().strftime("%Y-%m-%dT%H:%M:%S.000Z"))
    lead.sync()
    told = matters(lead.client)["people"]
    assert (told["count"], told["sentence"], told["details"]) == (1, "People not signed out: 1. In within the last 16 h: 1.", [])


def test_each_kind_of_open_thing_is_counted_also_where_there_is_none(lead: Phone) -> None:
    told = matters(lead.client)
    assert {word: matter["count"] for word, matter in told.items()} == {"flags": 0, "held": 0, "unsent": 0, "visits": 0, "people": 0, "plots": 1}
    assert told["visits"]["sentence"] == "Every visit has an end."
    lead.note("visit", id_of(20), SITE, purpose="monitoring", started_at="2026-11-21T14:00:00.000Z")
    lead.note("visit", id_of(21), SITE, purpose="monitoring", started_at="2026-11-22T14:00:00.000Z", ended_at="2026-11-22T16:00:00.000Z")
    lead.note("visit", id_of(22), SITE, purpose="monitoring", started_at="2026-11-21T14:01:00.000Z", joined_to=id_of(20))
    lead.note("sign_in", id_of(30), SITE, person_id=id_of(2), in_at="2026-11-21T14:05:00.000Z")
    lead.note("sighting", id_of(31), SITE, found="seen", seen_at="2026-11-21T14:05:00.000Z", taxon="Crab", count=-4)
    lead.sync()
    lead.client.post("/api/sync", data=lead.body(mine=len(lead.texts) + 3, person=id_of(1)))
    told = matters(lead.client)
    assert (told["visits"]["sentence"], told["visits"]["details"]) == ("Visits without an end: 1.", ["Sat, Nov 21, 2026"])
    assert told["people"]["sentence"] == "People not signed out: 1."
    assert told["people"]["details"] == ["Sam Petrel: not signed out. In since Nov 21, 2026, 09:05. Ask, then give a time or a reason under People."]
    assert told["held"]["count"] == 1
    assert told["unsent"]["details"] == ["Ines Calder: 3 entries unsent on Nov 25, 2026"]


def test_only_leads_of_the_site_ask(lead: Phone, client_of) -> None:
    for role in ("crew", "desk", "reader"):
        for path in ("open-matters", "successors"):
            assert client_of(role, SITE).get(f"/api/sites/{SITE}/{path}").status_code == 403
    assert client_of("lead", SITE).get(f"/api/sites/{SITE}/successors").status_code == 200
    lead.note("site", id_of(9), id_of(9), name="Skein Bay")
    lead.sync()
    assert client_of("lead", SITE).get(f"/api/sites/{id_of(9)}/successors").status_code == 403


def page(client: FlaskClient) -> str:
    answer = client.get(f"/api/sites/{SITE}/successors")
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_the_page_says_where_things_stand_and_names_nobody(lead: Phone, programme: Programme) -> None:
    set_setting(programme.db(), "address", "https://reef.example.org")
    assert "No method note was written for this site." in page(lead.client)
    assert "The season is not closed yet." in page(lead.client)
    lead.note("visit", id_of(20), SITE, purpose="monitoring", started_at="2026-11-21T14:00:00.000Z")
    lead.note("unit_check", id_of(40), SITE, unit_id=id_of(7), checked_at="2026-11-21T14:30:00.000Z", found_state="seen")
    lead.note("unit_check", id_of(41), SITE, unit_id=id_of(7), checked_at="2025-11-21T14:30:00.000Z", found_state="seen")
    lead.note("sign_in", id_of(30), SITE, person_id=id_of(2), in_at="2026-11-21T14:05:00.000Z")
    lead.note("method_note", id_of(50), SITE, about="unit_check", from_day="2026-04-02", note="Exposed height is read on the seaward face.")
    lead.note(
        "season_closing", id_of(60), SITE, season_year=2026, role_contacts="Harbor office, 555 0142\nKeys: the boat house", word="Renew the permit in March.",
        closed_on="2026-11-24",
    )  # fmt: skip
    assert {ack[2] for ack in lead.sync().json["acks"]} == {"ok"}
    lead.client.post("/api/invitations", json={"role": "crew", "site_id": SITE, "uses": 20, "hours": 48})
    said = page(lead.client)
    for words in (
        "Alder Spit, season 2026", "The season was closed on Nov 24, 2026.", "Unit checks 1", "Visits 1", "Units 1", "Visits without an end: 1.",
        "People not signed out: 1.", "Unit checks since Apr 2, 2026 Exposed height is read on the seaward face.", "Harbor office, 555 0142",
        "Renew the permit in March.", "Emergency: 911", "https://reef.example.org", "Crew, this site: 20 uses left, until Nov 27, 2026, 01:00",
        "M1 1.500 m -2.000 m 1.250 m above MLLW", "People who have joined as leads: 1.", "Last backup none yet",
    ):  # fmt: skip
        assert words in said, words
    assert [name for name in PEOPLE.values() if name in said] == []


def test_a_year_is_counted_by_the_sites_own_clock(lead: Phone) -> None:
    """03:00 UTC on Jan 1, 2027 is the evening before in New York."""
    lead.note("season_closing", id_of(60), SITE, season_year=2025)
    lead.note("unit_check", id_of(40), SITE, unit_id=id_of(7), checked_at="2026-01-01T03:00:00.000Z", found_state="seen")
    lead.note("unit_check", id_of(41), SITE, unit_id=id_of(7), checked_at="2026-01-01T06:00:00.000Z", found_state="seen")
    lead.sync()
    assert "Recorded in 2025:" in page(lead.client)
    assert "Unit checks 1" in page(lead.client)


def test_who_has_left_is_a_leads_word(lead: Phone, client_of, now_ms: int) -> None:
    crew = Phone(client_of("crew", SITE), now_ms)
    crew.made.add(("person", id_of(2)))
    crew.note("person", id_of(2), SITE, left_on="2026-11-25")
    (ack,) = crew.sync().json["acks"]
    assert ack[2] != "ok"
    lead.note("person", id_of(2), SITE, left_on="2026-11-25", display_name="S. P.")
    assert lead.sync().json["acks"][-1][2] == "ok"
