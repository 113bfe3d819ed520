"""
Methods that measure the same joined into one rate, and programs into one effect.

Weights 1/se². From few replicates 1.96 over the root of the weights' sum holds the truth in 82 of 100 made sites, so its variance is
raised after Meier 1953 (from memory) and, where the methods scatter more than their own errors, by Birge's ratio. Where they scatter
so much that chance would not do it they are shown apart. It assumes that no method has an error of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from fieldlog.outcomes.intervals import Interval, interval, of_mean
from fieldlog.outcomes.results import CannotTell, Caveat, Floats, LeftOut, Method, Why, as_floats, is_spread

SURFACE, ACCRETION = "surface elevation", "accretion"
"""Stakes, levels, tables and units' exposed height measure the surface; a horizon measures accretion and is never joined with them."""

LEAST_METHODS, LEAST_REPLICATES, LEAST_PROGRAMS = 2, 3, 3
SAME_SPAN_DAYS = 60.0
APART_P = 0.05

JOINED = Method("methods-joined", "1", "Meier 1953 with Birge's ratio, from memory", "method")
PROGRAMS = Method("programs-mean", "1", "mean over programs, t(k - 1)", "program")
RANDOM_EFFECTS = Method("programs-random-effects", "1", "DerSimonian and Laird; Hartung and Knapp with floor, t(k - 1)", "program")


@dataclass(frozen=True, slots=True)
class MeasuredRate:
    """One method's rate of a zone, in mm a year; `quantity` is SURFACE or ACCRETION; days from any one beginning."""

    name: str
    quantity: str
    zone: str
    first_day: float
    last_day: float
    rate_mm_y: float
    se_mm_y: float
    df: float
    replicates: int


@dataclass(frozen=True, slots=True)
class JoinedRate:
    """
    Methods as one, in mm a year.

    Attributes:
        weights: of each method, summing to 1.
        se_plain_mm_y: from the weights alone, too narrow.
        se_few_replicates_mm_y: after Meier.
        q, q_p: how far the methods scatter beyond their errors, and how often chance would.
        birge: by how much that widens the standard error; 1 at least.
        tau2_mm2_y2: variance between methods (DerSimonian and Laird), 0 at least.
        apart_because: METHODS_DISAGREE where they are to be shown apart; else None.
    """

    method: Method
    rate_mm_y: float
    se_mm_y: float
    df: float
    low_mm_y: float
    high_mm_y: float
    weights: dict[str, float]
    se_plain_mm_y: float
    se_few_replicates_mm_y: float
    q: float
    q_p: float
    birge: float
    tau2_mm2_y2: float
    apart_because: Why | None
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class OverPrograms:
    """An effect over programs, in the unit of what went in: the plain mean, or random effects with their variance `tau2`."""

    method: Method
    effect: float
    se: float
    df: float
    low: float
    high: float
    programs: int
    tau2: float | None


@dataclass(frozen=True, slots=True)
class Pooled:
    """What `pooled` works out, of any leading shape."""

    interval: Interval
    shares: Floats
    se_plain: Floats
    se_few: Floats
    q: Floats
    q_p: Floats
    birge: Floats


def join(methods: Sequence[MeasuredRate]) -> JoinedRate | CannotTell:
    """
    The methods of one zone as one rate: the same quantity and zone as the first, spans that begin and end within 60 days of its, 3
    replicates each. Those that are not are left out, and fewer than two give nothing.
    """
    notes: list[LeftOut] = []
    kept: list[MeasuredRate] = []
    for one in methods:
        why = _why_not(one, methods[0])
        if why is None:
            kept.append(one)
        else:
            notes.append(LeftOut(one.name, why))
    if len(kept) < LEAST_METHODS:
        why = notes[0].why if notes else Why.TOO_FEW_METHODS
        return CannotTell(JOINED, why, len(kept), LEAST_METHODS, left_out=tuple(notes))
    rate, se = as_floats([one.rate_mm_y for one in kept]), as_floats([one.se_mm_y for one in kept])
    found = pooled(rate, se, as_floats([one.df for one in kept]))
    made = found.interval
    apart = Why.METHODS_DISAGREE if float(found.q_p) < APART_P else None
    return JoinedRate(
        JOINED, float(made.value), float(made.se), float(made.df), float(made.low), float(made.high),
        {one.name: float(share) for one, share in zip(kept, found.shares, strict=True)}, float(found.se_plain), float(found.se_few), float(found.q),
        float(found.q_p), float(found.birge), float(between_variance(rate, se)), apart, tuple(notes), (Caveat.METHODS_WITHOUT_OWN_ERROR,),
    )  # fmt: skip


