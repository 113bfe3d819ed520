"""
Ports whose weather is made, to try an allowance on the year after its record: how often was it exceeded there?

Weather of a port: an hourly residual of 6 to 13 cm (standard deviation) with a fast part (6 to 18 h) and a slow one (2 to 5 days),
stronger in winter, skewed upward; a monthly anomaly of 6 cm, months alike by 0.3 to 0.7; a yearly wave of 3 to 12 cm. No
gauge was used: it tests the estimator, not the sea. Forms of the estimator were compared on ports 0 to 159; ports from 1000 on are fresh.

    python tests/tides/made_ports.py [first port, how many]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.signal import lfilter

from fieldlog.tides.allowance import allowance_of
from fieldlog.tides.held_back import left_of_constants
from fieldlog.tides.least_squares import columns, solved, sums_of
from fieldlog.tides.parting import Inference
from fieldlog.tides.record import Levels
from fieldlog.tides.residuals import at_lows

YEAR_H, YEARS = 24 * 365, 3
BEGIN_S = 1_767_225_600.0
"""2026-01-01 0 h UTC."""

NAMES = ("M2", "S2", "N2", "K1", "O1", "K2", "P1", "M4", "MS4")
RELATIVE = np.array([1, 0.25, 0.2, 0.2, 0.15, 0.07, 0.066, 0.05, 0.03])
INFERRED = {"K2": "S2", "P1": "K1"}
ANOMALY_M = 0.06


@cache
def waves() -> np.ndarray:
    """The columns of every constituent over all three years, shape (hours, 1 + 2 k)."""
    return columns(hours_s(0, YEARS * YEAR_H), NAMES)


def hours_s(first: int, end: int) -> np.ndarray:
    return BEGIN_S + 3600.0 * np.arange(first, end)


def wander(rng: np.random.Generator, count: int, hours: float, sd: float) -> np.ndarray:
    """A wander that forgets itself over so many steps."""
    kept = np.exp(-1 / hours)
    steps = rng.normal(size=count) * sd * np.sqrt(1 - kept * kept)
    steps[0] = rng.normal() * sd
    made: np.ndarray = lfilter([1], [1, -kept], steps)
    return made


class Port:
    """A port's true constants, its predicted lows, and three years of hourly levels."""

    def __init__(self, seed: int) -> None:
        rng, count = np.random.default_rng(seed), YEARS * YEAR_H
        turn = 2 * np.pi * np.arange(count) / YEAR_H
        weather, anomaly = self._weather(rng, count, turn), self._anomaly(rng, count)
        self.season_m, self.season_rad = rng.uniform(0.03, 0.12), rng.uniform(0, 2 * np.pi)
        season = self.season(np.arange(count)) + 0.25 * self.season_m * np.cos(2 * turn - rng.uniform(0, 6))
        amplitude = rng.uniform(0.4, 1.2)
        lags = rng.uniform(0, 2 * np.pi, len(NAMES))
        heights = amplitude * RELATIVE * rng.uniform(0.7, 1.3, len(NAMES))
        self.constants = dict(zip(NAMES, heights * np.exp(-1j * lags), strict=True))
        weights = np.array([0.0, *(part for one in self.constants.values() for part in (one.real, one.imag))])
        tide = waves() @ weights
        self.level_m = tide + weather + anomaly + season + rng.normal(size=count) * 0.01
        lows = np.flatnonzero((tide[1:-1] < tide[:-2]) & (tide[1:-1] <= tide[2:])) + 1
        self.lows_s = BEGIN_S + 3600.0 * lows

    @staticmethod
    def _weather(rng: np.random.Generator, count: int, turn: np.ndarray) -> np.ndarray:
        sd, fast_h, slow_h, share = rng.uniform(0.06, 0.13), rng.uniform(6, 18), rng.uniform(48, 120), rng.uniform(0.2, 0.5)
        made = np.sqrt(share) * wander(rng, count, fast_h, 1) + np.sqrt(1 - share) * wander(rng, count, slow_h, 1)
        skew = rng.uniform(0.05, 0.2)
        made = (made + skew * (made * made - 1)) / np.sqrt(1 + 2 * skew * skew)
        winter = 1 + rng.uniform(0, 0.4) * np.cos(turn)
        stormy: np.ndarray = sd * made * winter / np.sqrt(np.mean(winter**2))
        return stormy

    @staticmethod
    def _anomaly(rng: np.random.Generator, count: int) -> np.ndarray:
        months = wander(rng, YEARS * 12 + 3, -1 / np.log(rng.uniform(0.3, 0.7)), ANOMALY_M)
        line = np.interp(np.arange(count) / (YEAR_H / 12), np.arange(len(months)) - 0.5, months)
        # A line between months moves less than the months: brought back to their spread.
        lost = np.mean((months[:-1] ** 2 + months[1:] ** 2) / 3 + months[:-1] * months[1:] / 3)
        brought_back: np.ndarray = line * np.sqrt(np.mean(months**2) / lost)
        return brought_back

    def season(self, hour: np.ndarray) -> np.ndarray:
        """The yearly wave at hours after the beginning."""
        made: np.ndarray = self.season_m * np.cos(2 * np.pi * hour / YEAR_H - self.season_rad)
        return made


