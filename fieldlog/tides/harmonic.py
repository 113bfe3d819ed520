"""
A site's own harmonic constants, fitted to its record by UTide.

UTide solves for the bare amplitude and phase of each frequency about the middle of the record, with confidence limits
from the spectrum of what is left over. f, u and V are then taken from our own yearly numbers, so that constants from here
and from a published station mean the same (test_harmonic). Loading UTide takes half a second and 100 MB: only a child
process imports this module.

Source of the method: D. L. Codiga, Unified Tidal Analysis and Prediction Using the UTide Functions, University of
Rhode Island, Graduate School of Oceanography, Technical Report 2011-01.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import utide

from fieldlog.errors import RecordTooShort
from fieldlog.rounding import rounded
from fieldlog.tides.astronomy import speed_deg_per_h
from fieldlog.tides.evenly import averaging_response, hourly
from fieldlog.tides.inference import widened
from fieldlog.tides.least_squares import columns, sums_of
from fieldlog.tides.parting import Inference, NotParted, inferences, parted
from fieldlog.tides.yearly import argument_at

LEAST_DAYS = 14.0
"""Half a month: spring and neap once; below it even M2 and S2 are one."""

MOST_TURN_DEG = 150.0
"""A little under Nyquist's half turn: levels every two hours do not tell S6, of four hours."""

SIGNAL_TO_NOISE = 2.0
"""A constituent below it is reported and left out of the prediction; UTide's own default for its reconstruction."""

SPECTRUM_SIDES = float(np.sqrt(2))
"""UTide 0.4.0 splits the power of a one-sided spectrum between cosine and sine, each of which has all of it: its
intervals come out this much too narrow (they hold 79 % instead of 95 %; test_harmonic)."""

REFERENCE = "the reference port"
"""What ``inferred_from`` says of a constituent taken over whole."""

_THEIR_NAMES = {"LAM2": "LDA2", "RHO": "RHO1", "M1": "NO1", "2MK3": "MO3"}
"""UTide's spelling of the same frequency."""


Bare = dict[str, tuple[float, ...]]
"""By a constituent's name: amplitude, phase, half the interval of each, as UTide gives them."""


@dataclass(frozen=True)
class FittedConstituent:
    """
    One constituent: amplitude (m) and Greenwich phase lag (deg), each with half its 95 % interval.

    ``inferred_from`` names the constituent (or REFERENCE) that it was taken from where the record is too short for it; its
    intervals are then those of that constituent, scaled, or nothing. Both sides of an inference count what it may be off by
    (inference.py). ``is_lost`` is true where noise covers it.
    """

    name: str
    amplitude_m: float
    phase_deg: float
    amplitude_ci_m: float
    phase_ci_deg: float
    inferred_from: str | None
    is_lost: bool


@dataclass(frozen=True)
class Constants:
    """
    What a record says of a site's tide; heights above the record's own zero.

    ``left_m`` is the root mean square of what the fit leaves, metres.
    """

    constituents: tuple[FittedConstituent, ...]
    mean_level_m: float
    left_m: float
    days: float
    not_parted: tuple[NotParted, ...]
    fitted: tuple[str, ...] = ()
    assumed: tuple[Inference, ...] = ()

    @property
    def used(self) -> tuple[tuple[str, float, float], ...]:
        """(name, amplitude m, phase lag deg) of those that a prediction sums."""
        return tuple((one.name, one.amplitude_m, one.phase_deg) for one in self.constituents if not one.is_lost)

    def borrowed_at(self, at_s: np.ndarray) -> np.ndarray:
        """What the constituents taken over from the reference port make, metres, at times in seconds since 1970, shape (n,)."""
        taken = [one for one in self.constituents if one.inferred_from == REFERENCE]
        waves = columns(at_s, [one.name for one in taken])
        lags = [(one.amplitude_m * np.cos(np.radians(one.phase_deg)), -one.amplitude_m * np.sin(np.radians(one.phase_deg))) for one in taken]
        made: np.ndarray = waves @ np.concatenate([[0.0], *lags])
        return made


