"""All figures of a large programme, one part after the other, each on its own copy of the folder."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tests.bench import bench_crowd, bench_large, bench_new_phone, bench_pack, bench_replay
from tests.bench.figures import Figure, print_table
from tests.bench.sample import rows_that_differ
from tests.bench.story import Shape
from tests.bench.write_programme import write_programme

SAMPLE = Shape(sites=10, months=2, held_share=0.005)
"""About 20,000 entries, held ones among them."""

MANY = Shape(months=36, odd_share=0.5, held_share=0.25)
"""Some 90,000 flags that stay open and 45,000 held lines: a crew that types an unlikely value at every second unit."""

Part = tuple[str, Callable[[Path, Path], list[Figure]]]

START = ("start-up", lambda folder, _scratch: bench_large.starting(folder))
ASKED: list[Part] = [
    ("pushes", bench_large.pushes),
    ("nothing new", lambda folder, _scratch: bench_large.nothing_new(folder)),
    ("the pack", lambda folder, _scratch: bench_pack.packs(folder)),
]
PARTS: list[Part] = [
    START,
    *ASKED,
    ("ingest", bench_large.ingest),
    ("a hundred phones", lambda folder, _scratch: bench_crowd.crowd(folder)),
    ("behind large bodies", lambda folder, _scratch: bench_crowd.behind(folder, 1, 5000, 250) + bench_crowd.behind(folder, 80, 400, 500)),
    ("a new phone", lambda folder, _scratch: bench_new_phone.new_phone(folder)),
    ("replay", bench_replay.replaying),
]


def all_figures(folder: Path | None, many: Path | None, months: int, visits: int) -> list[Figure]:
    """
    Every part, printed as it comes.

    Args:
        folder: a programme written before; made here, of so many months and visits a month, where it is None.
        many: one with many flags and many held lines; made here where it is None.
    """
    with tempfile.TemporaryDirectory() as made:
        scratch = Path(made)
        figures = direct_writer(scratch)
        if folder is None:
            folder = scratch / "programme"
            figures += _write(folder, Shape(months=months, visits=visits))
        print_table("Writing it", figures)
        figures += _parts(PARTS, folder, scratch, "")
        if many is None:
            many = scratch / "many"
            _write(many, MANY)
        figures += _parts(ASKED, many, scratch, "many flags, many held: ")
    return figures


def _parts(parts: list[Part], folder: Path, scratch: Path, where: str) -> list[Figure]:
    figures = []
    for what, part in parts:
        copy = scratch / "copy"
        shutil.copytree(folder, copy)
        found = [replace(figure, what=f"{where}{figure.what.strip() if where else figure.what}") for figure in part(copy, scratch)]
        print_table(f"Ten years, {where}{what}", found)
        figures += found
        shutil.rmtree(copy)
        shutil.rmtree(scratch / "small", ignore_errors=True)
    return figures


def _write(folder: Path, shape: Shape) -> list[Figure]:
    told = write_programme(folder, shape, int(time.time() * 1000))
    rate = told["entries"] / (told["log_s"] + told["tables_s"])
    said = f"{told['entries']:,.0f} entries: log {told['log_s']:.1f} s, tables {told['tables_s']:.1f} s"
    return [Figure("entries written directly, a second", rate, 10_000, "/s", said, at_least=True)]


def direct_writer(scratch: Path) -> list[Figure]:
    """A sample of the writer's lines goes through `receive`: every table must be the same."""
    sample = rows_that_differ(scratch / "sample", SAMPLE)
    said = f"{sample.entries:,} entries, {sample.held} held, {sample.flags} flags; by receive {sample.entries / sample.received_s:,.0f} a second"
    return [Figure("rows that differ between direct writing and receive", sum(sample.differing.values()), 0, "", said)]
