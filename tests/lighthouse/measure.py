"""
The first visit as Lighthouse measures it, on a phone of its making: `make lighthouse`. Ends with 1 where a score is missed.

Lighthouse reckons with what the page asks for; what the worker fetches for it (the first tier, 112 KB) is not in its paint times. The same
visit over a line that is slow for both is measured by `make bench`.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from fieldlog.demo.build import build_demo  # noqa: E402  (the checkout is put on the path first)
from fieldlog.records.catalogue import CATALOGUE  # noqa: E402
from fieldlog.sync.opening import open_programme  # noqa: E402
from tests.bench.bench_browser import now_ms, served  # noqa: E402
from tests.find_chromium import installed  # noqa: E402

HERE = Path(__file__).parent
LEAST = {"performance": 0.95, "accessibility": 1.0, "best-practices": 1.0}
TIMES = {
    "first-contentful-paint": "first paint", "largest-contentful-paint": "largest paint", "speed-index": "speed index",
    "total-blocking-time": "blocked", "cumulative-layout-shift": "layout shift",
}  # fmt: skip
RUNS = 5
DAY = date(2026, 11, 25)


def report(url: str, folder: Path) -> dict[str, Any]:
    """One run, with the throttling that Lighthouse has for mobile."""
    asked = [
        HERE / "node_modules/.bin/lighthouse", url, "--quiet", "--output=json", f"--output-path={folder / 'report.json'}",
        f"--only-categories={','.join(LEAST)}", "--chrome-flags=--headless=new --no-sandbox",
    ]  # fmt: skip
    subprocess.run(asked, check=True, env={**os.environ, "CHROME_PATH": str(installed())})
    made: dict[str, Any] = json.loads((folder / "report.json").read_text("utf-8"))
    return made


def main() -> int:
    """Measure the demo's first page several times, print medians, and say whether they suffice."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        build_demo(folder / "demo", DAY)
        with served(open_programme(folder / "demo", CATALOGUE, now_ms())) as url:
            reports = [report(url, folder) for _ in range(RUNS)]
    is_reached = True
    for name, least in LEAST.items():
        score = statistics.median(one["categories"][name]["score"] for one in reports)
        is_reached &= score >= least
        print(f"{name:16} {score:.2f}  (at least {least:.2f})")
        for ref in reports[-1]["categories"][name]["auditRefs"]:
            audit = reports[-1]["audits"][ref["id"]]
            if ref["weight"] and audit["score"] is not None and audit["score"] < 1 and ref["id"] not in TIMES:
                print(f"    {audit['title']}")
    for name, word in TIMES.items():
        values = sorted(one["audits"][name]["numericValue"] for one in reports)
        print(f"  {word:14} {statistics.median(values):8.2f}  ({values[0]:.2f} to {values[-1]:.2f})  {'' if name.endswith('shift') else 'ms'}")
    return 0 if is_reached else 1


if __name__ == "__main__":
    sys.exit(main())
