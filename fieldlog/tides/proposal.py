"""
The better of three for a site: the reference port as it is, offsets against it, or the site's own constants.

Each is made from the first part of the record and tried on the last, which it has not seen: the error on these held-back
days is what a person chooses by. Then each is made again from the whole record. Levels end up above the chart datum of
the reference port, by the site's datums. Loads UTide (harmonic.py): for a child process only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np

from fieldlog.errors import BadSpan, RecordTooShort
from fieldlog.rounding import rounded
from fieldlog.tides.allowance import LEAST_DAYS as LEAST_ALLOWANCE_DAYS
from fieldlog.tides.beside_tide import WEEK_DAYS, lags
from fieldlog.tides.curve import Curve
from fieldlog.tides.datums import Means, SiteDatums, alone, by_comparison, means_of, method_of
from fieldlog.tides.fitting import FittedOffsets, fit_offsets
from fieldlog.tides.harmonic import Constants, fit_constants
from fieldlog.tides.held_back import left_of, left_of_constants
from fieldlog.tides.highs_lows import Tops, highs_and_lows
from fieldlog.tides.record import LEAST_DAYS, Levels
from fieldlog.tides.station import Station
from fieldlog.tides.yearly import mean_level_m

Kind = Literal["station", "offsets", "constants"]

HELD_BACK = 0.3
"""The last part of the record that nothing is fitted to."""

CLEARLY_BETTER = 0.97
"""A way with more numbers is proposed where its error is below this share of the simpler one's; our own choice."""

ANOMALY_M = 0.08
"""How far a month's mean sea level usually lies from the year's once the seasonal wave is known; from memory, no source."""

LEAST_TIMES = 0.05
"""A site whose range is a smaller part of the port's than this does not follow it."""

PART_S = WEEK_DAYS * 86_400
LEAST_TOPS = 5
"""A week of a diurnal tide has seven highs."""

_EDGE_S = 3 * 86_400


@dataclass(frozen=True)
class Tried:
    """Error on the held-back days, metres: root mean square, and what 95 % of levels stay within; how many days."""

    rms_m: float
    p95_m: float
    days: float


@dataclass(frozen=True)
class Candidate:
    """
    One way to predict the site's tide; ``station`` is ready to use, above the reference port's chart datum.

    ``left_m``: observed less predicted at each level of the record, metres; of blocks of days that it had not seen where the
    record is long enough for an allowance.
    """

    kind: Kind
    station: Station
    tried: Tried
    left_m: np.ndarray = field(compare=False)
    offsets: FittedOffsets | None = None
    constants: Constants | None = None


@dataclass(frozen=True)
class Proposal:
    """The ways in the order of their numbers, the one proposed, the datums above the record's zero, and the chart datum there."""

    candidates: tuple[Candidate, ...]
    proposed: Kind
    datums: SiteDatums
    chart_datum_m: float
    reasons: tuple[str, ...]


def propose(
    levels: Levels,
    reference: Station,
    place: tuple[float, float],
    control: Levels | None = None,
    zero_above_chart_datum_m: float | None = None,
    tell: Callable[[str], None] = lambda _step: None,
) -> Proposal:
    """
    Try every way that the record is long enough for.

    Args:
        levels: without faults, metres above the record's zero.
        reference: the reference port.
        place: the site's latitude and longitude, degrees.
        control: what the reference port's gauge observed over the same days, metres above its chart datum; its prediction
            stands in where there is none.
        zero_above_chart_datum_m: where the record's zero was levelled in.
        tell: is called with the name of each step.

    Raises:
        RecordTooShort: under four days.
    """
    if levels.days < LEAST_DAYS:
        raise RecordTooShort(f"The record holds {rounded(levels.days, 1)} days, fewer than {rounded(LEAST_DAYS, 0)}: leave the logger out for a month.")
    curve = Curve.for_station(reference, _at(levels.t_s[0] - _EDGE_S), _at(levels.t_s[-1] + _EDGE_S))
    tell("datums against the control station")
    datums = site_datums(levels, reference, curve, place, control)
    if zero_above_chart_datum_m is None:
        chart_datum_m = _chart_datum(datums, reference)
    else:
        chart_datum_m = -zero_above_chart_datum_m
    frame = _Frame(reference, curve, place, datums.above_zero_m["MSL"] - chart_datum_m, chart_datum_m)
    split_s = levels.t_s[-1] - min(max(HELD_BACK * levels.days, 2.0), 90.0) * 86_400
    first, last = levels.only(levels.t_s < split_s), levels.only(levels.t_s >= split_s)
    candidates: list[Candidate] = []
    reasons: list[str] = []
    for kind in ("station", "offsets", "constants"):
        try:
            tell(f"trying {kind} on {rounded(last.days, 0)} held-back days")
            tried = _try(frame.made(kind, first, tell), first, last)
            whole = frame.made(kind, levels, tell)
        except (RecordTooShort, BadSpan) as fault:
            reasons.append(fault.sentence)
            continue
        candidates.append(replace(whole, tried=tried, left_m=frame.left(whole, levels)))
    return Proposal(tuple(candidates), _best(candidates), datums, chart_datum_m, tuple(reasons))


