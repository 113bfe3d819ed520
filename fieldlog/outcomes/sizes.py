"""
Shell heights: classes, bins, and shares and means over frames.

Animals of one frame are not independent, so shares and means are ratios over frames (Cochran 1977, section 3.12, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import interval
from fieldlog.outcomes.results import (
    CannotTell,
    Floats,
    LeftOut,
    Method,
    Why,
    as_floats,
    is_spread,
    read_ones,
)

LEAST_FRAMES = 4
BIN_MM = 5.0
SPAT_BELOW_MM, MARKET_FROM_MM = 25.0, 76.0
"""76 mm is the published market size, 25 from memory; 75.9 is small."""

CLASSES = ("spat", "small", "market")

MEAN = Method("mean-size", "1", "ratio over frames: Cochran 1977, from memory", "frame")
SHARE = Method("size-share", "1", "ratio over frames: Cochran 1977, from memory", "frame")


@dataclass(frozen=True, slots=True)
class Sizes:
    """Heights in mm: how many in each bin [a, a + 5) from 0 on, in each class, and what is in the middle. No doubt is told of these."""

    bins: tuple[int, ...]
    counts: dict[str, int]
    animals: int
    mean_mm: float
    median_mm: float
    sd_mm: float | None


@dataclass(frozen=True, slots=True)
class MeanSize:
    """Mean height in mm over frames."""

    method: Method
    mean_mm: float
    se_mm: float
    df: float
    low_mm: float
    high_mm: float
    frames: int
    animals: int
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class SizeShare:
    """Share of animals of a class over frames; the ends are kept within 0 and 1."""

    method: Method
    size_class: str
    share: float
    se: float
    df: float
    low: float
    high: float
    frames: int
    animals: int
    left_out: tuple[LeftOut, ...]


def class_of(height_mm: float) -> str:
    """spat, small or market."""
    return CLASSES[0] if height_mm < SPAT_BELOW_MM else CLASSES[1] if height_mm < MARKET_FROM_MM else CLASSES[2]


def sizes(heights_mm: Sequence[float]) -> Sizes | CannotTell:
    """
    What a run of heights looks like.

    Raises:
        ValueError: a height below 0.
    """
    heights = read_ones(heights_mm)
    if (heights < 0).any():
        raise ValueError("a height has to be 0 mm or more")
    if not len(heights):
        return CannotTell(MEAN, Why.NONE_SEEN, 0, 1)
    bins = np.bincount((heights // BIN_MM).astype(int))
    counts = {name: sum(class_of(height) == name for height in heights) for name in CLASSES}
    sd = float(heights.std(ddof=1)) if len(heights) > 1 else None
    return Sizes(tuple(int(count) for count in bins), counts, len(heights), float(heights.mean()), float(np.median(heights)), sd)


def mean_size(frames_mm: Mapping[str, Sequence[float]]) -> MeanSize | CannotTell:
    """Mean height with t over frames, 4 at least that have an animal; by frame its heights."""
    held, notes = _frames(frames_mm)
    found = _ratio([float(each.sum()) for each in held], held, MEAN, notes)
    return found if isinstance(found, CannotTell) else MeanSize(MEAN, *found, len(held), sum(map(len, held)), notes)


def size_share(frames_mm: Mapping[str, Sequence[float]], size_class: str) -> SizeShare | CannotTell:
    """Share of a class with t over frames, 4 at least that have an animal."""
    held, notes = _frames(frames_mm)
    found = _ratio([float(sum(class_of(height) == size_class for height in each)) for each in held], held, SHARE, notes)
    if isinstance(found, CannotTell):
        return found
    share, se, df, low, high = found
    return SizeShare(SHARE, size_class, share, se, df, max(0.0, low), min(1.0, high), len(held), sum(map(len, held)), notes)


def _frames(frames_mm: Mapping[str, Sequence[float]]) -> tuple[list[Floats], tuple[LeftOut, ...]]:
    held = {name: read_ones(heights) for name, heights in frames_mm.items()}
    notes = tuple(LeftOut(name, Why.NONE_SEEN) for name, heights in held.items() if not len(heights))
    return [heights for heights in held.values() if len(heights)], notes


def _ratio(sums: list[float], held: list[Floats], method: Method, notes: tuple[LeftOut, ...]) -> tuple[float, float, float, float, float] | CannotTell:
    n = len(held)
    if n < LEAST_FRAMES:
        return CannotTell(method, Why.TOO_FEW_FRAMES, n, LEAST_FRAMES, left_out=notes)
    of, animals = as_floats(sums), as_floats([len(each) for each in held])
    ratio = of.sum() / animals.sum()
    off = of - ratio * animals
    if not is_spread(off):
        return CannotTell(method, Why.NO_SPREAD, n, left_out=notes)
    se = math.sqrt(n / (n - 1) * float((off**2).sum())) / float(animals.sum())
    found = interval(np.asarray(ratio), np.asarray(se), n - 1)
    return float(ratio), se, float(found.df), float(found.low), float(found.high)
