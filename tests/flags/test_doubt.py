"""Doubts about single records: a parent not here, an unlikely value, a missing one, a clock, two phones."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from fieldlog.access.devices import Device
from fieldlog.flags.doubt import LETTERS_TOLD, VALUES_TOLD, RecordSeen, incomplete
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.tags import tag_for
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from tests.flags.shore import DESIGN, LEAD, ROW, SITE, UNIT, Shore
from tests.sync.lines import Lane, record_id

JULY = "2026-07-01T10:00:00.000Z"


def test_a_check_of_a_unit_not_here_waits_and_is_right_once_the_unit_comes(shore: Shore) -> None:
    late = record_id("late unit")
    shore.check(JULY, unit=late, crack_width_mm=3)
    assert [flag["rule"] for flag in shore.flags()] == ["orphan"]
    assert "may still be on another phone" in shore.flag("orphan")["sentence"]
    shore.write("unit", late, tag=tag_for("A", 3), row_id=ROW, slot_number=3, design_id=DESIGN)
    assert [flag["rule"] for flag in shore.flags()] == ["damaged"]


def test_an_unlikely_value_is_kept_and_flagged(shore: Shore) -> None:
    shore.check(JULY, crack_width_mm=45)
    flag = shore.flag("implausible")
    assert "45" in flag["sentence"]
    assert flag["evidence"] == {"crack_width_mm": 45.0}


def test_what_a_record_of_an_older_log_lacks_is_told() -> None:
    """A record is made whole today; one that an older server took without its answer stands in the log all the same."""
    kind = CATALOGUE.kinds["unit_check"]
    row = {**dict.fromkeys(kind.fields), "record_id": "r", "unit_id": record_id("A010"), "checked_at": JULY, "changed_eff": "0192f0c456000000"}
    (flag,) = incomplete(RecordSeen(kind, row, (), {}))
    assert (flag.part, flag.evidence) == ("found_state", {"field": "found_state", "what": "missing"})
    assert incomplete(RecordSeen(kind, row | {"found_state": "seen"}, (), {})) == []


def test_a_sighting_that_was_looked_for_and_not_seen_has_no_count(shore: Shore) -> None:
    species = shore.write("species", scientific_name="Geukensia demissa", common_name="Ribbed mussel", group="invertebrate", taxon_rank="species")
    shore.write("sighting", species_id=species, found="looked_for_none", count=3, seen_at=JULY)
    assert shore.flag("incomplete")["evidence"]["field"] == "count"


def test_an_observation_after_it_was_written_tells_of_a_clock(shore: Shore) -> None:
    """The lane's stamps lie on 21 September 2026: a check of the next day cannot have been made yet."""
    shore.check("2026-09-22T23:00:00.000Z")
    flag = shore.flag("clock_off")
    assert "clock was ahead" in flag["sentence"]
    assert flag["evidence"]["ahead_min"] > 600


def test_a_clock_that_was_ahead_is_told_until_the_time_is_corrected_whatever_else_is_written(shore: Shore) -> None:
    """A note on that check five hours later says nothing of the clock; the time is said as the site's clock has it."""
    told_at = datetime.fromtimestamp(shore.lane.now_ms / 1000, UTC)
    ahead = (told_at + timedelta(hours=3)).replace(microsecond=0)
    check = shore.check(ahead.strftime("%Y-%m-%dT%H:%M:%SZ"))
    said = shore.flag("clock_off")
    there = ahead.astimezone(ZoneInfo("America/New_York"))
    assert f" says Sep {there.day}, 2026, {there:%H:%M}, " in said["sentence"]
    shore.lane.now_ms += 5 * 3_600_000
    shore.write("unit_check", check, note="A gull on it.")
    assert shore.flag("clock_off") == said
    shore.write("site", SITE, zone="UTC")
    assert f" {ahead:%H:%M}, " in shore.flag("clock_off")["sentence"], "as the site's clock has it now"
    for number in range(25):
        shore.write("unit_check", check, note=f"Gull {number}.")
    before = shore.stored()
    with shore.db.conn:
        replay(shore.db, CATALOGUE)
    assert shore.stored() == before
    assert shore.flag("clock_off")["evidence"] == said["evidence"]
    shore.write("unit_check", check, checked_at=told_at.strftime("%Y-%m-%dT%H:%M:%SZ"))
    assert shore.flags("clock_off") == []


