"""The phone draws the server's curve: one file of numbers and levels, read by both (equal to one millimetre)."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.predict import predict_levels

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "tides_curve.json").read_text("utf-8"))
CASES = VECTORS["cases"]
MILLIMETRE = 0.001

ENGINE = """async ({ numbers, atMs, levels }) => {
  const { openTide } = await import('/tides/predict.js');
  const tide = openTide(numbers);
  return {
    levels: atMs.map((ms) => tide.levelAt(ms)),
    extremes: tide.extremes(numbers.from_ms, numbers.to_ms).map((one) => [one.ms, one.level_m, one.kind]),
    crossings: levels.map((level) => tide.crossings(level, numbers.from_ms, numbers.to_ms).map((one) => [one.ms, one.rising])),
  };
}"""


def times_of(case: dict) -> list[int]:
    start = case["numbers"]["from_ms"]
    return [start + case["step_ms"] * step for step in range(len(case["levels_m"]))]


def name_of(case: dict) -> str:
    return case["numbers"]["station"]["name"]


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_the_servers_numbers_and_levels_are_those_of_the_file(case: dict) -> None:
    numbers = case["numbers"]
    station = find(numbers["station"]["id"])
    start, end = (datetime.fromtimestamp(numbers[name] / 1000, UTC) for name in ("from_ms", "to_ms"))
    assert json.loads(json.dumps(phone_numbers(station, start, end)))["numbers"] == numbers["numbers"]
    levels = predict_levels(station, np.array(times_of(case)).astype("datetime64[ms]"))
    assert levels == pytest.approx(case["levels_m"], abs=2e-5)
    found = [(round(one.at_utc.timestamp() * 1000), one.kind) for one in Curve.for_station(station, start, end).extremes()]
    assert [kind for _, kind in found] == [kind for _, _, kind in case["extremes"]]
    assert [ms for ms, _ in found] == pytest.approx([ms for ms, _, _ in case["extremes"]], abs=1000)


@pytest.mark.browser
@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_the_phone_draws_the_same_curve_to_a_millimetre(modules_page, case: dict) -> None:
    asked = {"numbers": case["numbers"], "atMs": times_of(case), "levels": [one["level_m"] for one in case["crossings"]]}
    told = modules_page.evaluate(ENGINE, asked)
    assert max(abs(one - other) for one, other in zip(told["levels"], case["levels_m"], strict=True)) <= MILLIMETRE
    assert [kind for _, _, kind in told["extremes"]] == [kind for _, _, kind in case["extremes"]]
    for (ms, level_m, _), (other_ms, other_m, _) in zip(told["extremes"], case["extremes"], strict=True):
        assert abs(ms - other_ms) <= 5_000
        assert abs(level_m - other_m) <= MILLIMETRE
    for found, expected in zip(told["crossings"], case["crossings"], strict=True):
        assert [is_rising for _, is_rising in found] == [is_rising for _, is_rising in expected["at"]]
        assert max(abs(ms - other) for (ms, _), (other, _) in zip(found, expected["at"], strict=True)) <= 5_000