@dataclass(frozen=True, eq=False)
class _Frame:
    """What every way is made within: levels in metres above the reference port's chart datum."""

    reference: Station
    curve: Curve
    place: tuple[float, float]
    msl_m: float
    chart_datum_m: float

    def made(self, kind: Kind, levels: Levels, tell: Callable[[str], None]) -> Candidate:
        """The candidate of a kind out of some levels, not yet tried."""
        untried, unknown = Tried(0.0, 0.0, 0.0), np.array([])
        if kind == "station":
            return Candidate(kind, self.reference, untried, unknown)
        above = Levels(levels.t_s, levels.level_m - self.chart_datum_m)
        if kind == "offsets":
            fitted = fit_offsets(highs_and_lows(above), self._reference_tops())
            base = self.reference.harmonic
            own = replace(self._own(kind), kind="offset", offsets=fitted.offsets, reference=base, constituents=())
            return Candidate(kind, own, untried, unknown, offsets=fitted)
        constants = fit_constants(
            above.t_s, above.level_m, self.place[0], {name: (height, lag) for name, height, lag in self.reference.harmonic.constituents}, tell
        )
        own = replace(self._own(kind), constituents=constants.used)
        return Candidate(kind, own, untried, unknown, constants=constants)

    def left(self, whole: Candidate, levels: Levels) -> np.ndarray:
        """What a way made from the whole record leaves of it, held back where it was fitted and the record is long enough."""
        above = Levels(levels.t_s, levels.level_m - self.chart_datum_m)
        if whole.kind == "station" or levels.days < LEAST_ALLOWANCE_DAYS:
            seen: np.ndarray = above.level_m - _predicted(whole.station, above)
            return seen
        if whole.constants is not None:
            over_mean = Levels(above.t_s, above.level_m - self.msl_m)
            return left_of_constants(over_mean, whole.constants.fitted, whole.constants.assumed, whole.constants.borrowed_at)
        return left_of(above, lambda part: self._offset_tide(part, above))

    def _offset_tide(self, part: Levels, whole: Levels) -> Callable[[np.ndarray], np.ndarray]:
        made = self.made("offsets", Levels(part.t_s, part.level_m + self.chart_datum_m), lambda _step: None)
        curve = _curve_over(made.station, whole)
        return lambda at_s: curve.levels_at_s(at_s)

    def _own(self, kind: Kind) -> Station:
        return Station(
            station_id=f"own/{kind}", name=f"Own {kind}", lat_deg=self.place[0], lon_deg=self.place[1], kind="harmonic",
            source="own record", chart_datum=self.reference.chart_datum,
            datums_m={self.reference.chart_datum: 0.0, "MSL": self.msl_m}, constituents=(), offsets=None, reference=None,
            licence="", attribution="",
        )  # fmt: skip

    def _reference_tops(self) -> Tops:
        base = self.curve if self.reference.offsets is None else Curve.for_station(self.reference.harmonic, self.curve.from_utc, self.curve.to_utc)
        found = base.extremes()
        return Tops(
            np.array([one.at_utc.timestamp() for one in found]),
            np.array([one.level_m for one in found]),
            np.array([one.kind == "high" for one in found]),
        )


def site_datums(
    levels: Levels, reference: Station, curve: Curve, place: tuple[float, float], control: Levels | None
) -> SiteDatums:
    """The site's datums above the record's zero, by comparison with the reference port where its datums are known."""
    tops = highs_and_lows(levels)
    port = reference.harmonic
    accepted = {name: level - port.datums_m[port.chart_datum] for name, level in port.datums_m.items() if port.chart_datum in port.datums_m}
    if tops.is_high.sum() < 3:
        raise RecordTooShort("The record has fewer than three high tides: it is too short, or its gaps are too many.")
    if (~tops.is_high).sum() < 3:
        return _without_lows(levels, curve, accepted)
    site = means_of(levels, tops)
    if any(name not in accepted for name in ("MHHW", "MHW", "MSL", "MLW", "MLLW")):
        return alone(site)
    if control is None:
        if reference.offsets is not None:
            curve = Curve.for_station(port, curve.from_utc, curve.to_utc)
        beside = Levels(levels.t_s, curve.levels_at_s(levels.t_s))
        found = by_comparison(site, _means(beside), accepted, method_of(*place), _parts(levels, beside))
        return replace(found.less_sure(ANOMALY_M), method=f"{found.method}'s predictions")
    start, end = max(levels.t_s[0], control.t_s[0]), min(levels.t_s[-1], control.t_s[-1])
    both = [one.only((one.t_s >= start) & (one.t_s <= end)) for one in (levels, control)]
    if both[0].days < LEAST_DAYS:
        raise RecordTooShort("The control station's record and the site's share fewer than four days. Fetch the control's for the same days.")
    return by_comparison(_means(both[0]), _means(both[1]), accepted, method_of(*place), _parts(*both))


