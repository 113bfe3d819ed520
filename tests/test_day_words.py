"""Days in sentences are written by one rule on each side, the month first, and both sides write the same."""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from fieldlog.days import day_words
from fieldlog.gauge.sentences import day, moment

ROOT = Path(__file__).parents[1]
CASES = json.loads((ROOT / "tests/vectors/day_words.json").read_text())["cases"]

SAID = """async (cases) => {
  const { dayWords, monthWords, localDay } = await import('/days.js');
  const { day, fullDay, moment, month } = await import('/views/words.js');
  const [ms, zone] = [Date.parse('2026-11-29T01:30:00Z'), 'America/New_York'];
  return {
    cases: cases.map(({ day: of, weekday, year }) => dayWords(of, { weekday, year })), month: monthWords('2026-05-03'),
    local: [localDay(ms, zone), day(ms, zone), fullDay(ms, zone), month(ms, zone)],
    moments: ['2026-11-29T03:00:00Z', '2026-12-03T12:00:00Z', '2027-06-20T12:00:00Z'].map((now) => moment(ms, Date.parse(now), zone)),
  };
}"""


def test_the_server_writes_days_so() -> None:
    assert [day_words(date.fromisoformat(one["day"]), weekday=one["weekday"], year=one["year"]) for one in CASES] == [one["said"] for one in CASES]
    at_s = datetime(2026, 3, 4, 11, 12, tzinfo=UTC).timestamp()
    assert (moment(at_s, "America/New_York"), day(at_s, "America/New_York")) == ("Mar 4, 2026, 06:12", "Mar 4, 2026")


@pytest.mark.browser
def test_the_phone_writes_the_same_and_tells_the_year_of_a_day_half_a_year_off(modules_page) -> None:
    got = modules_page.evaluate(SAID, CASES)
    assert got["cases"] == [one["said"] for one in CASES]
    assert got["month"] == "May 2026"
    assert got["local"] == ["2026-11-28", "Sat, Nov 28", "Nov 28, 2026", "November 2026"]
    assert got["moments"] == ["20:30", "Sat, Nov 28, 20:30", "Nov 28, 2026, 20:30"]


def test_no_other_place_writes_a_day() -> None:
    python = re.compile(r"%[aAbBx]|\.(?:ctime|strftime)\(.*%[aAbB]")
    theirs = {"days.py", "logger_look.py", "backup.py", "restoring.py", "calendar.py"}
    files = [path for path in (ROOT / "fieldlog").rglob("*.py") if path.name not in theirs]
    stamps = re.compile(r"%Y-?%m-?%d(?:T%H|\W)")
    assert [path.name for path in files if python.search(stamps.sub("", path.read_text("utf-8")))] == []
    script = re.compile(r"(?:month|weekday|day): '(?:short|long|numeric)'|toLocaleDateString|toDateString|dateStyle")
    scripts = [path for path in (ROOT / "static").rglob("*.js") if "vendor" not in path.parts]
    assert [path.name for path in scripts if script.search(path.read_text("utf-8"))] == []
