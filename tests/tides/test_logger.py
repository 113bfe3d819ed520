"""Loggers' files, as differently as people export them: guessed, told, read; what is not known is asked."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from fieldlog.errors import BadRecord
from fieldlog.tides.logger import read
from fieldlog.tides.logger_look import look, told


def text(head: str, line: str, count: int = 40) -> str:
    rows = [line.format(day=1 + n // 24, hour=n % 24, hour12=(n % 12) or 12, half="AM" if n % 24 < 12 else "PM", n=n, z=f"{n % 7}.5") for n in range(count)]
    return head + "\n" + "\n".join(rows) + "\n"


FILES = {
    "iso and metres": (text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}"), "m", "iso", 0.5),
    "a zone of its own": (text("time,level (cm)", "2026-03-{day:02d}T{hour:02d}:00:00Z,{z}"), "cm", "iso", 0.005),
    "pressure, half days": (text("no,taken at,pressure (kPa),temp (C)", "{n},03/{day:02d}/2026 {hour12:02d}:00:00 {half},{z},20"), "kPa", "%m/%d/%Y %I:%M:%S %p", 0.5),
    "points in the date": (text("day;time;stage ft", "{day:02d}.03.2026;{hour:02d}:00;{z}"), "ft", "%d.%m.%Y %H:%M", 0.1524),
    "tabs and a preface": (text("Alder Spit\nserial 12\ntime\tdepth [mm]", "2026/03/{day:02d} {hour:02d}:00\t{z}"), "mm", "%Y/%m/%d %H:%M", 0.0005),
    "hectopascals": (text("time,air hPa", "2026-03-{day:02d} {hour:02d}:00,{z}"), "hPa", "iso", 0.05),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_is_guessed_and_read(name: str) -> None:
    content, unit, form, first = FILES[name]
    found = look(content, "UTC")
    assert (found.columns.unit, found.columns.time_form) == (unit, form)
    readings = read(content, found.columns)
    assert len(readings.t_s) == 40
    assert readings.t_s[0] == datetime(2026, 3, 1, tzinfo=UTC).timestamp()
    assert np.diff(readings.t_s) == pytest.approx(3600)
    assert readings.value[0] == pytest.approx(first)
    assert readings.unread == 0


def test_a_decimal_comma_is_read() -> None:
    content = "time;level m\n" + "".join(f"2026-03-01 {n:02d}:00;1,{n:02d}\n" for n in range(20))
    found = look(content, "UTC")
    assert found.columns.decimal_comma
    assert read(content, found.columns).value[7] == pytest.approx(1.07)


def test_a_quoted_decimal_comma_is_read() -> None:
    content = "time,level m\n" + "".join(f'2026-03-01 {n:02d}:00,"1,{n:02d}"\n' for n in range(20))
    assert read(content, look(content, "UTC").columns).value[7] == pytest.approx(1.07)


@pytest.mark.parametrize("nines", ["-9999", "9999.0", "-999.99", "-999", "99999"])
def test_nines_far_from_all_else_are_no_reading(nines: str) -> None:
    """Also where they come in a run, which no neighbour tells apart."""
    head, *lines = text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}").splitlines()
    lines[10:20] = [f"{line.rsplit(',', 1)[0]},{nines}" for line in lines[10:20]]
    content = "\n".join([head, *lines])
    readings = read(content, look(content, "UTC").columns)
    assert (readings.unread, readings.unread_lines) == (10, (12, 13, 14, 15, 16))
    assert readings.value.max() < 7 and len(readings.t_s) == 30


def test_nines_among_their_like_are_a_reading() -> None:
    content = "time,pressure hPa\n" + "".join(f"2026-03-01 {n:02d}:00,{999 - 9 + n}\n" for n in range(20))
    readings = read(content, look(content, "UTC").columns)
    assert readings.unread == 0 and len(readings.value) == 20


def test_times_without_a_zone_are_asked_about_and_read_by_the_sites_clock() -> None:
    content = text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}")
    found = look(content, "America/New_York")
    assert any("have no time zone" in question and "UTC-05:00" in question for question in found.questions)
    assert read(content, found.columns).t_s[0] == datetime(2026, 3, 1, 5, tzinfo=UTC).timestamp()
    standard = replace(found.columns, zone="UTC-05:00")
    assert read(content, standard).t_s[0] == datetime(2026, 3, 1, 5, tzinfo=UTC).timestamp()


def test_the_hour_that_autumn_shows_twice_goes_on_from_the_line_before() -> None:
    clock = ["00:00", "00:30", "01:00", "01:30", "01:00", "01:30", "02:00", "02:30", "03:00", "03:30", "04:00"]
    content = "time,level m\n" + "".join(f"2026-11-01 {at},{n}.0\n" for n, at in enumerate(clock))
    readings = read(content, look(content, "America/New_York").columns)
    assert np.diff(readings.t_s) == pytest.approx(1800)


def test_a_line_written_twice_in_the_second_of_the_two_hours_turns_no_clock_back() -> None:
    """The doubled line is the same instant again; before, it and all after it fell into the hour that was over."""
    clock = ["00:30", "01:00", "01:30", "01:00", "01:15", "01:15", "01:30", "01:45", "02:00", "02:30", "03:00"]
    content = "time,level m\n" + "".join(f"2026-11-01 {at},{n}.0\n" for n, at in enumerate(clock))
    readings = read(content, look(content, "America/New_York").columns)
    assert ((readings.t_s - readings.t_s[0]) / 60).tolist() == [0, 30, 60, 90, 105, 105, 120, 135, 150, 180, 210]


def test_a_line_without_a_time_among_the_first_is_a_sentence() -> None:
    content = text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}", 20) + "logger read out,0.31\n"
    with pytest.raises(BadRecord, match="The times are written in more than one way: '2026-03-"):
        look(content, "UTC")


def test_a_day_that_may_be_a_month_is_asked_about() -> None:
    content = "time,level m\n" + "".join(f"03/04/2026 {n:02d}:00,1.{n}\n" for n in range(20))
    assert any("month first" in question for question in look(content, "UTC").questions)
    later = "time,level m\n" + "".join(f"{13 + n // 10}/04/2026 {n % 10:02d}:00,1.{n}\n" for n in range(20))
    found = look(later, "UTC")
    assert found.columns.time_form.startswith("%d/%m")
    assert not any("first" in question for question in found.questions)


def test_days_that_follow_one_another_settle_day_or_month() -> None:
    content = "time,level m\n" + "".join(f"0{1 + n // 12}/04/2026 {2 * (n % 12):02d}:00,1.{n}\n" for n in range(36))
    assert look(content, "UTC").columns.time_form.startswith("%d/%m")


def test_a_column_without_a_unit_is_asked_about() -> None:
    assert any("names no unit" in one for one in look(text("time,val", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC").questions)


def test_lines_that_cannot_be_read_are_counted_not_swallowed() -> None:
    content = text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}") + "2026-03-09 00:00,ERR\nLogger stopped\n"
    readings = read(content, look(content, "UTC").columns)
    assert (readings.unread, readings.unread_lines) == (2, (42, 43))


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("nothing here\nat all\n", "No line of this file begins with a date and a time"),
        (text("time,word", "2026-03-{day:02d} {hour:02d}:00,wet"), "no column of numbers"),
        (text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}", 5), "Its readings: 5;"),
    ],
)
def test_what_is_no_record_is_refused_in_a_sentence(content: str, sentence: str) -> None:
    with pytest.raises(BadRecord, match=sentence):
        read(content, look(content, "UTC").columns)


@pytest.mark.parametrize("wrong", [{"zone": "Mars/Base"}, {"zone": "UTC+19:00"}, {"unit": "furlong"}, {"value": 9}, {"time": -1}, {"delimiter": "ab"}, {"delimiter": 7}, {"zone": ["UTC"]}, {"nothing": 1}])
def test_a_zone_or_unit_that_is_none_is_refused(wrong: dict[str, object]) -> None:
    content = text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}")
    with pytest.raises(BadRecord, match=r"zone|unit|offset|column|delimiter|Nothing"):
        read(content, told(look(content, "UTC"), wrong))


UNITS = [
    ("m", "m"), ("metres", "m"), ("meter", "m"), ("cm", "cm"), ("MM", "mm"), ("ft", "ft"), ("feet", "ft"), ("inch", "in"), ("inches", "in"), ("kPa", "kPa"),
    ("hpa", "hPa"), ("mbar", "mbar"), ("millibars", "mbar"), ("bar", "bar"), ("dbar", "dbar"), ("psi", "psi"), ("PSIA", "psi"), ("inHg", "inHg"),
]  # fmt: skip


@pytest.mark.parametrize(("written", "unit"), UNITS)
@pytest.mark.parametrize("name", ["level {}", "level ({})", "level [{}]", "level_{}", "level/{}"])
def test_a_unit_is_known_however_it_is_written(written: str, unit: str, name: str) -> None:
    found = look(text(f"time,{name.format(written)}", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC")
    assert found.columns.unit == unit
    assert not any("unit" in question for question in found.questions)


def test_a_unit_in_the_lines_above_counts_where_the_column_names_none() -> None:
    assert look(text("Level, feet\ntime,stage", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC").columns.unit == "ft"
    assert look(text("time,pressure", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC").columns.unit == "kPa"
    assert look(text("time,level mast", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC").columns.unit == "m", "a word is no unit by its first letter"


@pytest.mark.parametrize(
    "form",
    ["%Y/%m/%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %I:%M %p", "%d/%m/%Y %I:%M:%S %p", "%d/%m/%Y %I:%M %p",
     "%m/%d/%y %I:%M:%S %p", "%m/%d/%y %I:%M %p", "%m/%d/%y %H:%M:%S", "%m/%d/%y %H:%M", "%d/%m/%y %H:%M:%S", "%d/%m/%y %H:%M", "%d-%b-%Y %H:%M:%S", "%d-%b-%Y %H:%M",
     "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M", "%Y/%m/%d %H:%M"],
)  # fmt: skip
def test_times_of_every_usual_form_are_read(form: str) -> None:
    """Two days a month apart from the 12th on, so that day and month cannot be taken for one another."""
    begins = datetime(2026, 3, 13, tzinfo=UTC)
    stamps = [begins + timedelta(hours=n) for n in range(30)]
    content = "time,level m\n" + "".join(f"{at:{form}},{n % 7}.5\n" for n, at in enumerate(stamps))
    found = look(content, "UTC")
    assert read(content, found.columns).t_s.tolist() == [at.timestamp() for at in stamps]


@pytest.mark.parametrize(
    ("head", "zone"),
    [("time UTC", "UTC"), ("time GMT", "UTC"), ("time (UTC-05:00)", "UTC-05:00"), ("time GMT+2", "UTC+02:00"), ("time UTC +05:30", "UTC+05:30"), ("time UTC-0330", "UTC-03:30"),
     ("time UTC+00:00", "UTC"), ("time UTC+00:30", "UTC+00:30")],
)  # fmt: skip
def test_a_zone_in_the_columns_name_is_taken(head: str, zone: str) -> None:
    found = look(text(f"{head},level m", "2026-03-{day:02d} {hour:02d}:00,{z}"), "America/New_York")
    assert found.columns.zone == zone
    assert not any("zone" in question for question in found.questions)


@pytest.mark.parametrize("stamp", ["2026-03-{day:02d}T{hour:02d}:00:00+02:00", "2026-03-{day:02d} {hour:02d}:00:00-0330"])
def test_times_that_carry_their_offset_are_read_by_it(stamp: str) -> None:
    found = look(text("time,level m", stamp + ",{z}"), "America/New_York")
    assert found.columns.zone == "in the file"
    hours = -2 if "+02" in stamp else 3.5
    assert read(text("time,level m", stamp + ",{z}"), found.columns).t_s[0] == datetime(2026, 3, 1, tzinfo=UTC).timestamp() + 3600 * hours


def test_the_level_is_found_among_counts_temperatures_and_batteries() -> None:
    line = "{n},2026-03-{day:02d} {hour:02d}:00,20.{n},12.{n},{z}"
    assert look(text("#,time,temperature C,battery V,water level m", line), "UTC").columns.value == 4
    assert look(text("#,time,temperature C,battery V,reading", line), "UTC").columns.value == 4
    assert look(text("no,time,a", "{n},2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC").columns.value == 2, "the number of the line is no level"
    named = look(text("x,time,depth m,level m", "{z},2026-03-{day:02d} {hour:02d}:00,{z},{z}"), "UTC")
    assert named.columns.value == 2, "the first of two"
    assert named.names == ("x", "time", "depth m", "level m")


def test_a_file_without_names_has_its_columns_numbered_and_its_first_lines_shown() -> None:
    found = look(text("", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC")
    assert found.names == ("column 1", "column 2")
    assert found.first_rows == tuple((f"2026-03-01 {n:02d}:00", f"{n}.5") for n in range(4))


def test_a_column_that_is_hardly_ever_a_number_holds_no_levels() -> None:
    rows = [f"2026-03-01 {n // 60:02d}:{n % 60:02d},{'wet' if n % 5 == 0 else n % 7}" for n in range(50)]
    with pytest.raises(BadRecord, match="no column of numbers"):
        look("time,level m\n" + "\n".join(rows), "UTC")


@pytest.mark.parametrize(
    ("said", "says"),
    [({"value": "x"}, "value is the number of a line or column; 'x' is none"), ({"first_line": "two"}, "first_line is the number"), ({"first_line": 10_000}, "There is no first_line column"),
     ({"first_line": -1}, "There is no first_line"), ({"value": 2}, "There is no value column number 2: the file has 2, counted from 0"), ({"decimal_comma": "yes"}, "decimal_comma is true or false"),
     ({"colour": 1, "size": 2}, "There is no setting colour, size")],
)  # fmt: skip
def test_what_a_person_says_must_be_a_column_that_is_there(said: dict[str, object], says: str) -> None:
    with pytest.raises(BadRecord, match=says):
        told(look(text("time,level m", "2026-03-{day:02d} {hour:02d}:00,{z}"), "UTC"), said)


def test_what_a_person_says_counts_and_what_is_left_empty_stays_as_guessed() -> None:
    found = look(text("time,a,b", "2026-03-{day:02d} {hour:02d}:00,{z},{z}"), "UTC")
    said = told(found, {"value": "2", "first_line": "9999", "zone": "", "unit": None, "delimiter": ";", "decimal_comma": True})
    assert said == replace(found.columns, value=2, first_line=9999, delimiter=";", decimal_comma=True)
    assert told(found, {"zone": "UTC-05:00", "unit": "ft"}) == replace(found.columns, zone="UTC-05:00", unit="ft")


GOOD_LINES = [f"2026-11-{day:02d} 06:12,{day / 10}" for day in range(1, 21)]


def test_a_field_without_end_is_a_sentence() -> None:
    file = "\n".join(["time,level m", *GOOD_LINES, '2026-11-25 06:12,"' + "x" * 200_000])
    with pytest.raises(BadRecord, match="cannot be split into columns"):
        read(file, look(file, "UTC").columns)


def test_a_time_at_the_end_of_all_calendars_is_a_line_that_cannot_be_read() -> None:
    file = "\n".join(["time,level m", *GOOD_LINES, "0001-01-01 00:00,1.0", "9999-12-31 23:59,1.0"])
    found = look(file, "Asia/Tokyo").columns
    assert read(file, replace(found, zone="UTC+14:00")).unread == 1
    assert read(file, replace(found, zone="UTC-14:00")).unread == 1


def test_a_form_of_times_that_names_the_day_twice_is_a_sentence() -> None:
    file = "\n".join(["time,level m", *GOOD_LINES])
    with pytest.raises(BadRecord, match="is not a time format"):
        told(look(file, "UTC"), {"time_form": "%d%d"})
