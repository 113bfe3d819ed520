"""Remarks, which are no flags: what surveys, planned places and heights say of a unit, on the server, in the pack and in a plan."""

from __future__ import annotations

import math
import random

import pytest

from fieldlog.flags.remarks import packed_remarks, remarks_of
from fieldlog.plan.due import what_is_due
from fieldlog.plan.minutes import Learned
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.survey.tape_scale import LEAST_DOF
from fieldlog.sync.replay import replay
from tests.flags.shore import MARKS, NOW, OTHER, SITE, UNIT, Shore
from tests.sync.lines import record_id

ZERO, LATER, LATEST = "2026-06-02T10:00:00.000Z", "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z"
SMALL = "Moved 0.20 m east of its first position, less than matters here (0.50 m)."


def said(shore: Shore, unit: str = UNIT) -> list[str]:
    return [remark.sentence for remark in remarks_of(shore.db, SITE, [UNIT, OTHER]).get(unit, [])]


def moved_a_little(shore: Shore) -> None:
    shore.write("site", SITE, least_shift_m=0.5)
    shore.typed(ZERO, 12.0, 15.0, sigma_m=0.01)
    shore.typed(LATER, 12.2, 15.0, sigma_m=0.01)


def test_a_movement_that_is_less_than_matters_is_told_without_a_flag(shore: Shore) -> None:
    moved_a_little(shore)
    assert shore.flags() == []
    assert said(shore)[0] == SMALL
    assert packed_remarks(shore.db, SITE)["remarks"] == {UNIT: SMALL}


@pytest.mark.parametrize("event", ["reset", "retired"])
def test_it_is_told_until_the_unit_is_placed_anew_or_retired(shore: Shore, event: str) -> None:
    moved_a_little(shore)
    shore.event(event, "2026-07-10T10:00:00.000Z")
    assert packed_remarks(shore.db, SITE)["remarks"] == {}


def test_it_is_told_until_a_later_survey_finds_otherwise(shore: Shore) -> None:
    moved_a_little(shore)
    shore.typed(LATEST, 12.0, 15.0, sigma_m=0.01)
    assert packed_remarks(shore.db, SITE)["remarks"] == {}


def test_a_first_position_is_held_against_the_planned_place(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.4)
    assert said(shore) == ["First position 0.40 m north of its planned place."]
    assert shore.flags() == [], "it is a remark"
    shore.typed(LATER, 12.0, 15.4)
    assert said(shore) == ["First position 0.40 m north of its planned place."]
    shore.write("unit", UNIT, planned_north_m=15.35)
    assert said(shore) == ["First position 0.05 m north of its planned place, less than matters here (0.13 m)."]


def test_heights_say_buried_sank_or_cannot_tell(shore: Shore) -> None:
    levels = {"crest_datum": "mark M2"}
    shore.check("2026-05-20T10:00:00.000Z", exposed_height_mm=900)
    shore.check("2026-06-10T10:00:00.000Z", exposed_height_mm=310, crest_level_mm=1200, **levels)
    assert said(shore) == [], "what was read before it was placed says nothing"
    shore.check(LATER, exposed_height_mm=280, crest_level_mm=1200, **levels)
    shore.check("2026-07-02T10:00:00.000Z", looked_only=True)
    assert said(shore) == ["Buried: the bed rose 30 mm since last time. Its crest is as high as it was."]
    shore.check(LATEST, exposed_height_mm=280, crest_level_mm=1170, **levels)
    assert said(shore) == ["Sank: its crest is 30 mm lower than last time. The bed fell 30 mm."]
    shore.check("2026-08-10T10:00:00.000Z", exposed_height_mm=250)
    assert said(shore) == ["30 mm less showing than last time. Buried deeper, or the unit sank: read its crest level to know."]
    shore.check("2026-08-20T10:00:00.000Z", exposed_height_mm=241)
    assert said(shore) == [], "nothing under the repeatability"
    shore.write("site", SITE, reading_repeat_mm=5)
    assert said(shore) == ["9 mm less showing than last time. Buried deeper, or the unit sank: read its crest level to know."]
    assert shore.flags() == []


def test_a_plan_tells_the_remarks_that_matter(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.4)
    def told() -> dict[str, tuple[str, ...]]:
        return {due.tag: due.remarks for due in what_is_due(shore.db, SITE, NOW, Learned(4.0, 0), samples=False, everything=True)}

    assert told() == {"A010": ("First position 0.40 m north of its planned place.",), "A029": ()}
    shore.write("unit", UNIT, planned_north_m=15.35)
    assert told() == {"A010": (), "A029": ()}


def test_a_phone_is_told_how_sure_the_sites_tapes_are(shore: Shore) -> None:
    assert packed_remarks(shore.db, SITE)["tape_scale"] is None
    draw = random.Random(7)
    for n in range(LEAST_DOF + 8):
        ranges = {f"mark_{k}_id": record_id(label) for k, label in enumerate(MARKS, 1)}
        ranges |= {f"range_{k}_m": round(math.dist(at_mark, (12.0, 15.0)) + draw.gauss(0, 0.05), 3) for k, at_mark in enumerate(MARKS.values(), 1)}
        at = f"2026-06-{2 + n // 2:02}T1{n % 2}:00:00Z"
        fix = {"of_kind": "unit", "of_id": (UNIT, OTHER)[n % 2], "fixed_at": at, "method": "tapes", "tape_sigma_m": 0.02, **ranges}
        shore.lane.write("position_fix", record_id(f"fix {n}"), fix)
    shore.check(LATER)
    scale = packed_remarks(shore.db, SITE)["tape_scale"]
    assert scale["dof"] >= LEAST_DOF
    assert scale["factor"] > 1.2
    assert scale["tapes"] == 3 * (LEAST_DOF + 8)


def test_a_replay_keeps_them(shore: Shore) -> None:
    moved_a_little(shore)
    before = packed_remarks(shore.db, SITE), shore.db.execute("SELECT * FROM site_tapes").fetchall()
    with shore.db.conn:
        replay(shore.db, CATALOGUE)
    assert (packed_remarks(shore.db, SITE), shore.db.execute("SELECT * FROM site_tapes").fetchall()) == before
