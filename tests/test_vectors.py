"""Every group of every vector file is run, and by which side: what only one side has says why."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
SURVEY, SURVEY_JS = "survey/test_survey_vectors.py", "survey/test_survey_js.py"
MOVED, READ, READ_JS = "survey/test_movement_vectors.py", "survey/test_readings.py", "survey/test_readings_js.py"
ALLOWED, SYNC, SYNC_JS = "tides/test_allowance.py", "phone/test_sync_vectors.py", "phone/vectors.js"
REMARKS, DAYS, JOINED = "survey/test_remarks.py", "test_day_words.py", "flags/test_joined.py"
VALUES, BURIAL, CURVE = "records/test_values.py", "survey/test_burial.py", "tides/test_curve_vectors.py"
LISTS, LENGTH, DUE = "records/test_lists.py", "hours/test_length.py", "plan/test_plots_due.py"
WINDOWS, WINDOWS_JS = "windows/test_access.py", "windows/test_windows_js.py"

BOTH = {
    ("survey_cases", ("adjust", "no_place", "body", "stance", "toe", "cover", "rounding", "compass")): (SURVEY, SURVEY_JS),
    ("survey_movement", ("pairs", "scaled", "small")): (MOVED, READ_JS),
    ("survey_readings", ("cases",)): (READ, READ_JS),
    ("burial_cases", ("cases", "nothing", "histories")): (BURIAL, BURIAL),
    ("survey_remarks", ("small", "plan", "least_shift")): (REMARKS, REMARKS),
    ("records_values", ("values", "rows", "tags", "made_tags")): (VALUES, VALUES),
    ("records_lists", ("values", "rows")): (LISTS, LISTS),
    ("windows_cases", ("cases", "shortened", "sentences", "reasons", "names")): (WINDOWS, WINDOWS_JS),
    ("tides_curve", ("cases",)): (CURVE, CURVE),
    ("day_words", ("cases",)): (DAYS, DAYS),
    ("plan_due", ("plots",)): (DUE, DUE),
    ("hours_cases", ("turns", "once", "days")): (LENGTH, LENGTH),
    ("visits_joined", ("cases",)): (JOINED, JOINED),
    ("sync_ids", ("entry_ids", "chain", "made_up_ids", "names_of_sites")): (SYNC, SYNC_JS),
    ("sync_clock", ("ticks",)): (SYNC, SYNC_JS),
    ("sync_fold", ("cases",)): (SYNC, SYNC_JS),
}
"""File and groups: the test that runs them in Python and the one that runs them in a browser."""

SERVER_ALONE = {
    ("survey_cases", ("place",)): (SURVEY, "how far a unit moved is said by its survey, on the server; its flag brings it"),
    ("survey_cases", ("zero_fix",)): (SURVEY, "the phone finds the zero with its readings at hand (survey_readings)"),
    ("survey_movement", ("p", "bh", "survey", "contrast", "power", "settles", "pooled", "limits")): (MOVED, "a whole survey is judged on the server"),
    ("allowance_cases", ("mean_variance_m2", "level_sigma_m", "laid_over_percentile", "allowance")): (ALLOWED, "records are worked out on the server"),
}
PHONE_ALONE = {("survey_cases", ("rims",)): (SURVEY_JS, "a tilt is worked out where it is typed")}

BESIDE = {
    "survey_movement": {"marks", "mark_columns"}, "survey_readings": {"marks", "planned"}, "records_values": {"form"}, "records_lists": {"form"},
    "windows_cases": {"start", "rules", "light"}, "allowance_cases": {"left_m"},
}  # fmt: skip
"""What the cases of a file stand on."""

RUN = [
    *((name, group, test) for (name, groups), tests in BOTH.items() for group in groups for test in tests),
    *((name, group, test) for alone in (SERVER_ALONE, PHONE_ALONE) for (name, groups), (test, _why) in alone.items() for group in groups),
]


def test_each_group_of_each_file_is_listed_once_a_side() -> None:
    files = {path.stem: set(json.loads(path.read_text("utf-8"))) - {"about"} for path in (TESTS / "vectors").glob("*.json")}
    listed: dict[str, set[str]] = {}
    for name, group, _test in RUN:
        listed.setdefault(name, set()).add(group)
    assert files == {name: groups | BESIDE.get(name, set()) for name, groups in listed.items()}


@pytest.mark.parametrize(("name", "group", "test"), sorted(set(RUN)))
def test_the_test_that_is_named_runs_the_group(name: str, group: str, test: str) -> None:
    text = (TESTS / test).read_text("utf-8")
    assert name in text or name.partition("_")[2] in text
    asked = rf"""\["{group}"\]|\("{group}"\)|"{group}"[,\])]|\.{group}\b|\b{group}:|\{{[^{{}}]*\b{group}\b[^{{}}]*\}}"""
    assert re.search(asked, text), f"{test} does not read {group}"
