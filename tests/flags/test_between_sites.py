"""A reference binds only within one site, or to a record of the whole programme: nothing written at Heron Bar changes Alder Spit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from fieldlog.access.devices import Device
from fieldlog.access.private import private_of
from fieldlog.flags.histories import last_looks
from fieldlog.flags.reading import list_flags
from fieldlog.plan.due import what_is_due
from fieldlog.plan.minutes import USUAL_MIN, Learned, learned_minutes
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.receive import receive
from tests.flags.shore import DESIGN, LEAD, NOW, ROW, SITE, SITE_FIELDS, UNIT, Shore
from tests.sync.lines import Lane, record_id

HERON = record_id("Heron Bar")
JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"


class Elsewhere:
    """A phone of another site that knows the ids of this one."""

    def __init__(self, shore: Shore) -> None:
        self.db, self.lane, self.sent, self.made = shore.db, Lane("heron", HERON), 0, 0

    def write(self, kind: str, record: str | None = None, site: str | None = HERON, **fields: Any) -> str:
        self.made += 1
        record = record or record_id(f"made at Heron Bar {self.made}")
        private = {"k": "ab" * 16} if kind.endswith("_private") else {}
        self.lane.write(kind, record, fields, g=site, **private)
        reply = receive(self.db, self.lane.body(self.sent + 1), CATALOGUE, lambda: LEAD, lambda: self.lane.now_ms)
        assert [ack[2] for ack in reply["acks"]] == ["ok"], reply["acks"]
        self.sent += 1
        return record


@pytest.fixture
def elsewhere(shore: Shore) -> Elsewhere:
    return Elsewhere(shore)


def subjects(shore: Shore, site: str = SITE) -> set[tuple[str, str]]:
    return {(flag["rule"], flag["subject"]["id"]) for flag in list_flags(shore.db, site, NOW, all=True)}


def test_a_check_written_at_another_site_raises_nothing_here(shore: Shore, elsewhere: Elsewhere) -> None:
    before = subjects(shore)
    check = elsewhere.write("unit_check", unit_id=UNIT, checked_at=JULY, found_state="seen", lost_volume_pct=60, tilt_deg=40)
    assert subjects(shore) == before
    assert ("orphan", check) in subjects(shore, HERON), "there it names a unit that is not of that site"


def test_a_check_written_at_another_site_settles_nothing_here(shore: Shore, elsewhere: Elsewhere) -> None:
    shore.check(JULY, tilt_deg=40)
    elsewhere.write("unit_check", unit_id=UNIT, checked_at=AUGUST, found_state="seen", tilt_deg=1)
    assert shore.flag("leaning")["state"] == "open"


def test_work_told_at_another_site_starts_nothing_anew_and_retires_nothing(shore: Shore, elsewhere: Elsewhere) -> None:
    shore.check(JULY, tilt_deg=40)
    for event in ("righted", "retired"):
        elsewhere.write("unit_event", unit_id=UNIT, event=event, event_at=AUGUST)
        assert shore.flag("leaning")["state"] == "open"


def test_a_position_or_a_mark_of_another_site_moves_nothing_here(shore: Shore, elsewhere: Elsewhere) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    elsewhere.write("position_fix", of_kind="unit", of_id=UNIT, fixed_at=JULY, method="typed", east_m=14, north_m=15, sigma_m=0.02)
    assert shore.flags("displaced") == []


def test_tapes_are_read_from_marks_of_their_own_site(shore: Shore, elsewhere: Elsewhere) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    marks = [elsewhere.write("control_mark", label=f"H{n}", east_m=24.0 * n, north_m=0.0) for n in (0, 1)]
    shore.write(
        "position_fix", of_kind="unit", of_id=UNIT, fixed_at=JULY, method="tapes", mark_1_id=marks[0], range_1_m=15.0,
        mark_2_id=marks[1], range_2_m=15.0, tape_sigma_m=0.03,
    )  # fmt: skip
    assert shore.flags("displaced") == []
    assert {flag["evidence"]["field"] for flag in shore.flags("orphan")} == {"mark_1_id", "mark_2_id"}


def test_a_photo_of_another_site_is_not_counted(shore: Shore, elsewhere: Elsewhere) -> None:
    check = shore.check(JULY, lost_volume_pct=60)
    elsewhere.write("photo", of_kind="unit_check", of_id=check, taken_at=JULY, sha256="ab" * 32)
    assert shore.flag("damaged")["evidence"]["photos"] == 0


def test_a_lead_of_another_site_decides_nothing_here(shore: Shore, elsewhere: Elsewhere) -> None:
    shore.check(JULY, tilt_deg=20)
    flag_id = shore.flag("leaning")["flag_id"]
    elsewhere.write("flag_decision", flag_id=flag_id, decision="accepted", reason="Not ours.", decided_at=AUGUST)
    assert shore.flag("leaning")["state"] == "open"
    shore.decide(flag_id, "settled", JULY)
    assert shore.flag("leaning")["state"] == "settled", "nor does a later word there outlast the word here"


def test_a_flag_of_the_site_itself_is_decided_by_its_own_leads(shore: Shore, elsewhere: Elsewhere) -> None:
    elsewhere.write("site", HERON, site=HERON, **SITE_FIELDS | {"name": "Heron Bar", "walk_out_min": 300, "muster_min": 300})
    flag_ids = [flag["flag_id"] for flag in list_flags(shore.db, HERON, NOW) if flag["subject"]["id"] == HERON]
    assert flag_ids
    shore.write("flag_decision", flag_id=flag_ids[0], decision="accepted", reason="Not ours.", decided_at=AUGUST)
    elsewhere.write("flag_decision", flag_id=flag_ids[1], decision="accepted", reason="It will come.", decided_at=AUGUST)
    states = {flag["flag_id"]: flag["state"] for flag in list_flags(shore.db, HERON, NOW, all=True)}
    assert (states[flag_ids[0]], states[flag_ids[1]]) == ("open", "accepted")


def test_a_design_of_another_site_measures_no_unit_here_and_one_of_the_programme_does(shore: Shore, elsewhere: Elsewhere) -> None:
    theirs = elsewhere.write("unit_design", name="Dome", height_mm=100, footprint_mm=600)
    everyones = elsewhere.write("unit_design", site=None, name="Dome", height_mm=100, footprint_mm=600)
    shore.check(JULY, scour_depth_mm=30)
    assert shore.flags() == []
    shore.write("unit", UNIT, design_id=theirs)
    assert sorted(flag["rule"] for flag in shore.flags()) == ["orphan", "undermined"]
    assert shore.flag("undermined")["sentence"] == "A010: scour 30 mm deep; the unit's height is not known, seen Jul 1, 2026."
    shore.write("unit", UNIT, design_id=everyones)
    assert [flag["rule"] for flag in shore.flags()] == ["undermined"]


def test_a_unit_is_overdue_and_due_whatever_another_site_says_of_it(shore: Shore, elsewhere: Elsewhere) -> None:
    elsewhere.write("unit_check", unit_id=UNIT, checked_at=SEPTEMBER, found_state="seen")
    looked = {history.unit["record_id"]: list(history.checks) for history in last_looks(shore.db, SITE)}
    assert looked[UNIT] == []
    assert ("overdue", UNIT) in subjects(shore)
    begun = datetime(2026, 8, 31, tzinfo=UTC)
    due = what_is_due(shore.db, SITE, NOW, Learned(USUAL_MIN, 0), samples=False, everything=True, begun=begun)
    assert UNIT in {one.stop_id for one in due}


def test_minutes_are_learned_between_units_of_the_site(shore: Shore, elsewhere: Elsewhere) -> None:
    start = datetime(2026, 7, 1, 10, tzinfo=UTC)
    for n in range(40):
        at = (start + timedelta(minutes=10 * n)).strftime("%Y-%m-%dT%H:%M:%SZ")
        elsewhere.lane.write("unit_check", record_id(f"there {n}"), {"unit_id": UNIT, "checked_at": at, "found_state": "seen"}, y=record_id("visit"))
    receive(shore.db, elsewhere.lane.body(), CATALOGUE, lambda: LEAD, lambda: elsewhere.lane.now_ms)
    assert learned_minutes(shore.db, HERON).count == 0


def test_a_parent_of_another_site_is_not_here(shore: Shore, elsewhere: Elsewhere) -> None:
    person = elsewhere.write("person", display_name="Ines Calder")
    visitor = shore.write("sign_in", person_id=person, sign_in_role="volunteer", in_at=JULY)
    assert ("orphan", visitor) in subjects(shore)
    species = elsewhere.write("species", site=None, scientific_name="Geukensia demissa", common_name="Mussel", group="invertebrate", taxon_rank="species")
    seen = shore.write("sighting", species_id=species, found="seen", count=3, seen_at=JULY)
    assert ("orphan", seen) not in subjects(shore)


def test_a_parent_that_comes_at_another_site_is_not_the_one_waited_for(shore: Shore, elsewhere: Elsewhere) -> None:
    late = record_id("late unit")
    check = shore.check(JULY, unit=late)
    elsewhere.write("unit", late, tag="A030", row_id=ROW, slot_number=3, design_id=DESIGN)
    assert ("orphan", check) in subjects(shore)


def test_what_a_record_of_another_site_tells_of_a_person_is_not_theirs(shore: Shore, elsewhere: Elsewhere) -> None:
    person = shore.write("person", display_name="Wren Saltmarsh")
    signed = shore.write("sign_in", person_id=person, sign_in_role="volunteer", in_at=JULY)
    shore.write("person_private", person_id=person, phone="555 0100")
    shore.write("sign_in_private", sign_in_id=signed, medical_note="bee stings")
    elsewhere.write("person_private", person_id=person, phone="555 0199")
    elsewhere.write("sign_in_private", sign_in_id=signed, medical_note="none at all")
    far = elsewhere.write("sign_in", person_id=person, sign_in_role="volunteer", in_at=JULY)
    elsewhere.write("sign_in_private", sign_in_id=far, medical_note="none whatever")
    everything = Device("lead-device", "lead", None, None, False)
    said = private_of(shore.db, everything, person)
    assert [row["phone"] for row in said["contact"]] == ["555 0100"]
    assert [row["medical_note"] for row in said["sign_ins"]] == ["bee stings"]
    # Older apps wrote contacts of no site.
    elsewhere.write("person_private", person_id=person, phone="555 0111")
    shore.db.execute("UPDATE person_private SET site_id = NULL WHERE phone = '555 0111'")
    here = Device("site-lead", "lead", frozenset({SITE}), None, False)
    assert [len(private_of(shore.db, lead, person)["contact"]) for lead in (everything, here)] == [2, 1]
