"""Tapes to a place, made up: their true lengths with an error each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from fieldlog.survey.epoch import MarkTape
from fieldlog.survey.position import Point, TapeRange


def at_marks(marks: Mapping[str, Point], place: Point, errors_m: Sequence[float], mark_sigma_m: float = 0.0) -> tuple[MarkTape, ...]:
    """One tape from each mark, stated sigma 0.02 m."""
    return tuple(
        MarkTape(name, mark_sigma_m, TapeRange(name, *at, math.dist(at, place) + error_m, 0.02))
        for (name, at), error_m in zip(marks.items(), errors_m, strict=True)
    )
