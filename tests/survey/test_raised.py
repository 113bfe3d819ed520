"""What a phone says at once of its own checks is what the server will say of them: the same rules, severity and words."""

from __future__ import annotations

import random
from typing import Any

import pytest

from fieldlog.flags.condition import damaged, leaning, undermined
from fieldlog.flags.unit_history import UnitHistory
from fieldlog.flags.verdicts import JUDGED_BY

pytestmark = pytest.mark.browser

VALUES: dict[str, list[Any]] = {
    "lost_volume_pct": [0, 12, 30], "scaling_depth_mm": [0, 3, 12], "chip_depth_mm": [0, 10, 40], "chip_across_mm": [0, 20, 300],
    "crack_width_mm": [0, 0.29, 0.3, 1.31], "body_grade": [0, 1, 2, 4], "tilt_deg": [0, 14.9, 15, 31], "stance_grade": [0, 1, 2, 4],
    "rocking": [True, False], "scour_depth_mm": [0, 40, 60, 200], "toe_grade": [0, 1, 2, 4],
}  # fmt: skip
LIMITS = [(450, None), (450, 10), (None, 30)]

ALL = """async (cases) => {
  const { raisedBy } = await import('/survey/raised.js');
  return cases.map(([checks, height_mm, lean_look_deg]) => raisedBy(checks, { height_mm, lean_look_deg }, () => true).map(({ rule, severity, what, check }) => [rule, severity, what, check.record_id]));
}"""


def drawn(seed: int) -> list[dict[str, Any]]:
    """One to three checks of a unit, a few measures each."""
    draw = random.Random(seed)
    checks = []
    for n in range(draw.choice((1, 1, 2, 3))):
        row: dict[str, Any] = dict.fromkeys(JUDGED_BY)
        for name in draw.sample(sorted(VALUES), draw.randint(1, 5)):
            row[name] = draw.choice(VALUES[name])
        # Some fall on one day, whose time may not be known: noon stands for it then.
        day = draw.randint(1, 2) if seed % 3 == 0 else n + 1
        is_time_known = seed % 3 != 0 or draw.random() < 0.5
        at = f"2026-07-0{day}T{f'{8 + 2 * n:02}:30' if is_time_known else '12:00'}:00.000Z"
        checks.append({**row, "found_state": "seen", "record_id": f"check {n}", "checked_at": at, "time_known": is_time_known})
    return sorted(checks, key=lambda check: (check["checked_at"], check["record_id"]))


def of_server(checks: list[dict[str, Any]], height_mm: float | None, lean_look_deg: float | None) -> list[list[Any]]:
    site = {"zone": None, "lean_look_deg": lean_look_deg, "check_every_days": None, "grid_azimuth_deg": None}
    history = UnitHistory({"tag": "A010"}, site, {"height_mm": height_mm}, checks, [], {})
    found = [(rule.__name__, rule(history)) for rule in (damaged, leaning, undermined)]
    return [[name, one.severity, words_of(one.sentence), one.record_id] for name, one in found if one is not None and one.settled_by is None]


def words_of(sentence: str) -> str:
    """A flag's sentence without the unit's tag and the days."""
    parts = sentence.removeprefix("A010: ").removesuffix(".").split("; ")
    return ", ".join(part[: part.index(", seen ")] if ", seen " in part else part + ";" for part in parts).replace(";, ", "; ")


def test_phone_and_server_say_the_same_of_drawn_checks(modules_page) -> None:
    cases = [(drawn(seed), *LIMITS[seed % len(LIMITS)]) for seed in range(600)]
    ours = [of_server(*case) for case in cases]
    theirs = modules_page.evaluate(ALL, [list(case) for case in cases])
    for case, one, other in zip(cases, ours, theirs, strict=True):
        assert other == one, case
    assert sum(map(bool, ours)) > 200
    assert any(len(checks) > 1 and not one for (checks, *_), one in zip(cases, ours, strict=True)), "some are settled"