@dataclass(frozen=True)
class Trial:
    """On which share of the next year's lows the allowance was exceeded, the same of the record's own 95th percentile, and the allowance, m."""

    exceeded: float
    own_exceeded: float
    allowance_m: float


def tried(seed: int, days: int, is_season_known: bool) -> Trial:
    """The allowance of a record of so many days, tried on the year after it."""
    port = Port(seed)
    first = int(np.random.default_rng(1000 + seed).integers(0, YEAR_H))
    end = first + 24 * days
    kept = [name for name in NAMES if days >= 180 or name not in INFERRED]
    assumed = [] if days >= 180 else [_inferred(port, name, source) for name, source in INFERRED.items()]
    kept += ["SA", "SSA"] if days >= 350 else []
    borrows = is_season_known and days < 350

    def borrowed(at_s: np.ndarray) -> np.ndarray:
        return port.season((at_s - BEGIN_S) / 3600) if borrows else np.zeros(len(at_s))

    names = [*kept, *(one.name for one in assumed)]
    at_s, level_m = hours_s(first, end), port.level_m[first:end]
    fit = solved(sums_of(columns(at_s, names), level_m - borrowed(at_s)), kept, assumed)

    def at_lows_of(part_s: np.ndarray, left_m: np.ndarray) -> np.ndarray:
        found = at_lows(part_s, left_m, port.lows_s, 40.0)
        assert found is not None
        return np.array(found.left_m)

    own = at_lows_of(at_s, level_m - columns(at_s, names) @ fit.weights - borrowed(at_s))
    left = at_lows_of(at_s, left_of_constants(Levels(at_s, level_m - fit.mean_m), kept, assumed, borrowed))
    allowance = allowance_of(left, days, is_season_known)
    assert allowance is not None
    next_s = hours_s(end, end + YEAR_H)
    ahead = at_lows_of(next_s, port.level_m[end : end + YEAR_H] - columns(next_s, names) @ fit.weights - borrowed(next_s))
    return Trial(float(np.mean(ahead > allowance.metres)), float(np.mean(ahead > np.percentile(own, 95))), allowance.metres)


def _inferred(port: Port, name: str, source: str) -> Inference:
    ours, its = port.constants[name], port.constants[source]
    return Inference(name, source, abs(ours / its), float(np.degrees(np.angle(its / ours))) % 360)


CASES = ((30, True), (60, True), (180, True), (365, True), (60, False), (180, False))


def main(first: int, count: int) -> None:
    for days, is_known in CASES:
        found = [tried(seed, days, is_known) for seed in range(first, first + count)]
        for what, shares in (("proposed", [one.exceeded for one in found]), ("the record's own 95 %", [one.own_exceeded for one in found])):
            print(f"{days:3d} days, season {'known' if is_known else 'not known'}, {what}: mean {100 * np.mean(shares):.1f} %, worst {100 * max(shares):.1f} %")
        print(f"    allowance {np.mean([one.allowance_m for one in found]):.2f} m in the mean", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3])) if len(sys.argv) > 2 else main(1000, 20)
