"""Numbers in other units, decimal commas, days in two orders, times in the nights when clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fieldlog.imports.values import (
    Mend,
    clock_of,
    comes_twice,
    converted,
    day_of,
    decimals_of,
    moment_of,
    number_of,
    offset_in,
    orders_of,
    says_nothing,
    unit_named,
    units_for,
    yes_no_of,
)

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("cell", "unit", "into", "value"),
    [
        ("16.5", "in", "mm", 419.1), (16.5, "in", "mm", 419.1), ("16", "cm", "mm", 160.0), ("1.5 ft", "in", "mm", 457.2), ("2 ft", None, "m", 0.6096),
        ("16 1/4", "in", "mm", 412.75), ("16 1/4 in", None, "mm", 412.75), ("1/2", "in", "mm", 12.7), ("-1/2", "in", "mm", -12.7),
        ("5' 6\"", None, "mm", 1676.4), ("5 ft 6 in", None, "m", 1.6764), ("419mm", "in", "mm", 419.0), ("−3", None, "°", -3.0),
        ("17°", None, "°", 17.0), ("17 degrees", None, "°", 17.0), ("25 %", None, "%", 25.0), (0.25, "of 1", "%", 25.0), ("1,250", None, None, 1250.0),
        ("1 250", None, "mm", 1250.0), (".5", None, "m", 0.5), ("90", "min", "min", 90.0), ("1.5", "h", "min", 90.0), ("10", "lb", "kg", 4.5359237),
        ("1e3", None, None, None), ("<5", None, "mm", None), ("16.5.2", None, None, None), ("sixteen", None, "mm", None), ("3 furlongs", None, "m", None),
        ("3 kg", None, "mm", None), ("17°", None, "mm", None), (True, None, "mm", None), ({"on": "2025-07-05"}, None, "mm", None),
    ],
)  # fmt: skip
def test_numbers_are_read_in_their_units(cell: Any, unit: str | None, into: str | None, value: float | None) -> None:
    found = number_of(cell, ".", unit, into)
    assert (None if isinstance(found, Mend) else found) == value


@pytest.mark.parametrize(
    ("text", "point", "comma"),
    [("41,9", None, 41.9), ("41.9", 41.9, None), ("1.250,5", None, 1250.5), ("1,250.5", 1250.5, None), ("1,250", 1250.0, 1.25), ("0,419", None, 0.419)],
)
def test_a_decimal_comma_is_read_as_one_where_it_is_said_to_be(text: str, point: float | None, comma: float | None) -> None:
    for sign, value in ((".", point), (",", comma)):
        found = number_of(text, sign, None, None)
        assert (None if isinstance(found, Mend) else found) == value
    assert decimals_of(text) == {sign for sign, value in ((".", point), (",", comma)) if value is not None}


def test_units_are_turned_into_those_that_measure_the_same() -> None:
    assert units_for("mm") == ["mm", "cm", "m", "in", "ft"]
    assert units_for("°") == units_for(None) == []
    assert converted(1, "ft", "in") == 12
    assert [unit_named(word) for word in ("inches", "in.", "FEET", "mm", "deg", "furlong", "")] == ["in", "in", "ft", "mm", "°", None, None]


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("7/5/2025", "mdy", date(2025, 7, 5)), ("7/5/2025", "dmy", date(2025, 5, 7)), ("7/5/2025", None, None), ("13/5/2025", "mdy", None),
        ("2025-07-05", None, date(2025, 7, 5)), ("2025/7/5", "dmy", date(2025, 7, 5)), ("05.07.25", "dmy", date(2025, 7, 5)), ("5-7-71", "dmy", date(1971, 7, 5)),
        ("5 Jul 2025", None, date(2025, 7, 5)), ("Jul 5, 2025", None, date(2025, 7, 5)), ("July 5th 2025", None, date(2025, 7, 5)), ("05-Jul-25", None, date(2025, 7, 5)),
        ("Sat, 5 July 2025", None, date(2025, 7, 5)), ("7/5/2025 8:10", "mdy", date(2025, 7, 5)), ("2025-07-05T08:10:00Z", None, date(2025, 7, 5)),
        ({"on": "2025-07-05"}, None, date(2025, 7, 5)), ({"at": "2025-07-05T08:10:00"}, None, date(2025, 7, 5)), ("soon", None, None), ("5 Foo 2025", None, None),
        ("31/2/2025", "dmy", None), (True, None, None), (45843, None, None), ("2025", None, None),
    ],
)  # fmt: skip
def test_days_are_read_in_the_order_that_was_said_and_in_no_other(cell: Any, order: str | None, day: date | None) -> None:
    found = day_of(cell, order, None)
    assert (None if isinstance(found, Mend) else found) == day


def test_numbers_are_days_in_the_calendar_that_was_said() -> None:
    assert day_of(45843, None, "1900") == day_of(45843.34, None, "1900") == date(2025, 7, 5)
    assert day_of(44381, None, "1904") == date(2025, 7, 5)
    assert isinstance(day_of(3, None, "1900"), Mend)


def test_a_day_says_which_orders_it_fits() -> None:
    assert orders_of("7/5/2025") == {"mdy", "dmy"}
    assert orders_of("7/25/2025") == orders_of("7/25/2025 8:10") == {"mdy"}
    assert orders_of("25.7.2025") == {"dmy"}
    assert orders_of("2025-07-25") is orders_of("Jul 5, 2025") is orders_of("soon") is None


@pytest.mark.parametrize(
    ("cell", "clock"),
    [
        ("8:10", time(8, 10)), ("07:55", time(7, 55)), ("10:25 AM", time(10, 25)), ("12:05 am", time(0, 5)), ("12:05 p.m.", time(12, 5)), ("3pm", time(15)),
        ("0810", time(8, 10)), ("8h10", time(8, 10)), ("08:10:30", time(8, 10, 30)), ({"clock": "08:10:00"}, time(8, 10)), ({"at": "2025-07-05T08:10:00"}, time(8, 10)),
        (0.5, time(12)), (45843.5, time(12)), (45843, None), ("7/5/2025", None), ("7/5/2025 8:10 AM", time(8, 10)), ("2025-07-05T08:10:00Z", time(8, 10)),
        ("2025-07-05 08:10:00+02:00", time(8, 10)), ("Jul 5, 2025, 8:10 pm", time(20, 10)), ("Jul 5, 2025", None), ({"on": "2025-07-05"}, None), (None, None),
    ],
)  # fmt: skip
def test_times_are_read_beside_their_day_and_alone(cell: Any, clock: time | None) -> None:
    assert clock_of(cell) == clock


@pytest.mark.parametrize("text", ["25:10", "8:61", "13:00 PM", "morning", "low tide"])
def test_what_is_no_time_is_to_be_mended(text: str) -> None:
    assert clock_of(text) == Mend(f"“{text}” is not a time. Write it as 08:10.")


def test_a_cell_may_say_its_own_offset() -> None:
    assert offset_in("2025-07-05T08:10:00Z") == timedelta()
    assert offset_in("2025-07-05 08:10-04:00") == timedelta(hours=-4)
    assert offset_in("2025-07-05 08:10:00 UTC-04:00") == offset_in("7/5/2025 8:10 PM GMT-0400") == timedelta(hours=-4)
    assert clock_of("2025-07-05 08:10:00 UTC-04:00") == time(8, 10)
    assert clock_of("7/5/2025 8:10 PM UTC-04:00") == time(20, 10)
    assert offset_in("2025-07-05 08:10") is offset_in("2025-07-05") is None


def test_a_time_is_by_the_clock_of_its_zone_and_a_day_alone_is_noon() -> None:
    assert moment_of(date(2025, 7, 5), time(8, 10), NEW_YORK, None) == datetime(2025, 7, 5, 12, 10, tzinfo=UTC)
    assert moment_of(date(2025, 1, 5), None, NEW_YORK, None) == datetime(2025, 1, 5, 17, 0, tzinfo=UTC)


def test_a_time_that_came_twice_is_asked_about() -> None:
    day, clock = date(2025, 11, 2), time(1, 30)
    assert moment_of(day, clock, NEW_YORK, None) == Mend(
        "01:30 on Nov 2, 2025 came twice in America/New_York: clocks were set back in that night. Say which of the two."
    )
    assert moment_of(day, clock, NEW_YORK, "first") == datetime(2025, 11, 2, 5, 30, tzinfo=UTC)
    assert moment_of(day, clock, NEW_YORK, "second") == datetime(2025, 11, 2, 6, 30, tzinfo=UTC)
    assert comes_twice(day, clock, NEW_YORK)
    assert not comes_twice(day, time(3), NEW_YORK)


def test_a_time_that_never_came_is_to_be_mended() -> None:
    said = moment_of(date(2025, 3, 9), time(2, 30), NEW_YORK, "first")
    assert said == Mend("02:30 on Mar 9, 2025 did not exist in America/New_York: clocks were set forward in that night. Correct the time.")
    assert not comes_twice(date(2025, 3, 9), time(2, 30), NEW_YORK)


def test_dashes_and_their_like_say_nothing() -> None:
    assert all(map(says_nothing, (None, "–", "-", "N/A", "na", "")))
    assert not any(map(says_nothing, (0, False, "0", "no")))


def test_yes_and_no_are_known_by_few_words() -> None:
    assert [yes_no_of(cell) for cell in ("y", "Yes", True, "x", 1, "1", "TRUE")] == [True] * 7
    assert [yes_no_of(cell) for cell in ("n", "No", False, 0, "FALSE")] == [False] * 5
    assert yes_no_of("maybe") is yes_no_of("") is None
