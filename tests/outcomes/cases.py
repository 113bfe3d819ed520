"""The cases of tests/vectors/outcomes: reading them, telling which function runs which, and comparing numbers at a file's tolerance."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from fieldlog.outcomes.results import CannotTell, Why

FOLDER = Path(__file__).parents[1] / "vectors" / "outcomes"

Run = Callable[[Mapping[str, Any]], None]
CASES: dict[tuple[str, str], Run] = {}
"""By file and name of a case what runs it."""


def case(file: str, *names: str) -> Callable[[Run], Run]:
    """Says which cases of a file a function runs."""

    def runs(run: Run) -> Run:
        for name in names:
            assert (file, name) not in CASES
            CASES[file, name] = run
        return run

    return runs


@cache
def vectors(file: str) -> dict[str, Any]:
    """A file."""
    return json.loads((FOLDER / f"{file}.json").read_text("utf-8"))


def same(worked_out: object, expected: object, tolerance: float = 1e-9) -> None:
    """Numbers within the tolerance, relative above 1; lists and rows by their parts, of a row those parts that were worked out."""
    if isinstance(expected, Mapping):
        assert isinstance(worked_out, Mapping)
        assert set(worked_out) <= set(expected), set(worked_out) - set(expected)
        for key, value in worked_out.items():
            same(value, expected[key], tolerance)
    elif isinstance(expected, list):
        values = list(worked_out)  # type: ignore[call-overload]
        assert len(values) == len(expected)
        for value, wanted in zip(values, expected, strict=True):
            same(value, wanted, tolerance)
    elif isinstance(expected, float | int) and not isinstance(expected, bool):
        assert isinstance(worked_out, float | int | np.ndarray | np.floating | np.integer), worked_out
        assert math.isclose(float(worked_out), expected, rel_tol=tolerance, abs_tol=tolerance), (float(worked_out), expected)
    else:
        assert worked_out == expected


def mean_row(found: Any, n: int) -> dict[str, float]:
    """A mean with its t-interval in the words of the vectors."""
    return {"n": n, "mean": found.value, "se": found.se, "df": found.df, "low": found.low, "high": found.high}


YEAR_DAYS = 365.25


def days(years: list[float]) -> list[float]:
    """Years of 365.25 days as days."""
    return [year * YEAR_DAYS for year in years]


def as_json(found: Any) -> str:
    """An answer as it leaves: no number in it that is none."""
    return json.dumps(asdict(found), allow_nan=False)


def why(found: Any) -> Why:
    assert isinstance(found, CannotTell), found
    as_json(found)
    return found.why
