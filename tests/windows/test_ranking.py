"""Which window comes first, and why; levels on other datums; each row's and unit's own ground."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlite_utils import Database

from fieldlog.errors import SiteNotReady
from fieldlog.stations import find
from fieldlog.store import Programme, write
from fieldlog.windows.access import Window
from fieldlog.windows.beds import ground_of
from fieldlog.windows.levels import above_chart_datum, zeros
from fieldlog.windows.ranking import ranked
from fieldlog.windows.rules import Closure, SiteRules

RULES = SiteRules("s-1", "America/New_York", 41.0, -72.0, 0.5, 0.8, 0.2, 10, 10, None, 60)
SATURDAY_LOW = datetime(2026, 11, 28, 15, 0, tzinfo=UTC)


def window(**said: object) -> Window:
    usual = Window(
        "w", SATURDAY_LOW, 0.0, SATURDAY_LOW - timedelta(hours=1), SATURDAY_LOW + timedelta(hours=1), SATURDAY_LOW + timedelta(hours=1),
        SATURDAY_LOW - timedelta(hours=1), SATURDAY_LOW + timedelta(hours=1), 120, "day", True, (),
    )  # fmt: skip
    return replace(usual, **said)  # type: ignore[arg-type]


def test_points_are_the_sum_of_told_parts() -> None:
    """By hand: 120 of 180 min are 33 of 50; 0.3 of 0.5 m are 12 of 20; daylight 20; any weekday 10."""
    (only,) = ranked([window()], RULES)
    assert only.points == {"minutes": 33, "margin": 12, "daylight": 20, "weekday": 10}
    assert (only.score, only.margin_m) == (75, pytest.approx(0.3))


def test_longer_deeper_lighter_and_on_the_wanted_day_comes_first() -> None:
    base = window(window_id="base")
    better = [
        window(window_id="longer", usable_min=180), window(window_id="deeper", low_level_m=-0.2),
    ]  # fmt: skip
    for one in better:
        assert [found.window.window_id for found in ranked([base, one], RULES)] == [one.window_id, "base"]
    darker = window(window_id="darker", daylight="partly")
    monday = window(window_id="monday", low_at=SATURDAY_LOW + timedelta(days=2))
    weekend = replace(RULES, visit_weekday="weekend")
    assert [found.window.window_id for found in ranked([darker, base], RULES)] == ["base", "darker"]
    assert [found.window.window_id for found in ranked([monday, base], weekend)] == ["base", "monday"]
    assert [found.window.window_id for found in ranked([monday, base], replace(RULES, visit_weekday="weekday"))] == ["monday", "base"]


def test_a_weekday_is_the_sites_own() -> None:
    """Sunday 23:30 in New York is Monday in UTC."""
    late = window(low_at=datetime(2026, 11, 30, 4, 30, tzinfo=UTC))
    assert ranked([late], replace(RULES, visit_weekday="weekend"))[0].points["weekday"] == 10


def test_what_is_not_to_be_used_has_no_rank() -> None:
    assert ranked([window(safe=False)], RULES) == []


@pytest.mark.parametrize(("day", "holds"), [((2027, 12, 1), True), ((2027, 2, 10), True), ((2027, 2, 11), False), ((2027, 11, 30), False)])
def test_a_closure_of_every_year_may_reach_across_new_year(day: tuple[int, int, int], holds: bool) -> None:
    assert Closure("Wintering birds", date(2020, 12, 1), date(2021, 2, 10), True, True).holds(date(*day)) is holds


def test_levels_are_turned_by_stated_offsets_and_by_the_stations_datums() -> None:
    """Boston's MSL lies 1.547 m above its MLLW (NOAA); the NAVD88 offset is stated here, invented."""
    station = find("noaa/8443970")
    known = zeros(station, [{"datum": "NAVD88", "above_chart_m": 1.68, "epoch": "1983-2001", "source": "levelled from mark M1"}])
    assert above_chart_datum(-0.5, "NAVD88", known, "MLLW") == pytest.approx(1.18)
    assert above_chart_datum(-0.5, "navd88", known, "MLLW") == pytest.approx(1.18)
    msl = station.datums_m["MSL"] - station.datums_m["MLLW"]
    assert above_chart_datum(0.1, "MSL", known, "MLLW") == pytest.approx(0.1 + msl)
    assert above_chart_datum(0.3, None, known, "MLLW") == 0.3
    assert "1983-2001" in known["NAVD88"].source
    with pytest.raises(SiteNotReady, match="how far EVRF2019 is above MLLW"):
        above_chart_datum(0, "EVRF2019", known, "MLLW")


def the_site(db: Database) -> dict:
    return next(iter(db.query("SELECT * FROM site")))


def test_a_units_own_level_goes_before_its_rows_and_a_datum_nobody_tied_is_told(demo_programme: Programme) -> None:
    db = demo_programme.db()
    before = ground_of(db, the_site(db))
    assert len(before.units) == 48
    assert (all(bed.own for bed in before.rows), any(bed.own for bed in before.units)) == (True, False)
    assert {bed.bed_level_m for bed in before.units} == {bed.bed_level_m for bed in before.rows}
    with write(db):
        db.execute("UPDATE unit SET bed_level_m = 0.11, level_datum = 'MLLW' WHERE record_id = ?", [before.units[0].record_id])
        db.execute("UPDATE row SET level_datum = 'EVRF2019' WHERE record_id = ?", [before.rows[-1].record_id])
    after = ground_of(db, the_site(db))
    levels = {bed.record_id: (bed.bed_level_m, bed.own) for bed in after.units}
    assert levels[before.units[0].record_id] == (0.11, True)
    assert len(after.units) == 36
    assert len(after.doubts) == 1
    assert "EVRF2019" in after.doubts[0]
