"""
Measure what the project promises and print it as tables: `make bench`.

A line that begins with ! misses its figure. Clocks of shared machines are noisy: run it again before believing one; above a
load of 1 the multiples of the floor say more than milliseconds. `bench.py large --months 12 --visits 1` measures one part, on
a smaller programme; `--folder` takes one that `write_programme.py` has made and copies it, `--many` one with many flags.
"""

import argparse
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from tests.bench import (  # noqa: E402  (the checkout is put on the path first)
    bench_browser,
    bench_export,
    bench_hours,
    bench_import,
    bench_outcomes,
    bench_programme,
    bench_server,
    bench_survey,
    bench_tide,
)
from tests.bench.figures import print_missed, print_table  # noqa: E402

asking = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
asking.add_argument("part", nargs="*", help="tides, server, export, import, hours, evidence, app or large; all where none is named")
asking.add_argument("--folder", type=Path)
asking.add_argument("--many", type=Path)
asking.add_argument("--months", type=int, default=120)
asking.add_argument("--visits", type=int, default=2)
asked = asking.parse_args()

PARTS = {
    "tides": ("Tides, windows, plans", bench_tide.all_figures),
    "server": ("The server", lambda: [*bench_server.all_figures(), *bench_survey.all_figures()]),
    "export": ("Data taken out", bench_export.all_figures),
    "import": ("A spreadsheet brought in", lambda: list(bench_import.figures())),
    "hours": ("Hours of people", bench_hours.all_figures),
    "evidence": ("Evidence", bench_outcomes.all_figures),
    "app": ("The app in Chromium", bench_browser.all_figures),
    "large": ("Ten years", lambda: bench_programme.all_figures(asked.folder, asked.many, asked.months, asked.visits)),
}
every = []
for part in asked.part or PARTS:
    title, work = PARTS[part]
    figures = work()
    if part != "large":  # it prints each of its own parts as it comes
        print_table(title, figures)
    every += figures
print_missed(every)
