"""
Intervals that know that an inference may be wrong, on made records: of those inferred, and of those they are inferred from.

True ratios are off by 5 % and lags by 3 degrees (one sigma each); the noise wanders (12 h) and its covariance is known, so that only the
inference is tested. `make soak` draws 400 records a case, `make test` fewer with wider bars (binomial, three sigma).
"""

from __future__ import annotations

import os
from collections.abc import Mapping

import numpy as np
import pytest
from made_ports import wander

from fieldlog.tides.harmonic import fit_constants
from fieldlog.tides.inference import LAG_SIGMA_DEG, NORMAL_95, RATIO_SIGMA, Halves, widened
from fieldlog.tides.least_squares import Sums, columns, solved, sums_of
from fieldlog.tides.parting import Inference

FEW = 60
SEEDS = int(os.environ.get("FIELDLOG_SEEDS", str(FEW)))
KEPT = ("M2", "S2", "N2", "K1", "O1")
ASSUMED = (Inference("K2", "S2", 0.272, 0.0), Inference("P1", "K1", 0.331, 0.0))
NAMES = (*KEPT, "K2", "P1")
HEIGHTS_M = {"M2": 1.0, "S2": 0.25, "N2": 0.2, "K1": 0.8, "O1": 0.45}
BEGIN_S = 1_767_225_600.0


def drawn(rng: np.random.Generator) -> dict[str, complex]:
    """True constants, the inferred ones off by what they usually are off by."""
    true = {name: height * np.exp(-1j * rng.uniform(0, 2 * np.pi)) for name, height in HEIGHTS_M.items()}
    for one in ASSUMED:
        lag = np.radians(one.phase_deg + LAG_SIGMA_DEG * rng.normal())
        true[one.name] = true[one.source] * one.ratio * (1 + RATIO_SIGMA * rng.normal()) * np.exp(-1j * lag)
    return true


def summed(design: np.ndarray, true: Mapping[str, complex]) -> np.ndarray:
    made: np.ndarray = design @ np.array([0.0, *(part for name in NAMES for part in (true[name].real, true[name].imag))])
    return made


def noise_halves(usual: Mapping[str, complex], covariance: np.ndarray) -> dict[str, Halves]:
    """Half intervals that noise of a known covariance of the fitted parts leaves; an inferred one has its source's, scaled."""
    found = {}
    for place, name in enumerate(KEPT):
        part = covariance[1 + 2 * place : 3 + 2 * place, 1 + 2 * place : 3 + 2 * place]
        along = np.array([usual[name].real, usual[name].imag]) / abs(usual[name])
        across = np.array([-along[1], along[0]])
        found[name] = NORMAL_95 * float(np.sqrt(along @ part @ along)), float(np.degrees(NORMAL_95 * np.sqrt(across @ part @ across) / abs(usual[name])))
    for one in ASSUMED:
        found[one.name] = one.ratio * found[one.source][0], found[one.source][1]
    return found


def covariance_of(design: np.ndarray, noise_m: float) -> np.ndarray:
    """Of the fitted parts, from noise that forgets itself over 12 h."""
    tied = np.column_stack([solved(Sums(design.T @ design, row), KEPT, ASSUMED).weights[: 1 + 2 * len(KEPT)] for row in np.eye(design.shape[1])])
    apart = np.arange(len(design))
    spread = noise_m**2 * np.exp(-np.abs(apart[:, None] - apart[None]) / 12)
    made: np.ndarray = tied @ (design.T @ spread @ design) @ tied.T
    return made


@pytest.mark.parametrize("days", [30, 60])
@pytest.mark.parametrize("noise_m", [0.03, 0.10])
def test_intervals_hold_the_truth_of_inferred_ones_and_of_their_sources(days: int, noise_m: float) -> None:
    at_s = BEGIN_S + 3600.0 * np.arange(24 * days)
    design = columns(at_s, NAMES)
    covariance = covariance_of(design, noise_m)
    held = {(name, what): 0 for name in NAMES for what in ("amplitude", "phase", "by noise alone")}
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        true = drawn(rng)
        sums = sums_of(design, summed(design, true) + wander(rng, len(at_s), 12, noise_m))
        usual = solved(sums, KEPT, ASSUMED).constants
        noise = noise_halves(usual, covariance)
        full = widened(sums, KEPT, ASSUMED, noise)
        for name in NAMES:
            off_m = abs(abs(usual[name]) - abs(true[name]))
            off_deg = abs(np.degrees(np.angle(usual[name] / true[name])))
            held[name, "amplitude"] += off_m <= full[name][0]
            held[name, "phase"] += off_deg <= full[name][1]
            held[name, "by noise alone"] += off_m <= noise[name][0]
    spare = 0.0 if SEEDS > FEW else 3 * np.sqrt(0.95 * 0.05 / SEEDS) - 0.03
    for (name, what), count in held.items():
        if what != "by noise alone":
            assert 0.90 - spare <= count / SEEDS <= 0.98 + 0.02 * (SEEDS <= FEW), (name, what, count)
    assert held["P1", "by noise alone"] / SEEDS < 0.5 and held["K1", "by noise alone"] / SEEDS < 0.8, "as intervals were before"


def test_a_fit_says_the_wider_intervals_of_both() -> None:
    """Sixty days: the inference alone makes P1's amplitude 5 % unsure, and what P1 is off by, K1 takes up."""
    at_s = BEGIN_S + 3600.0 * np.arange(24 * 60)
    reference = {name: (abs(value), float(-np.degrees(np.angle(value)) % 360)) for name, value in drawn(np.random.default_rng(3)).items()}
    level_m = summed(columns(at_s, NAMES), {name: height * np.exp(-1j * np.radians(lag)) for name, (height, lag) in reference.items()})
    level_m = level_m + np.random.default_rng(1).normal(0, 0.01, len(at_s))
    found = {one.name: one for one in fit_constants(at_s, level_m, 40.0, reference).constituents}
    assert found["P1"].inferred_from == "K1"
    assert found["P1"].amplitude_ci_m >= 0.9 * NORMAL_95 * RATIO_SIGMA * found["P1"].amplitude_m
    assert found["P1"].phase_ci_deg >= 0.9 * NORMAL_95 * LAG_SIGMA_DEG
    assert found["K1"].amplitude_ci_m > 0.01 * found["K1"].amplitude_m
    in_parts = {name: found[name].amplitude_ci_m / found[name].amplitude_m for name in ("M2", "O1", "K1")}
    assert in_parts["M2"] < in_parts["K1"] and in_parts["O1"] < in_parts["K1"], "what is inferred from these is small"