def fit_constants(
    t_s: np.ndarray,
    level_m: np.ndarray,
    lat_deg: float,
    reference: Mapping[str, tuple[float, float]] | None = None,
    tell: Callable[[str], None] = lambda _step: None,
) -> Constants:
    """
    Fit harmonic constants.

    Args:
        t_s: times, seconds since 1970 UTC, rising, shape (n,); gaps are simply missing.
        level_m: levels, shape (n,), metres above the record's zero.
        lat_deg: latitude.
        reference: constants of the reference port by name, for what the record is too short to tell.
        tell: is called with the name of each step.

    Raises:
        RecordTooShort: less than 14 days.
    """
    days = float(t_s[-1] - t_s[0]) / 86400
    if days < LEAST_DAYS:
        raise RecordTooShort(
            f"The record holds {rounded(days, 1)} days; harmonic constants need {rounded(LEAST_DAYS, 0)} or more. "
            "Offsets against the reference port can be found from shorter ones."
        )
    known = dict(reference or {})
    kept, left = parted(days, {name: height for name, (height, _) in known.items()})
    record = _Record(*hourly(t_s, level_m), lat_deg)
    # What turns by half or more from one level to the next cannot be told from something slower.
    step_h = float(record.at_s[1] - record.at_s[0]) / 3600
    kept = [name for name in kept if speed_deg_per_h(name) * step_h < MOST_TURN_DEG]
    assumed = inferences(kept, left, known)
    # The year's own wave is the same along a coast, and a short record would lose it: it is taken off before and put back.
    seasonal = tuple(
        FittedConstituent(name, *known[name], 0.0, 0.0, REFERENCE, False) for name in ("SA", "SSA") if name not in kept and name in known
    )
    constituents: tuple[FittedConstituent, ...] = ()
    borrowed_m = record.predicted(seasonal)
    off_m: np.ndarray | float = 0.0
    for turn in (1, 2):
        tell(f"fitting {len(kept)} constituents to {len(record.at_s):,} hourly levels, pass {turn} of 2")
        mean_m, solved = record.solved(record.level_m - borrowed_m - off_m, kept, assumed)
        constituents = record.constants(solved, assumed)
        # UTide's cosines have one f and u for the whole record, a prediction a pair for each year: the second pass fits
        # what stands once the difference of the two is taken off.
        off_m = record.predicted(constituents) - record.pure(solved)
    left_m = float(np.sqrt(np.nanmean((record.level_m - borrowed_m - record.predicted(constituents) - mean_m) ** 2)))
    sure = _with_inference(constituents, record, assumed, kept, record.level_m - borrowed_m)
    return Constants((*sure, *seasonal), mean_m, left_m, days, tuple(left), tuple(kept), tuple(assumed))


