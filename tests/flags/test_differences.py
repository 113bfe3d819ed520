"""Whoever may read all of a site reads of two values whose they are, of which visit, who wrote each and when; a stored flag says no name."""

from __future__ import annotations

import json
from typing import Any

import pytest

from fieldlog.access.devices import Device
from fieldlog.flags.differences import with_both_sides
from fieldlog.flags.reading import list_flags, packed_flags
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.receive import receive
from tests.flags.shore import DESIGN, NOW, SITE, UNIT, Shore
from tests.sync.lines import Lane, record_id

KENJI, ADA, BO, VISIT = (record_id(name) for name in ("Kenji", "Ada", "Bo", "a visit"))
NAMES = {KENJI: "Kenji Rourke", ADA: "Ada Finch", BO: "Bo Lind"}


@pytest.fixture
def crew(shore: Shore) -> Shore:
    """A shore with people and a visit of Sep 20, 2026, as the clock there has it."""
    for person, name in NAMES.items():
        shore.write("person", person, display_name=name)
    shore.write("visit", VISIT, purpose="monitoring", started_at="2026-09-21T02:00:00Z")
    return shore


def apart(shore: Shore, kind: str, record: str, **values: tuple[Any, Any]) -> None:
    """Ada's phone and Bo's change one field of a record and know nothing of each other."""
    ((name, two),) = values.items()
    for who, value in zip((ADA, BO), two, strict=True):
        device = Device(f"{who}-device", "lead", None, None, False)
        shore.db.execute("INSERT OR IGNORE INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [device.device_id] * 2)
        lane = Lane(f"{who} {record}", SITE, who)
        lane.now_ms = shore.lane.now_ms + (60_000 if who == BO else 0)
        lane.write(kind, record, {name: value}, y=VISIT)
        reply = receive(shore.db, lane.body(), CATALOGUE, lambda device=device: device, lambda lane=lane: lane.now_ms)
        assert [ack[2] for ack in reply["acks"]] == ["ok"]


def told(shore: Shore) -> list[str]:
    site = next(iter(shore.db.query("SELECT * FROM site WHERE record_id = ?", [SITE])))
    return [flag["sentence"] for flag in with_both_sides(shore.db, site, list_flags(shore.db, SITE, NOW)) if flag["rule"] == "disagreement"]


def test_a_check_is_told_with_its_unit_its_visit_both_values_who_and_when(crew: Shore) -> None:
    check = crew.check("2026-09-21T02:10:00Z", visit=VISIT)
    apart(crew, "unit_check", check, exposed_height_mm=(240, 260))
    assert told(crew) == [
        "A010, visit of Sep 20, 2026: two phones wrote 260 mm (Bo Lind, Sep 21, 2026, 10:14) and 240 mm (Ada Finch, Sep 21, 2026, 10:13) for Exposed height. 260 mm is used until someone decides."
    ]


def test_a_sign_in_is_told_with_the_person_and_no_stored_flag_names_anybody(crew: Shore) -> None:
    turn = crew.write("sign_in", visit=VISIT, person_id=KENJI, in_at="2026-09-21T02:10:00Z", out_at="2026-09-21T03:00:00Z")
    apart(crew, "sign_in", turn, task=("casting", "carrying"))
    (said,) = told(crew)
    assert said.startswith("Kenji Rourke, visit of Sep 20, 2026: two phones wrote Carrying (Bo Lind, ")
    assert said.endswith(" for Task. Carrying is used until someone decides.")
    for flags in (crew.stored(), packed_flags(crew.db, SITE, NOW)):
        assert not any(name in json.dumps(flags) for name in NAMES.values())


def test_ids_moments_and_what_lacks_are_said_in_words(crew: Shore) -> None:
    visit = crew.write("visit", purpose="walk", started_at="2026-09-20T12:00:00Z")
    apart(crew, "visit", visit, leader_id=(KENJI, record_id("nobody yet")))
    apart(crew, "unit", UNIT, design_id=(DESIGN, None))
    apart(crew, "visit", VISIT, observed_at=("2026-09-21T02:30:00Z", "2026-09-21T02:31:00Z"))
    said = sorted(told(crew))
    assert [one.partition(" (")[0] for one in said] == [
        "A010, no visit: two phones wrote nothing",
        "Visit of Sep 20, 2026: two phones wrote Sep 20, 2026, 22:31",
        "Visit of Sep 20, 2026: two phones wrote a person that is not here",
    ]
    assert " and Step block (Ada Finch, " in said[0]
    assert " and Kenji Rourke (Ada Finch, " in said[2]
    assert not any(record in flag["sentence"] for flag in crew.flags("disagreement") for record in (KENJI, DESIGN)), "an id says nothing"


def test_a_person_of_another_site_is_not_named(crew: Shore) -> None:
    check = crew.check("2026-09-21T02:10:00Z")
    apart(crew, "unit_check", check, exposed_height_mm=(240, 260))
    crew.db.execute("UPDATE person SET site_id = ? WHERE record_id = ?", [record_id("another site"), BO])
    (said,) = told(crew)
    assert "somebody not on record here, Sep 21, 2026, 10:1" in said
    assert "Bo Lind" not in said


def test_any_other_flag_of_a_persons_record_begins_with_the_person(crew: Shore) -> None:
    crew.write("sign_in", visit=VISIT, person_id=KENJI, in_at="2026-09-22T23:00:00Z", out_at="2026-09-22T23:30:00Z")
    site = next(iter(crew.db.query("SELECT * FROM site WHERE record_id = ?", [SITE])))
    said = [flag["sentence"] for flag in with_both_sides(crew.db, site, list_flags(crew.db, SITE, NOW)) if flag["rule"] == "clock_off"]
    assert sorted(one.partition(" says ")[0] for one in said) == ["Kenji Rourke, visit of Sep 20, 2026: In", "Kenji Rourke, visit of Sep 20, 2026: Out"]
    assert "or the time was typed wrong" in said[0]
    assert not any("Kenji" in row for row in crew.stored())
