"""Figures of tides, a site's own tide, windows of units and the visit plan, each beside a peer or a floor of the same run."""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import utide
from scipy.signal import argrelextrema

sys.path.append(str(Path(__file__).resolve().parents[1] / "tides"))

from made import beside, tide_of, times, weather

from fieldlog import child, stations
from fieldlog.gauge.kept import MODULE as GAUGE
from fieldlog.plan.making import MODULE as PLAN
from fieldlog.tides.logger_look import look
from fieldlog.tides.predict import predict_levels, tide_extremes
from fieldlog.tides.station import Station, station_values
from fieldlog.tides.trace import sum_levels
from fieldlog.tides.yearly import yearly_numbers
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.season import season
from tests.bench.figures import Figure, seconds
from tests.plan.test_solving import made

BEGIN = datetime(2027, 1, 1, tzinfo=UTC)
STATION = "noaa/8443970"
YEAR = 87_600


def all_figures() -> list[Figure]:
    """Everything about the tide and the plan."""
    station = stations.find(STATION)
    return [*_year(station), *_nearest(), *_windows(station), *_children(station)]


def _year(station: Station) -> list[Figure]:
    """Peers: the bare matrix product of a year's cosines and amplitudes; UTide's reconstruct; scipy's extremes on its curve."""
    count = len(station.constituents)
    cosines, amplitudes = np.random.default_rng(1).random((YEAR, count)), np.ones(count)
    product = seconds(lambda: cosines @ amplitudes, 15)
    own = seconds(lambda: sum_levels(yearly_numbers(station, 2027), 0, 360, YEAR), 15)
    t_days = np.arange(YEAR) * 360 / 86_400
    hourly = predict_levels(station, times(BEGIN, 365, 3600).astype("datetime64[s]"))
    names = ["M2", "S2", "N2", "K1", "O1", "M4", "MS4", "K2", "P1", "Q1", "NU2", "MU2", "2N2", "L2", "T2", "SA", "SSA", "M6"]
    fitted = utide.solve(t_days[::10], hourly, lat=42.35, constit=names, trend=False, conf_int="linear", verbose=False, epoch="2027-01-01")

    def reconstruct() -> np.ndarray:
        shown: np.ndarray = utide.reconstruct(t_days, fitted, epoch="2027-01-01", verbose=False)["h"]
        return shown

    theirs = seconds(reconstruct, 3)
    extremes = seconds(lambda: tide_extremes(station, BEGIN, BEGIN + timedelta(days=365)))

    def peers_extremes() -> None:
        level = reconstruct()
        argrelextrema(level, np.greater)
        argrelextrema(level, np.less)

    peer = seconds(peers_extremes, 3)
    return [
        Figure("a year of 6-minute levels, times one matrix product", own / product, 2, "x", f"{own * 1000:.3g} ms; the product {product * 1000:.3g} ms"),
        Figure("  and as a part of UTide's reconstruct", own / theirs, 1 / 20, "", f"reconstruct of 18 constituents {theirs:.3g} s"),
        Figure("a year of highs and lows", extremes, peer, "s", f"UTide's curve and scipy's extremes: {peer:.3g} s"),
    ]


def _nearest() -> list[Figure]:
    took = seconds(lambda: stations.near(42.35, -71.05, 6), 15)
    return [Figure("5,843 stations by distance", took * 1000, 2, "ms")]


def _windows(station: Station) -> list[Figure]:
    rules = SiteRules("s", "America/New_York", 42.35, -71.05, 0.6, 0.9, 0.2, 10, 10, None, 45)
    levels = [0.1 + 0.01 * n for n in range(48)]
    took = seconds(lambda: season(station, rules, BEGIN, BEGIN + timedelta(days=400)).exposures(levels))
    one = seconds(lambda: season(station, rules, BEGIN, BEGIN + timedelta(days=400)).windows(), 3)
    return [Figure("400 days of windows for 48 units", took, 0.3, "s", f"of one level, with their sentences: {one:.3g} s")]


def _children(station: Station) -> list[Figure]:
    """Memory: the largest child so far, as the kernel tells; the children grow, so each is measured after a smaller one."""
    problem = made(48, 2, 48)
    plan_s, _, _ = _child(PLAN, {**vars(problem), "stops": [vars(stop) for stop in problem.stops]})
    text = _record(station)
    job = {
        "text": text, "columns": vars(look(text, "UTC").columns), "salinity_psu": 30, "temperature_c": 18, "zero_above_chart_datum_m": None,
        "site": {"name": "Bench", "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York"}, "station": station_values(station),
        "station_id": "own/bench",
    }  # fmt: skip
    gauge_s, gauge_gb, steps = _child(GAUGE, job)
    return [
        Figure("a plan for 48 units and 2 teams, in a child process", plan_s, 2, "s"),
        Figure("a year of 6-minute levels worked out, in a child process", gauge_s, 15, "s", f"{len(steps)} steps told, the last {steps[-1]!r}"),
        Figure("  its memory, highest", gauge_gb, 1.2, "GB"),
    ]


def _child(module: str, job: dict[str, Any]) -> tuple[float, float, list[str]]:
    steps: list[str] = []
    tell: Callable[[str], None] = steps.append
    began = time.perf_counter()
    child.run(module, job, tell)
    took = time.perf_counter() - began
    return took, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**20, steps


def _record(station: Station) -> str:
    rng = np.random.default_rng(3)
    t = times(BEGIN, 365)
    level = tide_of(beside(station, rng), BEGIN, 365)(t) + weather(len(t), 360.0, 0.08, rng) + 2.0
    stamps = np.datetime_as_string(t.astype("datetime64[s]"))
    return "time UTC,level m\n" + "\n".join(f"{at.replace('T', ' ')},{z:.3f}" for at, z in zip(stamps, level, strict=True))
