"""
Levels by a rod and an instrument, and profiles by two rods: reduction, misclosure and its limit.

HI = level + backsight; level = HI - foresight; misclosure = reduced - known at the closing mark, shared out by setups. The limit is that
of third-order levels, 12 mm times the square root of the length in km (FGCC 1984, from memory: its table was not read), but never finer
than the rod is read (our suggestion).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from fieldlog.outcomes.results import Method

THIRD_ORDER_MM = 12.0
LIMIT_SIGMAS = 1.96
READING_MM = 1.0
"""Sigma of one reading of the rod where nothing else is set."""

REDUCED = Method("level-run", "1", "height of instrument; limit after FGCC 1984, from memory, never below what the rod is read to", "setup")
TWO_RODS = Method("two-rod-profile", "1", "errors add with the square root of the steps", "step")


@dataclass(frozen=True, slots=True)
class Setup:
    """
    One stand of the instrument, in meters.

    Attributes:
        backsight_m: to the point before; the first setup's to the mark that the run starts from.
        foresight_m, point: to the point that the run goes on from; the last is the closing mark.
        distance_m: along the run, from the point before to this one.
        side_m: further foresights from this stand, by point.
    """

    backsight_m: float
    foresight_m: float
    point: str
    distance_m: float
    side_m: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PointLevel:
    """A point's level, from which setup, and how far along the run it lies (None for a side shot)."""

    point: str
    level_m: float
    setup: int
    along_m: float | None


@dataclass(frozen=True, slots=True)
class LevelRun:
    """
    A reduced run.

    Attributes:
        levels: as reduced, side shots of a setup before its turning point.
        adjusted: the same with the misclosure shared out; None where no mark closes the run.
        check_sum_m: sum of backsights less sum of foresights, which equals the level difference.
        misclosure_mm, is_within: None where no mark closes the run: the levels then are not checked.
    """

    method: Method
    levels: tuple[PointLevel, ...]
    adjusted: tuple[PointLevel, ...] | None
    check_sum_m: float
    misclosure_mm: float | None
    length_m: float
    setups: int
    limit_by_length_mm: float
    limit_by_reading_mm: float
    limit_mm: float
    is_within: bool | None


@dataclass(frozen=True, slots=True)
class TwoRodProfile:
    """A profile by two rods: stations and levels from the start mark on, and how it closed, in meters (None where it ends on no mark)."""

    method: Method
    along_m: tuple[float, ...]
    level_m: tuple[float, ...]
    sigma_m: tuple[float, ...]
    misclosure_m: float | None
    limit_m: float
    is_within: bool | None


def length_limit_mm(length_m: float) -> float:
    """The limit of a run of so many meters by its length alone; finer than a rod is read on mud where it is short."""
    return THIRD_ORDER_MM * math.sqrt(length_m / 1000)


def reading_limit_mm(setups: int, reading_mm: float = READING_MM) -> float:
    """What so many setups of two readings each may be off by chance."""
    return LIMIT_SIGMAS * reading_mm * math.sqrt(2 * setups)


def level_run(start_level_m: float, setups: Sequence[Setup], end_level_m: float | None = None, reading_mm: float = READING_MM) -> LevelRun:
    """
    Reduces a run from a mark of known level, to one where `end_level_m` is given.

    Raises:
        ValueError: no setup, a number that is none, a distance below 0.
    """
    if not setups:
        raise ValueError("a run needs one setup at least")
    for setup in setups:
        if not all(map(math.isfinite, (setup.backsight_m, setup.foresight_m, setup.distance_m, *setup.side_m.values()))) or setup.distance_m < 0:
            raise ValueError(f"{setup.point}: backsight, foresight and distance have to be numbers, the distance 0 or more")
    level, along, levels = start_level_m, 0.0, []
    for number, setup in enumerate(setups, 1):
        instrument = level + setup.backsight_m
        along += setup.distance_m
        levels += [PointLevel(point, instrument - foresight, number, None) for point, foresight in setup.side_m.items()]
        level = instrument - setup.foresight_m
        levels.append(PointLevel(setup.point, level, number, along))
    by_length, by_reading = length_limit_mm(along), reading_limit_mm(len(setups), reading_mm)
    limit = max(by_length, by_reading)
    off = None if end_level_m is None else level - end_level_m
    shared = None if off is None else tuple(PointLevel(at.point, at.level_m - off * at.setup / len(setups), at.setup, at.along_m) for at in levels)
    return LevelRun(
        REDUCED, tuple(levels), shared, sum(setup.backsight_m for setup in setups) - sum(setup.foresight_m for setup in setups),
        None if off is None else off * 1000, along, len(setups), by_length, by_reading, limit, None if off is None else abs(off * 1000) <= limit + 1e-9,
    )  # fmt: skip


def two_rod_profile(start_level_m: float, steps_m: Sequence[tuple[float, float]], sigma_step_m: float, end_level_m: float | None = None) -> TwoRodProfile:
    """
    A profile by two rods.

    Args:
        steps_m: along and rise of each step.
        sigma_step_m: of the rise of one step: after m steps it is sigma sqrt(m), since errors add.
        end_level_m: known level at the end, if a mark is there.
    """
    along, level = [0.0], [start_level_m]
    for further, rise in steps_m:
        along.append(along[-1] + further)
        level.append(level[-1] + rise)
    sigma = [sigma_step_m * math.sqrt(step) for step in range(len(along))]
    off = None if end_level_m is None else level[-1] - end_level_m
    limit = LIMIT_SIGMAS * sigma[-1]
    return TwoRodProfile(TWO_RODS, tuple(along), tuple(level), tuple(sigma), off, limit, None if off is None else abs(off) <= limit + 1e-12)