def apart(shore: Shore, kind: str, record: str, name: str, values: tuple) -> None:
    """Two phones that do not know of each other change one field."""
    head = shore.write(kind, record, **{name: values[0]})
    assert head == record
    bases = {name: [row[0] for row in shore.db.execute("SELECT entry_id FROM log ORDER BY seq DESC LIMIT 1").fetchall()]}
    for who, value in zip(("one", "other"), values[1:], strict=True):
        device = Device(f"{who}-device", "lead", None, None, False)
        shore.db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [device.device_id] * 2)
        lane = Lane(who, SITE)
        lane.now_ms = shore.lane.now_ms
        private = {"k": "ab" * 16} if kind.endswith("_private") else {}
        lane.write(kind, record, {name: value}, b=bases, **private)
        receive(shore.db, lane.body(), CATALOGUE, lambda device=device: device, lambda lane=lane: lane.now_ms)


def test_two_phones_that_differ_are_told_with_both_values(shore: Shore) -> None:
    check = shore.check(JULY)
    apart(shore, "unit_check", check, "exposed_height_mm", (250, 240, 260))
    flag = shore.flag("disagreement")
    assert sorted(flag["evidence"]["values"]) == [240, 260]
    assert "240 mm" in flag["sentence"]
    assert "260 mm" in flag["sentence"]
    shore.write("unit_check", check, exposed_height_mm=240, bases={"exposed_height_mm": heads(shore, check, "exposed_height_mm")})
    assert shore.flags() == []


def test_three_values_are_not_said_to_be_of_two_phones(shore: Shore) -> None:
    check = shore.check(JULY, exposed_height_mm=200)
    for height_mm in (210, 220):
        shore.write("unit_check", check, exposed_height_mm=height_mm, bases={})
    assert shore.flag("disagreement")["sentence"].startswith("A010: phones wrote 220 mm, 210 mm and 200 mm for ")


def test_two_hundred_letters_of_a_value_are_told_and_of_more_the_first(shore: Shore) -> None:
    check = shore.check(JULY)
    whole, longer = "a" * LETTERS_TOLD, "b" * (LETTERS_TOLD + 1)
    apart(shore, "unit_check", check, "note", ("A word.", whole, longer))
    assert sorted(shore.flag("disagreement")["evidence"]["values"]) == [whole, "b" * LETTERS_TOLD + "…"]


def heads(shore: Shore, record: str, name: str) -> list[str]:
    rows = shore.db.execute("SELECT entry_id, line FROM log WHERE record_id = ? ORDER BY seq", [record]).fetchall()
    return [entry for entry, line in rows if name in json.loads(line)["f"]]


def test_values_about_people_stay_out_of_the_flag(shore: Shore) -> None:
    person = shore.write("person", display_name="Wren Saltmarsh", role="student", minor=False)
    apart(shore, "person", person, "display_name", ("Wren S.", "Wren Salt", "W. Saltmarsh"))
    flag = shore.flag("disagreement")
    assert "Salt" not in json.dumps(flag)


def test_kinds_that_only_leads_read_raise_none(shore: Shore) -> None:
    person = shore.write("person", display_name="Wren Saltmarsh", role="student", minor=False)
    private = shore.write("person_private", person_id=person, phone="555 0100")
    apart(shore, "person_private", private, "phone", ("555 0101", "555 0102", "555 0103"))
    assert shore.flags() == []
    assert "555" not in "".join(shore.stored())


