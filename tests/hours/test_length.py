"""A sign-in is as long on the server as on the phone; days and nights of clock changes are zoneinfo's."""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fieldlog.hours.length import Turn, by_day, counted_once, turn_of

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "hours_cases.json").read_text("utf-8"))

SAID = """async ({ turns, once, days }) => {
  const { turnOf, countedOnce, byDay, timeOf, decimalHours } = await import('/records/hours.js');
  const length = (turn) => (typeof turn === 'string' ? turn : turn.untilMin - turn.fromMin);
  return {
    turns: turns.map(({ sign_in: signIn }) => length(turnOf(signIn))),
    once: once.map(({ turns: of }) => Object.fromEntries(countedOnce(of.map(([signInId, fromMin, untilMin]) =>
      ({ signInId, fromMin, untilMin }))).map((turn) => [turn.signInId, length(turn)]))),
    days: days.map(({ from, until, zone }) => byDay({ signInId: '', fromMin: from, untilMin: until }, zone)
      .map(({ day, minutes }) => [day, minutes])),
    time: timeOf(turns.map(({ sign_in: signIn }) => signIn)), hours: [225, 20, 0].map(decimalHours),
  };
}"""


@pytest.mark.parametrize("case", CASES["turns"], ids=lambda case: case["name"])
def test_a_sign_ins_length_or_why_it_has_none(case: dict) -> None:
    turn = turn_of(case["sign_in"])
    assert (turn if isinstance(turn, str) else turn.until_min - turn.from_min) == case["is"]


@pytest.mark.parametrize("case", CASES["once"], ids=lambda case: case["name"])
def test_no_minute_of_a_person_counts_twice(case: dict) -> None:
    left = counted_once(Turn(*turn) for turn in case["turns"])
    assert {name: turn.until_min - turn.from_min for name, turn in left.items()} == case["minutes"]


@pytest.mark.parametrize("case", CASES["days"], ids=lambda case: case["name"])
def test_minutes_by_days_are_those_of_the_sites_clock(case: dict) -> None:
    zone = ZoneInfo(case["zone"])
    assert [[str(day), minutes] for day, minutes in by_day(case["from"], case["until"], zone)] == case["days"]
    # Minute by minute, as the clock on the wall would tell its day: no rule of ours in it.
    told = Counter(str(datetime.fromtimestamp(minute * 60, zone).date()) for minute in range(case["from"], case["until"]))
    assert dict(case["days"]) == told


@pytest.mark.browser
def test_the_phone_comes_to_the_same(modules_page) -> None:
    got = modules_page.evaluate(SAID, CASES)
    assert got["turns"] == [case["is"] for case in CASES["turns"]]
    assert got["once"] == [case["minutes"] for case in CASES["once"]]
    assert got["days"] == [case["days"] for case in CASES["days"]]
    # 225 once, the one over midnight and the reason beside a time out, which is within the first.
    assert got["time"] == {"minutes": 225 + 75, "count": len(CASES["turns"])}
    assert got["hours"] == ["3.75", "0.33", "0.00"]
