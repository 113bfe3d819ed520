"""Whatever a logger did, a record gives an answer in finite numbers or a sentence; nothing else."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime

import numpy as np
import pytest
from made import BEGIN, tide_of, times, weather

from fieldlog.errors import FieldlogError
from fieldlog.gauge.working import work
from fieldlog.stations import find
from fieldlog.tides.logger_look import look
from fieldlog.tides.station import station_values

# Semidiurnal, diurnal, mixed and large; by offsets; a port whose chart datum is another.
PORTS = ["noaa/8670870", "noaa/8729840", "noaa/9447130", "noaa/9455920", "noaa/8762075", "kartverket/BGO"]


def sound(z: np.ndarray, _rng: np.random.Generator) -> np.ndarray:
    return z


def half_missing(z: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return np.where(rng.random(len(z)) > 0.5, z, np.nan)


def long_hole(z: np.ndarray, _rng: np.random.Generator) -> np.ndarray:
    return np.where(np.abs(np.linspace(-1, 1, len(z))) > 0.6, z, np.nan)


def dry_most_of_the_time(z: np.ndarray, _rng: np.random.Generator) -> np.ndarray:
    return np.maximum(z, np.percentile(z, 60))


def coarse_and_wild(z: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    wild = np.round(z, 1)
    wild[rng.integers(0, len(z), 6)] += 3
    return wild


def moved_twice(z: np.ndarray, _rng: np.random.Generator) -> np.ndarray:
    place = np.arange(len(z)) / len(z)
    return z + 0.4 * (place > 0.3) - 0.7 * (place > 0.6)


@pytest.mark.parametrize("port", PORTS)
@pytest.mark.parametrize("harm", [sound, half_missing, long_hole, dry_most_of_the_time, coarse_and_wild, moved_twice])
@pytest.mark.parametrize(("days", "step_s"), [(4.5, 600), (17, 3600)])
def test_any_record_gives_finite_numbers_or_a_sentence(port: str, harm, days: float, step_s: int) -> None:
    station = find(port)
    rng = np.random.default_rng(int(days) + len(port))
    t = times(BEGIN, days, step_s)
    z = harm(tide_of(station.harmonic, BEGIN, days)(t) + weather(len(t), float(step_s), 0.08, rng), rng)
    lines = [f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M},{level:.3f}" for at, level in zip(t, z, strict=True) if np.isfinite(level)]
    text = "\n".join(["time UTC,level m", *lines])
    job = {
        "text": text, "columns": asdict(look(text, "UTC").columns), "salinity_psu": 30, "temperature_c": 15,
        "zero_above_chart_datum_m": None, "station": station_values(station), "station_id": "own/odd",
        "site": {"name": "Alder Spit", "lat_deg": station.lat_deg, "lon_deg": station.lon_deg, "zone": "UTC"},
    }  # fmt: skip
    try:
        found = work(job, lambda _step: None)
    except FieldlogError as fault:
        assert len(fault.sentence) > 20
        assert harm is not sound or days < 10
        return
    json.dumps(found, allow_nan=False)
    range_m = np.nanmax(z) - np.nanmin(z)
    for way in found["candidates"]:
        assert way["rms_m"] < range_m, way["kind"]
    assert all(error > 0 for error in found["datums"]["errors_m"].values())