def pooled(rate: Floats, se: Floats, df: Floats) -> Pooled:
    """The joined rate of k methods on the last axis, each with its standard error and degrees of freedom."""
    weights = 1 / se**2
    whole = weights.sum(-1)
    shares = weights / whole[..., None]
    value = (shares * rate).sum(-1)
    q = (weights * (rate - value[..., None]) ** 2).sum(-1)
    k = rate.shape[-1]
    birge = np.sqrt(np.maximum(1.0, q / (k - 1)))
    few = np.sqrt((1 + 4 * (shares * (1 - shares) / df).sum(-1)) / whole)
    made = interval(value, few * birge, 1 / (shares**2 / df).sum(-1))
    return Pooled(made, shares, np.sqrt(1 / whole), few, q, np.asarray(chdtrc(k - 1, q)), birge)


def between_variance(value: Floats, se: Floats) -> Floats:
    """DerSimonian and Laird's variance between k values on the last axis, never below 0."""
    weights = 1 / se**2
    whole = weights.sum(-1)
    mean = (weights * value).sum(-1) / whole
    q = (weights * (value - mean[..., None]) ** 2).sum(-1)
    return np.asarray(np.maximum(0.0, (q - (value.shape[-1] - 1)) / (whole - (weights**2).sum(-1) / whole)))


def over_programs(effects: Sequence[float]) -> OverPrograms | CannotTell:
    """The effect (reef less control) of each program, plain mean with t(k - 1): 3 programs at least."""
    values = as_floats(effects)
    few = _too_few(PROGRAMS, values)
    return few or _over(PROGRAMS, of_mean(values), len(values), None)


def random_effects(effects: Sequence[float], se: Sequence[float]) -> OverPrograms | CannotTell:
    """The same weighted by each program's own error and the variance between them: Hartung and Knapp, not below the plain form."""
    values, errors = as_floats(effects), as_floats(se)
    few = _too_few(RANDOM_EFFECTS, values)
    return few or _over(RANDOM_EFFECTS, hartung_knapp(values, errors), len(values), float(between_variance(values, errors)))


def hartung_knapp(value: Floats, se: Floats) -> Interval:
    """Random effects of k values on the last axis, t(k - 1); their factor is 1 at least."""
    weights = 1 / (se**2 + between_variance(value, se)[..., None])
    whole = weights.sum(-1)
    mean = (weights * value).sum(-1) / whole
    k = value.shape[-1]
    spread = (weights * (value - mean[..., None]) ** 2).sum(-1) / (k - 1)
    return interval(mean, np.sqrt(np.maximum(1.0, spread) / whole), k - 1)


def _why_not(one: MeasuredRate, first: MeasuredRate) -> Why | None:
    if one.quantity != first.quantity:
        return Why.OTHER_QUANTITY
    if one.zone != first.zone:
        return Why.OTHER_ZONE
    if max(abs(one.first_day - first.first_day), abs(one.last_day - first.last_day)) > SAME_SPAN_DAYS:
        return Why.OTHER_SPAN
    return Why.TOO_FEW_REPLICATES if one.replicates < LEAST_REPLICATES or not one.se_mm_y > 0 else None


def _too_few(method: Method, values: Floats) -> CannotTell | None:
    known = int(np.isfinite(values).sum())
    if known < max(LEAST_PROGRAMS, len(values)):
        return CannotTell(method, Why.TOO_FEW_PROGRAMS, known, LEAST_PROGRAMS)
    return None if is_spread(values) else CannotTell(method, Why.NO_SPREAD, known)


def _over(method: Method, found: Interval, programs: int, tau2: float | None) -> OverPrograms:
    return OverPrograms(method, float(found.value), float(found.se), float(found.df), float(found.low), float(found.high), programs, tau2)
