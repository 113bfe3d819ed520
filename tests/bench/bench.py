"""
Measure what the project promises and print it as tables: `make bench`.

A line that begins with ! misses its figure. Clocks of shared machines are noisy: run it again before believing one.
"""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from tests.bench import bench_browser, bench_server, bench_tide  # noqa: E402  (the checkout is put on the path first)
from tests.bench.figures import print_table  # noqa: E402

print_table("Tides, windows, plans", bench_tide.all_figures())
print_table("The server", bench_server.all_figures())
print_table("The app in Chromium", bench_browser.all_figures())