def _without_lows(levels: Levels, curve: Curve, accepted: Mapping[str, float]) -> SiteDatums:
    """Datums of a record whose logger fell dry at every low: the port's own, through the curve that fits what is left."""
    tide = curve.levels_at_s(levels.t_s - 60 * lags(levels, curve.levels_at_s).usual_min)
    times, plus = np.polyfit(tide, levels.level_m, 1)
    left = levels.level_m - (plus + times * tide)
    if times < LEAST_TIMES or not any(name in accepted for name in ("MLLW", "MLW", "MSL")) or np.std(left) > np.std(levels.level_m) / 2:
        raise RecordTooShort(
            "The record has fewer than three low tides, and what is left does not follow the reference port's tide. "
            "Set the logger deeper, or choose another port."
        )
    found = {name: float(plus + times * accepted[name]) for name in ("MHHW", "MHW", "MSL", "MLW", "MLLW") if name in accepted}
    found["MTL"] = (found.get("MHW", found["MSL"]) + found.get("MLW", found["MSL"])) / 2
    errors = dict.fromkeys(found, float(np.hypot(np.hypot(0.06, ANOMALY_M), np.std(left))))
    return SiteDatums(found, "the reference port's curve fitted to the record, since it has no low tide", errors, levels.days)


def _means(levels: Levels) -> Means:
    tops = highs_and_lows(levels)
    if min(tops.is_high.sum(), (~tops.is_high).sum()) < 3:
        raise RecordTooShort("On the record's days the reference port has fewer than three highs and lows to compare with. Leave the logger out for a month.")
    return means_of(levels, tops)


def _parts(site: Levels, control: Levels) -> list[tuple[Means, Means]]:
    """The means of both over whole weeks, half a spring-neap cycle each; a week with holes is left out."""
    found = []
    for start in np.arange(site.t_s[0], site.t_s[-1] - PART_S + 1, PART_S):
        week = [one.only((one.t_s >= start) & (one.t_s < start + PART_S)) for one in (site, control)]
        if min(one.days for one in week) < PART_S / 86_400 / 2:
            continue
        tops = [highs_and_lows(one) for one in week]
        if all(min(one.is_high.sum(), (~one.is_high).sum()) >= LEAST_TOPS for one in tops):
            found.append((means_of(week[0], tops[0]), means_of(week[1], tops[1])))
    return found


def _chart_datum(datums: SiteDatums, reference: Station) -> float:
    """Where the reference port's chart datum lies at the site, metres above the record's zero."""
    port = reference.harmonic
    known = datums.above_zero_m.get(port.chart_datum)
    if known is not None:
        return known
    # Any other datum lies below mean sea level as at the port, in the proportion of the ranges.
    site_range = datums.above_zero_m["MHW"] - datums.above_zero_m["MLW"]
    port_range = port.datums_m.get("MHW", 0.0) - port.datums_m.get("MLW", 0.0)
    ratio = site_range / port_range if port_range > 0.01 else 1.0
    return datums.above_zero_m["MSL"] - mean_level_m(port) * ratio


def _try(candidate: Candidate, first: Levels, last: Levels) -> Tried:
    """The error on held-back levels, the zero taken from the levels before them."""
    zero = float(np.mean(first.level_m - _predicted(candidate.station, first)))
    off = np.abs(last.level_m - zero - _predicted(candidate.station, last))
    return Tried(float(np.sqrt(np.mean(off**2))), float(np.percentile(off, 95)), last.days)


def _predicted(station: Station, levels: Levels) -> np.ndarray:
    return _curve_over(station, levels).levels_at_s(levels.t_s)


def _curve_over(station: Station, levels: Levels) -> Curve:
    return Curve.for_station(station, _at(levels.t_s[0]) - timedelta(hours=1), _at(levels.t_s[-1]) + timedelta(hours=1))


def _best(candidates: list[Candidate]) -> Kind:
    best = candidates[0]
    for one in candidates[1:]:
        if one.tried.rms_m < CLEARLY_BETTER * best.tried.rms_m:
            best = one
    return best.kind


def _at(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), UTC)
