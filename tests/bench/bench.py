"""
Measure what the project promises and print it as tables: `make bench`.

A line that begins with ! misses its figure. Clocks of shared machines are noisy: run it again before believing one.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import bench_server
from tests.bench.figures import print_table

print_table("The server", bench_server.all_figures())