class _Record:
    """An even record and what UTide and our own prediction make of it."""

    def __init__(self, at_s: np.ndarray, level_m: np.ndarray, count: int, lat_deg: float) -> None:
        self.at_s, self.level_m, self.count, self.lat_deg = at_s, level_m, count, lat_deg
        self.middle_s = float(at_s[0] + at_s[-1]) / 2
        self.middle = datetime.fromtimestamp(self.middle_s, UTC)

    def solved(self, level_m: np.ndarray, kept: list[str], assumed: list[Inference]) -> tuple[float, Bare]:
        """The mean level, and UTide's amplitude, phase and their intervals by our names, about the middle of the record."""
        options: dict[str, Any] = {
            "constit": [_theirs(name) for name in kept], "nodal": False, "phase": "raw", "trend": False,
            "method": "ols", "conf_int": "linear", "verbose": False, "epoch": "1970-01-01",
        }  # fmt: skip
        if assumed:
            options["infer"] = utide.utilities.Bunch(
                inferred_names=[_theirs(one.name) for one in assumed],
                reference_names=[_theirs(one.source) for one in assumed],
                amp_ratios=np.array([self._raw_ratio(one) for one in assumed]),
                phase_offsets=np.array([self._raw_offset_deg(one) for one in assumed]),
                approximate=False,
            )
        # About the middle, so that UTide's own time of reference, the middle of its times, is noon of day nought.
        solved = utide.solve((self.at_s - self.middle_s) / 86400, level_m, lat=self.lat_deg, **options)
        limits = (SPECTRUM_SIDES * np.asarray(solved[name]) for name in ("A_ci", "g_ci"))
        rows = zip(solved["name"], solved["A"], solved["g"], *limits, strict=True)
        theirs = {str(name): tuple(map(float, values)) for name, *values in rows}
        names = [*kept, *(one.name for one in assumed)]
        return float(solved["mean"]), {name: theirs[_theirs(name)] for name in names}

    def pure(self, solved: Bare) -> np.ndarray:
        """The sum of UTide's bare cosines."""
        hours = (self.at_s - self.middle_s) / 3600
        total = np.zeros(len(hours))
        for name, (amplitude, lag, *_) in solved.items():
            total += amplitude * np.cos(np.radians(speed_deg_per_h(name) * hours - lag))
        return total

    def predicted(self, constituents: Sequence[FittedConstituent]) -> np.ndarray:
        """Our own prediction of what the means of the record would be, without its mean level."""
        years = self.at_s.astype("datetime64[s]").astype("datetime64[Y]").astype(int) + 1970
        total = np.zeros(len(years))
        for year in np.unique(years):
            start = datetime(int(year), 1, 1, tzinfo=UTC)
            hours = (self.at_s[years == year] - start.timestamp()) / 3600
            for one in constituents:
                f, argument_deg = argument_at(one.name, start)
                speed = speed_deg_per_h(one.name)
                height_m = f * one.amplitude_m * averaging_response(speed, self.count)
                total[years == year] += height_m * np.cos(np.radians(speed * hours + argument_deg - one.phase_deg))
        return total

    def constants(self, solved: Bare, assumed: list[Inference]) -> tuple[FittedConstituent, ...]:
        """The constants in our convention."""
        sources = {one.name: one.source for one in assumed}
        return tuple(self._constituent(name, bare, sources.get(name)) for name, bare in solved.items())

    def _constituent(self, name: str, bare: tuple[float, ...], source: str | None) -> FittedConstituent:
        amplitude, lag, amplitude_ci, lag_ci = bare
        f, argument_deg = argument_at(name, self.middle)
        taken = f * averaging_response(speed_deg_per_h(name), self.count)
        return FittedConstituent(
            name=name,
            amplitude_m=amplitude / taken,
            phase_deg=(argument_deg + lag) % 360,
            amplitude_ci_m=amplitude_ci / taken,
            phase_ci_deg=lag_ci,
            inferred_from=source,
            is_lost=amplitude**2 < SIGNAL_TO_NOISE * (amplitude_ci / 1.96) ** 2,
        )

    def _raw_ratio(self, one: Inference) -> float:
        """The ratio of the two as they are in this record: with the year's f, and averaged."""
        ours, source = (
            argument_at(name, self.middle)[0] * averaging_response(speed_deg_per_h(name), self.count)
            for name in (one.name, one.source)
        )
        return one.ratio * ours / source

    def _raw_offset_deg(self, one: Inference) -> float:
        """The source's bare phase less the inferred one's, about the middle of the record."""
        ours, source = (argument_at(name, self.middle)[1] for name in (one.name, one.source))
        return (ours - source - one.phase_deg) % 360


def _with_inference(
    constituents: tuple[FittedConstituent, ...], record: _Record, assumed: Sequence[Inference], kept: Sequence[str], level_m: np.ndarray
) -> tuple[FittedConstituent, ...]:
    """The constituents with intervals that know that an inference may be wrong, their sources' too."""
    if not assumed:
        return constituents
    sums = sums_of(columns(record.at_s, [*kept, *(one.name for one in assumed)], record.count), level_m)
    wider = widened(sums, kept, assumed, {one.name: (one.amplitude_ci_m, one.phase_ci_deg) for one in constituents})
    return tuple(replace(one, amplitude_ci_m=wider[one.name][0], phase_ci_deg=wider[one.name][1]) for one in constituents)


def _theirs(name: str) -> str:
    return _THEIR_NAMES.get(name, name)