def test_a_thousand_values_that_know_nothing_of_each_other_do_not_fill_every_phones_pack(shore: Shore) -> None:
    check = shore.check(JULY)
    lane = Lane("many", SITE)
    for number in range(60):
        lane.write("unit_check", check, {"note": f"{number:03d} " + "so " * 600})
    receive(shore.db, lane.body(), CATALOGUE, lambda: LEAD, lambda: lane.now_ms)
    flag = shore.flag("disagreement")
    assert flag["sentence"].count("…") == VALUES_TOLD
    assert " and others for Note. The first is used until someone decides." in flag["sentence"]
    assert len(flag["evidence"]["values"]) == VALUES_TOLD
    assert flag["evidence"]["values"][0].startswith("059 so")
    assert len(json.dumps(flag)) < 4_000


def test_a_plan_for_a_low_to_come_says_nothing_of_a_clock(shore: Shore) -> None:
    shore.write("visit_plan", window_id="w", low_at="2026-11-22T23:00:00.000Z", made_at="2026-09-20T10:00:00.000Z", teams=1, stops="1 a 0 4 1")
    assert shore.flags() == []
    shore.write("visit_plan", window_id="w", low_at="2026-11-22T23:00:00.000Z", made_at="2026-11-20T10:00:00.000Z", teams=1, stops="1 a 0 4 1")
    assert list(shore.flag("clock_off")["evidence"]) == ["made_at", "ahead_min"]


@pytest.mark.parametrize(("tag", "says", "doubted"), [("A011", None, False), ("17", None, False), ("17", False, False), ("A011", True, True), ("A-3", True, True)])
def test_only_a_tag_that_is_said_to_be_made_here_is_doubted(shore: Shore, tag: str, says: bool | None, doubted: bool) -> None:
    shore.write("unit", record_id("a tag of its own"), tag=tag, row_id=ROW, slot_number=9, design_id=DESIGN, **({} if says is None else {"tag_made_here": says}))
    assert [flag["evidence"] for flag in shore.flags("implausible")] == ([{"tag": tag}] if doubted else [])


@pytest.mark.parametrize(("count", "doubted"), [(0, True), (1, False), (10_000, False), (10_001, True)])
def test_an_unlikely_count_is_kept_and_flagged(shore: Shore, count: int, doubted: bool) -> None:
    shore.write("sighting", taxon="Ribbed mussel", found="seen", count=count, seen_at=JULY)
    assert [flag["evidence"] for flag in shore.flags("implausible")] == ([{"count": count}] if doubted else [])


def test_a_flag_of_a_record_begins_with_the_unit_that_it_tells_of(shore: Shore) -> None:
    check = shore.check(JULY, exposed_height_mm=250)
    apart(shore, "unit_check", check, "exposed_height_mm", (250, 244, 291))
    assert shore.flag("disagreement")["sentence"].startswith("A010: two phones wrote ")
    shore.write("unit", UNIT, tag=tag_for("A", 7))
    assert shore.flag("disagreement")["sentence"].startswith(f"{tag_for('A', 7)}: two phones wrote "), "as the unit is called now"


def test_a_mark_or_a_row_is_called_by_its_name_and_a_visit_by_its_kind(shore: Shore) -> None:
    shore.write("control_mark", record_id("M1"), sigma_m=4.5)
    shore.write("visit", purpose="monitoring", started_at="2026-09-22T23:00:00.000Z")
    assert [flag["sentence"].partition(":")[0] for flag in sorted(shore.flags(), key=lambda flag: flag["rule"])] == ["Visit", "Mark M1"]


def test_a_row_that_two_phones_disagree_about_is_called_by_its_name(shore: Shore) -> None:
    apart(shore, "row", ROW, "order_number", (1, 2, 3))
    assert shore.flag("disagreement")["sentence"].startswith("Row A: two phones wrote ")
