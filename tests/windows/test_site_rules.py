"""A site's record becomes rules, or a sentence that says what to mend."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from fieldlog.errors import SiteNotReady
from fieldlog.windows.rules import ALLOWANCE_M, Closure, site_rules

SITE = {
    "record_id": "s-1", "name": "Alder Spit", "zone": "America/New_York", "lat_deg": 41.2, "lon_deg": -72.5,
    "level_datum": "MLLW", "work_level_m": 0.3, "route_low_level_m": 0.7, "allowance_m": 0.25, "walk_out_min": 12.0,
    "muster_min": 10.0, "latest_after_low_min": 45.0, "least_usable_min": 60.0,
}  # fmt: skip


def test_a_whole_record_becomes_rules() -> None:
    rules = site_rules(SITE, "MLLW")
    assert (rules.site_id, rules.allowance_m, rules.latest_after_low_min) == ("s-1", 0.25, 45.0)
    assert rules.walk_s == 1.5 * 12 * 60


def test_without_its_own_allowance_a_site_has_ours_and_no_latest_time() -> None:
    rules = site_rules({**SITE, "allowance_m": None, "latest_after_low_min": None}, "MLLW")
    assert (rules.allowance_m, rules.latest_after_low_min) == (ALLOWANCE_M, None)


def test_an_allowance_of_nought_is_kept() -> None:
    assert site_rules({**SITE, "allowance_m": 0.0}, "MLLW").allowance_m == 0


def test_levels_on_another_datum_than_the_stations_are_said() -> None:
    with pytest.raises(SiteNotReady) as fault:
        site_rules({**SITE, "level_datum": "NAVD88"}, "MLLW")
    assert fault.value.sentence.startswith("The levels of Alder Spit are on NAVD88 but the tide station uses MLLW.")
    assert "level_datum" in fault.value.fields


def test_every_missing_number_is_named_at_once() -> None:
    with pytest.raises(SiteNotReady) as fault:
        site_rules({**SITE, "work_level_m": None, "zone": None}, "MLLW")
    assert fault.value.fields == {"zone": "missing", "work_level_m": "missing"}
    assert "Still missing at Alder Spit: time zone, work level." in fault.value.sentence


@pytest.mark.parametrize(("stops", "parted"), [(True, True), (False, False)])
def test_a_midnight_parts_a_day_from_one_that_is_closed_and_from_none_that_asks_for_care(stops: bool, parted: bool) -> None:
    days = [Closure("Nesting terns", date(2026, 6, day), date(2026, 6, day), False, stops) for day in (13, 15)]
    rules = replace(site_rules(SITE, "MLLW"), closures=tuple(days))
    before, after = rules.open_between(datetime(2026, 6, 14, 16, tzinfo=UTC))
    midnights = [datetime(2026, 6, day, 4, tzinfo=UTC) for day in (14, 15)]  # of New York in summer
    assert [before, after] == (midnights if parted else [None, None])


def test_levels_without_a_datum_are_said_to_be_on_none() -> None:
    with pytest.raises(SiteNotReady, match="are on no datum but the tide station uses MLLW"):
        site_rules({**SITE, "level_datum": None}, "MLLW")
