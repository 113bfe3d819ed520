"""What a figure is, and how the table of them is printed."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One measured figure beside the one to reach, and beside a floor or peer measured in the same run."""

    what: str
    measured: float
    to_reach: float
    unit: str
    beside: str = ""

    @property
    def is_reached(self) -> bool:
        return self.measured <= self.to_reach


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
    """A line a figure: what, measured, to reach, the floor or peer."""
    print(f"\n{title}")
    width = max(len(figure.what) for figure in figures)
    for figure in figures:
        mark = " " if figure.is_reached else "!"
        print(
            f"{mark} {figure.what:<{width}}  {figure.measured:>9.4g} {figure.unit:<4} to reach {figure.to_reach:>6g}"
            f"  {figure.beside}",
            flush=True,
        )
