"""The phone's readings, and what it says at the unit, against the cases that the server is held to."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

VECTORS = Path(__file__).parents[1] / "vectors"
READ = json.loads((VECTORS / "survey_readings.json").read_text("utf-8"))
MOVED = json.loads((VECTORS / "survey_movement.json").read_text("utf-8"))

ALL = """async ([read, moved]) => {
  const { comparedWithZero, zeroOf } = await import('/views/readings.js');
  const { compare } = await import('/survey/movement.js');
  const { adjust } = await import('/survey/position.js');
  const planned = { east_m: read.planned[0], north_m: read.planned[1] };
  const surveyOf = (fix) => fix.survey;
  const readings = read.cases.map(({ fixes, events }) => {
    const known = { marks: read.marks, planned, surveyOf, events, azimuthDeg: 0, fixes: fixes.slice(0, -1) };
    const fix = fixes[fixes.length - 1];
    const said = comparedWithZero(fix, known);
    return { zero: zeroOf(fixes, known, fix.fixed_at).survey, movement: said.movement };
  });
  const epoch = ({ marks, ranges_m, tape_sigma_m }, sigmas, north_m) => {
    const tapes = marks.map((name, n) => ({
      mark_id: name, mark_sigma_m: sigmas['ABCD'.indexOf(name)], label: name, east_m: moved.marks[name][0], north_m: moved.marks[name][1],
      range_m: ranges_m[n], sigma_m: tape_sigma_m[n],
    }));
    const found = adjust(tapes, { east_m: 12, north_m });
    const doubts = found.warnings.filter((one) => ['side', 'side-unknown', 'weak'].includes(one.word));
    return { method: 'tapes', east_m: found.east_m, north_m: found.north_m, tapes, sigma_m: 0, doubts };
  };
  const both = (one) => [epoch(one.zero, one.mark_sigma_m, 15), epoch(one.now, one.mark_sigma_m, one.mirror ? -15 : 15), 90];
  const pairs = moved.pairs.map((one) => compare(...both(one)));
  const of = ({ pair }) => both(moved.pairs.find((one) => one.name === pair));
  const scaled = moved.scaled.map((one) => compare(...of(one), { scale: one }));
  const small = moved.small.map((one) => compare(...of(one), { leastShiftM: one.least_shift_m }));
  const old = [];
  for (let n = 0; n < 120; n += 1) old.push({ ...read.cases[0].fixes[0], fixed_at: new Date(Date.UTC(2010, n, 2)).toISOString(), survey: `${n}`, record_id: `${n}` });
  const known = { marks: read.marks, planned, surveyOf, events: [], azimuthDeg: 0, fixes: old };
  const fix = { ...old[0], fixed_at: '2026-01-01T00:00:00Z', survey: 'now', record_id: 'now' };
  for (let n = 0; n < 20; n += 1) comparedWithZero(fix, known);
  const times = [];
  for (let n = 0; n < 50; n += 1) {
    const start = performance.now();
    comparedWithZero(fix, known);
    times.push(performance.now() - start);
  }
  return { readings, pairs, scaled, small, each_ms: times.sort((one, other) => one - other)[25] };
}"""


@pytest.fixture
def told(modules_page) -> dict[str, Any]:
    return modules_page.evaluate(ALL, [READ, MOVED])


def test_readings_are_compared_with_the_same_zero_on_the_phone(told) -> None:
    for found, case in zip(told["readings"], READ["cases"], strict=True):
        assert found["zero"] == case["zero"], case["name"]
        movement = found["movement"]
        assert (movement is None) == (case["p"] is None), case["name"]
        if movement is not None:
            assert movement["p"] == pytest.approx(case["p"], rel=1e-6), case["name"]
            assert movement["displacement_m"] == pytest.approx(case["shift_m"], abs=1e-6), case["name"]
            assert (movement["verdict"] == "none") is (case["p"] >= 0.05), case["name"]


def test_pairs_have_the_same_numbers_on_the_phone_and_none_says_moved(told) -> None:
    for found, case in zip(told["pairs"], MOVED["pairs"], strict=True):
        assert found["p"] == pytest.approx(case["p"], rel=2e-5), case["name"]
        assert found["t2"] == pytest.approx(case["T2"], rel=2e-5), case["name"]
        assert found["shows_m"] == pytest.approx(3.9298 * case["largest_sigma_m"], rel=1e-4), case["name"]
        worst = max(case["now_fix"]["w"] or [0.0])
        if not any(case["mark_sigma_m"]) and len(case["now"]["marks"]) > 2:
            assert found["misfit"] == pytest.approx(worst, rel=2e-3), case["name"]
        assert found["bearing_deg"] == pytest.approx((math.degrees(math.atan2(*case["d_m"])) + 90) % 360, abs=0.01), case["name"]
        asks = case["verdict"] != "none"
        assert (found["verdict"] == "again") is asks, case["name"]
        assert not [word for word in ("moved ", "surely", "significant", "T\u00b2") if word in found["sentence"].lower()], found["sentence"]


def test_the_phone_asks_by_what_the_sites_tapes_show(told) -> None:
    for found, case in zip(told["scaled"], MOVED["scaled"], strict=True):
        for name in ("p", "t2", "shows_m", "misfit"):
            assert found[name] == pytest.approx(case["T2" if name == "t2" else name], rel=2e-4), (case["pair"], name)
        assert (found["verdict"] == "again") is case["asks"], case["pair"]


def test_a_shift_that_stays_under_what_matters_asks_for_nothing(told) -> None:
    for found, case in zip(told["small"], MOVED["small"], strict=True):
        assert (found["verdict"] == "small") is case["is_small"], case
    assert told["small"][0]["sentence"] == "Found 0.30 m south-east of its first position, less than matters here (0.50 m)."


def test_sentences_say_what_to_do_before_leaving_the_unit(told) -> None:
    said = dict(zip((case["name"] for case in MOVED["pairs"]), (found["sentence"] for found in told["pairs"]), strict=True))
    assert said["nothing moved"] == "No movement found. These two measurements cannot show less than 0.14 m."
    assert said["moved 0.30 m, one set each"].endswith("of its first position. Take a second set of tapes now; it joins the first.")
    assert said["moved 0.30 m, two sets each"].endswith("The next sync says whether it moved, once the whole survey is compared.")
    assert said["two tapes, the other side taken"].startswith("Measure again. Two positions fit these tapes.")


@pytest.mark.alone
def test_the_phone_says_so_in_5_ms_at_a_quarter_of_the_speed(modules_page) -> None:
    session = modules_page.context.new_cdp_session(modules_page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    try:
        each_ms = modules_page.evaluate(ALL, [READ, MOVED])["each_ms"]
    finally:
        session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    print(f"{each_ms:.2f} ms with ten years of readings")
    assert each_ms <= 5
