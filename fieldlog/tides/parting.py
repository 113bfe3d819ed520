"""
Which constituents a record is long enough to tell apart, and what is inferred of those that it is not.

Two constituents can be parted once they have drifted one whole turn against each other (Rayleigh's criterion): 360
degrees over the difference of their speeds. A constituent that cannot be parted from a larger one is inferred from it,
by the ratio and the difference of phase at the reference port, or where there is none by the ratios of the
equilibrium tide, as SP98 lists them for its inference (values from memory, held to the amplitudes of NOAA's stations in
test_harmonic).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fieldlog.tides.astronomy import speed_deg_per_h

BY_SIZE = (
    "M2", "K1", "S2", "O1", "N2", "P1", "SA", "K2", "SSA", "Q1", "NU2", "M4", "MS4", "MN4", "MM", "MF", "MSF", "MU2", "2N2",
    "L2", "T2", "M6", "S1", "M1", "J1", "OO1", "RHO", "LAM2", "2Q1", "MK3", "2MK3", "M3", "2SM2", "S4", "M8", "R2", "S6",
)  # fmt: skip
"""The constituents that are looked for, the usually larger first: those that NOAA publishes for its stations."""

RATIOS = {
    "K2": ("S2", 0.272), "T2": ("S2", 0.059), "R2": ("S2", 0.008), "NU2": ("N2", 0.194), "2N2": ("N2", 0.133),
    "L2": ("M2", 0.028), "MU2": ("M2", 0.024), "LAM2": ("M2", 0.007), "N2": ("M2", 0.194), "P1": ("K1", 0.331),
    "Q1": ("O1", 0.194), "M1": ("O1", 0.071), "J1": ("O1", 0.079), "OO1": ("O1", 0.043), "RHO": ("O1", 0.038),
    "2Q1": ("O1", 0.026),
}  # fmt: skip
"""Inferred constituent: what it is inferred from, and its height over that one's."""

WHOLE_TURN = 0.97
"""Rayleigh's criterion is one whole turn; a little less, so that a calendar year of record parts SA from the mean."""

LEAST_TURN = 0.7
"""
Two constituents this far apart are still fitted both: levels are far less noisy than the criterion allows for, and what is
inferred would err more (20 days of Eastport: N2, of 0.7 turn, is 31 degrees off what M2 says of it). Our own choice; the
held-back days tell what it is worth.
"""


@dataclass(frozen=True)
class NotParted:
    """A constituent that the record cannot tell from another one (None: from the mean level), and the days that would."""

    name: str
    beside: str | None
    needs_days: float


@dataclass(frozen=True)
class Inference:
    """``name`` is taken as ``ratio`` times ``source``, its lag ``phase_deg`` later; by the reference port, else the equilibrium tide."""

    name: str
    source: str
    ratio: float
    phase_deg: float
    is_ports: bool = True


def days_to_part(name: str, other: str | None) -> float:
    """Days until two constituents are one turn apart; ``other`` None: until one is a turn from standing still."""
    other_speed = 0.0 if other is None else speed_deg_per_h(other)
    return 360 / abs(speed_deg_per_h(name) - other_speed) / 24


def record_needed(name: str, larger: Sequence[str]) -> tuple[float, str | None]:
    """Days of record that a constituent needs beside the larger ones, and which of them it is hardest to part from (None: the mean)."""
    beside = max([None, *larger], key=lambda other: days_to_part(name, other))
    return days_to_part(name, beside), beside


def parted(days: float, height_m: Mapping[str, float] | None = None) -> tuple[list[str], list[NotParted]]:
    """
    The constituents to fit to a record of so many days, and those that it cannot tell apart by a whole turn.

    Args:
        days: length of the record, gaps included.
        height_m: amplitudes at the reference port; of two that cannot be parted the larger is fitted.

    Returns:
        The names to fit, and what the record is too short for; a name may be in both: fitted though not a whole turn apart.
    """
    known = height_m or {}
    order = sorted(BY_SIZE, key=lambda name: (-known.get(name, 0.0), BY_SIZE.index(name)))
    kept: list[str] = []
    short: list[NotParted] = []
    for name in order:
        needs, beside = record_needed(name, kept)
        if days >= LEAST_TURN * needs:
            kept.append(name)
        if days < WHOLE_TURN * needs:
            short.append(NotParted(name, beside, needs))
    return kept, short


def inferences(
    kept: list[str], short: list[NotParted], reference: Mapping[str, tuple[float, float]] | None = None
) -> list[Inference]:
    """
    What is assumed of the constituents that are not fitted.

    Args:
        reference: (amplitude m, Greenwich phase lag deg) at the reference port, by name.
    """
    known = reference or {}
    found = []
    for one in short:
        if one.name in kept:
            continue
        source, ratio = RATIOS.get(one.name, (None, 0.0))
        if known and one.name in known and one.beside in known and one.beside in kept:
            (height, lag), (height_beside, lag_beside) = known[one.name], known[one.beside]
            found.append(Inference(one.name, one.beside, height / height_beside, (lag - lag_beside) % 360))
        elif source in kept:
            found.append(Inference(one.name, source, ratio, 0.0, is_ports=False))
    return found
