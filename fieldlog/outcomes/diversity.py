"""
Richness and diversity of counts by species. Natural logarithms; the variant and base are said in each name.

Shannon's H; Simpson's 1 - D with replacement, and unbiased without; Pielou's J, which one species has not; Chao1 bias-corrected with its
log-normal interval (Chao 1987); rarefaction (Hurlbert 1971, from memory). Counts of unequal effort are rarefied or not compared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from fieldlog.outcomes.results import CannotTell, Floats, Method, Reading, Why, read_ones

CHAO_SIGMAS = 1.96
"""As published."""

DIVERSITY = Method("diversity", "1", "Shannon by natural logarithm, Simpson 1 - D, Pielou; Chao 1987", "animal")
RAREFIED = Method("rarefied-richness", "1", "Hurlbert 1971, from memory", "animal")


@dataclass(frozen=True, slots=True)
class Diversity:
    """
    Of one set of counts.

    Attributes:
        species, listed: how many were seen, and how many were looked for.
        shannon_ln, shannon_log2: H by natural logarithm and by that of base 2.
        simpson_1_minus_d: the chance that two animals, drawn with replacement, are of two species; unbiased: without.
        pielou_j: H / ln S; None for one species.
        chao1: estimated number of species; its interval is None where none is estimated unseen, since nothing then says how far.
        singletons, doubletons: species seen once and twice.
        coverage_good: share of animals that belong to species seen more than once.
    """

    method: Method
    species: int
    listed: int
    animals: int
    shannon_ln: float
    shannon_log2: float
    simpson_1_minus_d: float
    simpson_unbiased: float | None
    pielou_j: float | None
    chao1: float
    chao1_classic: float
    chao1_low: float | None
    chao1_high: float | None
    singletons: int
    doubletons: int
    coverage_good: float


def diversity(counts: Sequence[Reading]) -> Diversity | CannotTell:
    """
    Diversity of counts by species, zeros for what was looked for and not seen, None for what was not looked for.

    Raises:
        ValueError: a count that is no whole number of 0 or more.
    """
    listed = _whole(counts)
    seen = listed[listed > 0]
    if not len(seen):
        return CannotTell(DIVERSITY, Why.NONE_SEEN, 0, len(listed))
    total, species = float(seen.sum()), len(seen)
    share = seen / total
    entropy = max(0.0, -float((share * np.log(share)).sum()))
    once, twice = int((seen == 1).sum()), int((seen == 2).sum())
    chao = species + once * (once - 1) / (2 * (twice + 1))
    classic = species + once**2 / (2 * twice) if once and twice else chao
    low, high = _chao_interval(species, once, twice, chao)
    unbiased = 1 - float((seen * (seen - 1)).sum()) / (total * (total - 1)) if total > 1 else None
    return Diversity(
        DIVERSITY, species, len(listed), int(total), entropy, entropy / math.log(2), 1 - float((share**2).sum()), unbiased,
        entropy / math.log(species) if species > 1 else None, chao, classic, low, high, once, twice, 1 - once / total,
    )  # fmt: skip


def rarefied_species(counts: Sequence[Reading], animals: int) -> float | CannotTell:
    """How many species so many animals drawn from these would show: what sets of unequal effort are compared by."""
    seen = _whole(counts)
    total = float(seen.sum())
    if not 1 <= animals <= total:
        return CannotTell(RAREFIED, Why.TOO_FEW_ANIMALS, total, animals)
    left = total - seen
    can_miss = left >= animals
    missed = np.exp(_ln_ways(np.where(can_miss, left, total), animals) - _ln_ways(np.asarray(total), animals))
    return float((1 - np.where(can_miss, missed, 0.0)).sum())


def _ln_ways(of: Floats, draw: int) -> Floats:
    return np.asarray(gammaln(of + 1) - gammaln(of - draw + 1) - gammaln(draw + 1))


def _whole(counts: Sequence[Reading]) -> Floats:
    read = read_ones(counts)
    if (read < 0).any() or (read % 1 != 0).any():
        raise ValueError("a count has to be a whole number of 0 or more")
    return read


def _chao_interval(species: int, once: int, twice: int, chao: float) -> tuple[float | None, float | None]:
    """Chao's log-normal interval about the unseen species; None where none is estimated unseen: a width of 0 would claim to be sure."""
    unseen = chao - species
    if not once or unseen <= 0:
        return None, None
    if twice:
        variance = once * (once - 1) / (2 * (twice + 1)) + once * (2 * once - 1) ** 2 / (4 * (twice + 1) ** 2) + once**2 * twice * (once - 1) ** 2 / (4 * (twice + 1) ** 4)
    else:
        variance = once * (once - 1) / 2 + once * (2 * once - 1) ** 2 / 4 - once**4 / (4 * chao)
    factor = math.exp(CHAO_SIGMAS * math.sqrt(math.log(1 + variance / unseen**2)))
    return species + unseen / factor, species + unseen * factor
