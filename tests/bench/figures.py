"""What a figure is, and how the table of them is printed."""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """
    One measured figure beside the one to reach, and beside a floor or peer measured in the same run.

    `floor`, in the same unit, is the least that the work costs on this machine now; `at_least`: more is better.
    """

    what: str
    measured: float
    to_reach: float
    unit: str
    beside: str = ""
    floor: float | None = None
    at_least: bool = False

    @property
    def is_reached(self) -> bool:
        return self.measured >= self.to_reach if self.at_least else self.measured <= self.to_reach


def seconds(work: Callable[[], object], runs: int = 5) -> float:
    """The median time of several runs, after one that does not count, in seconds."""
    work()
    took = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def print_table(title: str, figures: list[Figure]) -> None:
    """A line a figure: what, measured, to reach, the floor or peer. The load says how far milliseconds can be believed."""
    missed = sum(not figure.is_reached for figure in figures)
    print(f"\n{title}: {missed} of {len(figures)} figures missed; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    width = max(len(figure.what) for figure in figures)
    for figure in figures:
        mark = " " if figure.is_reached else "!"
        times = f", {figure.measured / figure.floor:.3g} times that" if figure.floor else ""
        print(
            f"{mark} {figure.what:<{width}}  {figure.measured:>9.4g} {figure.unit:<4}"
            f" to reach {'>=' if figure.at_least else '<='} {figure.to_reach:<6.4g}  {figure.beside}{times}",
            flush=True,
        )


def print_missed(figures: list[Figure]) -> None:
    """What was not reached, once more, together."""
    missed = [figure for figure in figures if not figure.is_reached]
    if missed:
        print_table("Missed", missed)
