"""What the numbers of a page of evidence take: 10 years, 60 plots, 12 visits a year, from rows to numbers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from fieldlog.outcomes.cover import zone_cover
from fieldlog.outcomes.density import density, faces_ratio, more_frames
from fieldlog.outcomes.shoreline import reach_rate, shore_rate
from fieldlog.outcomes.stake_readings import StakeReadings
from fieldlog.outcomes.stakes import bed_rate, bed_rate_less_control
from fieldlog.outcomes.trends import mann_kendall, theil_sen, trend
from tests.bench.figures import Figure, seconds

VISITS, DAYS_BETWEEN = 120, 30.4375
PLOTS = {"stake reef": 20, "stake control": 20, "edge": 10, "quadrat": 10}
FACES, UNITS = ("seaward", "inside"), 12

Row = tuple[str, str, float, float | None]
"""Series, plot, day and value, as a question to the tables gives them."""


def made_rows() -> list[Row]:
    """A reading a plot and visit, 3 in 100 missing, and a frame a face and unit."""
    random = np.random.default_rng(1)
    rows: list[Row] = []
    for visit in range(VISITS):
        day = visit * DAYS_BETWEEN
        weather = random.normal(0, 4)
        for series, plots in PLOTS.items():
            for plot in range(plots):
                value = round(400 - day / 50 - weather + random.normal(0, 3)) if "stake" in series else random.integers(0, 50)
                rows.append((series, f"{series} {plot}", day, None if random.random() < 0.03 else float(value)))
        rows += [(face, f"unit {unit}", day, float(random.poisson(random.gamma(3, 2)))) for face in FACES for unit in range(UNITS)]
    return rows


def table_of(rows: Iterable[Row], series: str) -> tuple[list[str], list[float], list[list[float | None]]]:
    """Plots, days and values (plots, days) of a series."""
    values = {(plot, day): value for of, plot, day, value in rows if of == series}
    plots, days = sorted({plot for plot, _ in values}), sorted({day for _, day in values})
    return plots, days, [[values.get((plot, day)) for day in days] for plot in plots]


def page(rows: list[Row]) -> list[Any]:
    """Every number of the page."""
    numbers: list[Any] = []
    zones = [StakeReadings(zone, *table_of(rows, f"stake {zone}")) for zone in ("reef", "control")]
    numbers += [bed_rate(zones[0]), bed_rate(zones[1]), bed_rate_less_control(*zones)]
    transects, days, distances = table_of(rows, "edge")
    numbers += [reach_rate(days, distances, transects), *(shore_rate(days, row) for row in distances)]
    _, days, hits = table_of(rows, "quadrat")
    covers = [zone_cover([row[visit] for row in hits], [50] * len(hits)) for visit in range(len(days))]
    shares = [found.share for found in covers]
    numbers += [*covers, trend(days, shares), theil_sen(days, shares), mann_kendall(days, shares)]
    faces = {face: table_of(rows, face)[2] for face in FACES}
    for visit in range(VISITS):
        counts = {face: [row[visit] for row in of] for face, of in faces.items()}
        numbers += [*(density(each, 0.25) for each in counts.values()), faces_ratio(counts["inside"], counts["seaward"])]
    return [*numbers, more_frames([row[-1] for row in faces["inside"]])]


def all_figures() -> list[Figure]:
    """Figures of the numbers of a page of evidence."""
    rows = made_rows()
    took = seconds(lambda: page(rows))
    return [Figure(f"numbers of 10 years, 60 plots: {len(rows):,} rows to {len(page(rows))} answers", took, 1, "s")]
