"""A lead's word over a flag, and that flags depend on the records alone, never on the order in which they came."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from tests.flags.shore import LEAD, Shore
from tests.sync.lines import START_MS, Lane, record_id

JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"


def leaning(shore: Shore) -> str:
    shore.check(JULY, tilt_deg=20)
    return shore.flag("leaning")["flag_id"]


def test_a_settled_flag_says_who_decided_when_and_why(shore: Shore) -> None:
    decision = shore.decide(leaning(shore), "settled", AUGUST, "Read on a slope; righted by hand.")
    flag = shore.flag("leaning")
    assert (flag["state"], flag["settled_by"], flag["settled_at"]) == ("settled", decision, AUGUST)
    assert flag["settled_reason"] == "Read on a slope; righted by hand."


def test_a_newer_observation_raises_a_settled_flag_again_and_an_older_one_does_not(shore: Shore) -> None:
    shore.decide(leaning(shore), "settled", AUGUST)
    shore.check("2026-07-15T10:00:00.000Z", tilt_deg=21)
    assert shore.flag("leaning")["state"] == "settled"
    shore.check(SEPTEMBER, tilt_deg=22)
    assert shore.flag("leaning")["state"] == "open"


def test_an_accepted_flag_stays_accepted_whatever_comes(shore: Shore) -> None:
    shore.decide(leaning(shore), "accepted", AUGUST)
    shore.check(SEPTEMBER, tilt_deg=22)
    assert shore.flag("leaning")["state"] == "accepted"


def test_a_settled_flag_can_be_reopened_until_it_is_seen_well_again(shore: Shore) -> None:
    flag_id = leaning(shore)
    shore.decide(flag_id, "settled", AUGUST)
    shore.decide(flag_id, "reopened", "2026-08-02T10:00:00.000Z")
    assert shore.flag("leaning")["state"] == "reopened"
    shore.check(SEPTEMBER, tilt_deg=2)
    assert shore.flag("leaning")["state"] == "settled"


def test_a_decision_that_comes_before_its_flag_still_counts(shore: Shore, tmp_path: Path) -> None:
    flag_id = leaning(shore)
    create_programme(tmp_path / "other", "Skein Bay").close()
    other = Shore(open_programme(tmp_path / "other", CATALOGUE, START_MS).db())
    other.set_up()
    other.decide(flag_id, "settled", AUGUST)
    other.check(JULY, tilt_deg=20)
    assert other.flag("leaning")["state"] == "settled"


def stories(shore: Shore) -> list[Lane]:
    """Six phones' worth of troubles, each lane on its own."""
    lanes = []
    unit = record_id("A010")
    told = [
        ("unit_check", {"unit_id": unit, "checked_at": JULY, "found_state": "seen", "tilt_deg": 30}),
        ("unit_check", {"unit_id": unit, "checked_at": AUGUST, "found_state": "seen", "tilt_deg": 3, "lost_volume_pct": 20}),
        ("unit_check", {"unit_id": record_id("late unit"), "checked_at": AUGUST, "found_state": "not_found_dry"}),
        ("unit_event", {"unit_id": unit, "event": "righted", "event_at": "2026-07-20T10:00:00.000Z"}),
        ("position_fix", {"of_kind": "unit", "of_id": unit, "fixed_at": "2026-07-21T10:00:00.000Z", "method": "typed", "east_m": 12, "north_m": 15, "sigma_m": 0.02}),
        ("position_fix", {"of_kind": "unit", "of_id": unit, "fixed_at": SEPTEMBER, "method": "typed", "east_m": 12.5, "north_m": 15, "sigma_m": 0.02}),
        ("unit", {"tag": "A048", "slot_number": 4}),
        ("unit_check", {"checked_at": JULY, "found_state": "probed", "crack_width_mm": 3, "unit_id": unit}),
    ]  # fmt: skip
    for number, (kind, fields) in enumerate(told):
        lane = Lane(f"phone {number}", shore.lane.site_id)
        lane.now_ms = START_MS + 60_000 + number * 1000
        record = record_id("late unit") if kind == "unit" else record_id(f"told {number}")
        lane.write(kind, record, fields)
        if kind == "unit_check":
            lane.write(kind, record, {"note": "again", "unit_id": record_id("late unit") if number == 7 else fields["unit_id"]})
        lanes.append(lane)
    return lanes


@pytest.mark.parametrize("seed", range(8))
def test_flags_are_the_same_in_whatever_order_entries_come_and_after_a_replay(shore: Shore, tmp_path: Path, seed: int) -> None:
    create_programme(tmp_path / "other", "Skein Bay").close()
    other = Shore(open_programme(tmp_path / "other", CATALOGUE, START_MS).db())
    other.set_up()
    lanes = stories(shore)
    shuffled = lanes[:]
    random.Random(seed).shuffle(shuffled)
    for made, order in ((shore, lanes), (other, shuffled)):
        for lane in order:
            receive(made.db, lane.body(), CATALOGUE, lambda: LEAD, lambda: START_MS + 3_600_000)
    assert len(shore.stored()) >= 4
    assert other.stored() == shore.stored()
    with other.db.conn:
        replay(other.db, CATALOGUE)
    assert other.stored() == shore.stored()
