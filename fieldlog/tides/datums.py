"""
Tidal datums of a site from its record, alone or by comparison with a control station.

Source: Computational Techniques for Tidal Datums Handbook, NOAA Special Publication NOS CO-OPS 2, 2003: the tabulation of
highs and lows by tidal days, the modified-range-ratio method (East and Gulf coasts, Caribbean) and the standard method
(Pacific). A record's own means without a control are off by centimetres to decimetres, since a month is not the epoch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fieldlog.tides.highs_lows import Tops
from fieldlog.tides.record import Levels

Method = Literal["modified range ratio", "standard"]
DATUMS = ("MHHW", "MHW", "MTL", "MSL", "MLW", "MLLW")

TIDAL_DAY_S = 24.84 * 3600

SAME_DAY_PART = 0.62
"""
A second high within this part of a tidal day is of the same day: 15.4 h, more than the half day and its inequality of two or
three hours, and less than the day and the inequality's end. Our own choice; the handbook leaves the days to the eye.
"""

EXPECTED_ERROR_M = {1: 0.040, 3: 0.030, 6: 0.021, 12: 0.015}
"""
One standard deviation by months of comparison: 0.13, 0.10, 0.07 and 0.05 ft. R. L. Swanson, Variability of Tidal Datums and
Accuracy in Determining Datums from Short Series of Observations, NOAA Technical Report NOS 64, 1974, for the East coast;
values from memory. The Gulf coast's are about a third larger.
"""

LEAST_PARTS = 3
"""Parts of a record whose scatter says something of a datum's error."""


@dataclass(frozen=True)
class Means:
    """Means of a record above its own zero, metres; ``days`` is its length."""

    mhhw_m: float
    mhw_m: float
    msl_m: float
    mlw_m: float
    mllw_m: float
    days: float

    @property
    def mtl_m(self) -> float:
        """Mean tide level: half way from mean low to mean high water."""
        return (self.mhw_m + self.mlw_m) / 2

    @property
    def dtl_m(self) -> float:
        """Diurnal tide level: half way from MLLW to MHHW."""
        return (self.mhhw_m + self.mllw_m) / 2

    def by_name(self) -> dict[str, float]:
        """Metres above the record's zero by a datum's name."""
        return {
            "MHHW": self.mhhw_m, "MHW": self.mhw_m, "MTL": self.mtl_m, "MSL": self.msl_m, "MLW": self.mlw_m,
            "MLLW": self.mllw_m,
        }  # fmt: skip


@dataclass(frozen=True)
class SiteDatums:
    """Datums of a site, metres above its record's zero, by name; how found, and one standard deviation of each one's error."""

    above_zero_m: Mapping[str, float]
    method: str
    errors_m: Mapping[str, float]
    days: float

    def less_sure(self, further_m: float) -> SiteDatums:
        """With a further error of all, independent of the ones known."""
        return replace(self, errors_m={name: float(np.hypot(error, further_m)) for name, error in self.errors_m.items()})


def means_of(levels: Levels, tops: Tops) -> Means:
    """
    The means of a record.

    The higher high of a tidal day is the highest of the highs in it, the lower low the lowest of its lows; a day with one
    high or low counts it as such.
    """
    highs, lows = tops.only(tops.is_high), tops.only(~tops.is_high)
    return Means(
        mhhw_m=float(np.mean(_daily(highs, np.max))),
        mhw_m=float(np.mean(highs.level_m)),
        msl_m=float(np.mean(levels.level_m)),
        mlw_m=float(np.mean(lows.level_m)),
        mllw_m=float(np.mean(_daily(lows, np.min))),
        days=levels.days,
    )


def _daily(tops: Tops, of: object) -> list[float]:
    """
    One level a tidal day.

    Days are counted along the highs (or lows) themselves: one within `SAME_DAY_PART` of a tidal day of the day's first belongs to it.
    """
    found: list[list[float]] = []
    begins = -np.inf
    for at, level in zip(tops.t_s, tops.level_m, strict=True):
        if at - begins > SAME_DAY_PART * TIDAL_DAY_S + 1:
            found.append([])
            begins = at
        found[-1].append(float(level))
    whole = found if len(found) < 3 else _whole_days(found)
    return [float(of(day)) for day in whole]  # type: ignore[operator]


def _whole_days(days: list[list[float]]) -> list[list[float]]:
    """Without a last day that the record cut in two, where days usually have two."""
    usual = round(float(np.median([len(day) for day in days])))
    return days[:-1] if len(days[-1]) < usual else days


def by_comparison(
    site: Means, control: Means, accepted_m: Mapping[str, float], method: Method, parts: Sequence[tuple[Means, Means]] = ()
) -> SiteDatums:
    """
    The site's datums as the long-term ones of a control station say.

    Args:
        site, control: means over the same days.
        accepted_m: the control's accepted datums above the zero of its means: MHHW, MHW, MTL or (MHW and MLW), MSL, MLW, MLLW.
        method: "modified range ratio" for the East and Gulf coasts and the Caribbean, "standard" for the Pacific.
        parts: the same means of equal parts of those days, to see how each datum scatters; three or more count.

    Returns:
        Metres above the site's zero. A datum's error is the table's, or what its parts scatter by where that is more.
    """
    table = expected_error_m(site.days)
    errors = dict.fromkeys(DATUMS, table)
    if len(parts) >= LEAST_PARTS:
        of_parts = [_compared(one, other, accepted_m, method) for one, other in parts]
        for name in DATUMS:
            scatter = float(np.std([found[name] for found in of_parts], ddof=1)) / np.sqrt(len(parts))
            errors[name] = max(table, float(scatter))
    return SiteDatums(_compared(site, control, accepted_m, method), f"{method} with the control station", errors, site.days)


def _compared(site: Means, control: Means, accepted_m: Mapping[str, float], method: Method) -> dict[str, float]:
    """Differences for MTL, DTL and MSL; ratios for the ranges and, in the standard method, the diurnal inequalities."""
    long = accepted_m
    long_mtl, long_dtl = (long["MHW"] + long["MLW"]) / 2, (long["MHHW"] + long["MLLW"]) / 2
    mtl = long_mtl + site.mtl_m - control.mtl_m
    msl = long["MSL"] + site.msl_m - control.msl_m
    mean_range = (long["MHW"] - long["MLW"]) * (site.mhw_m - site.mlw_m) / (control.mhw_m - control.mlw_m)
    mlw = mtl - mean_range / 2
    mhw = mlw + mean_range
    if method == "standard":
        dhq = (long["MHHW"] - long["MHW"]) * _ratio(site.mhhw_m - site.mhw_m, control.mhhw_m - control.mhw_m)
        dlq = (long["MLW"] - long["MLLW"]) * _ratio(site.mlw_m - site.mllw_m, control.mlw_m - control.mllw_m)
        mhhw, mllw = mhw + dhq, mlw - dlq
    else:
        dtl = long_dtl + site.dtl_m - control.dtl_m
        great = (long["MHHW"] - long["MLLW"]) * (site.mhhw_m - site.mllw_m) / (control.mhhw_m - control.mllw_m)
        mllw = dtl - great / 2
        mhhw = mllw + great
    return {"MHHW": mhhw, "MHW": mhw, "MTL": mtl, "MSL": msl, "MLW": mlw, "MLLW": mllw}


def alone(site: Means) -> SiteDatums:
    """The record's own means; without a control one month's MLLW is off by 1 to 20 cm (the error told is 10 cm a month)."""
    months = max(site.days / 30, 0.5)
    errors = dict.fromkeys(DATUMS, 0.10 / float(np.sqrt(months)))
    return SiteDatums(site.by_name(), "means of the record alone, without a control station", errors, site.days)


def expected_error_m(days: float) -> float:
    """One standard deviation to expect of a datum by comparison, between the table's months; more below one month."""
    months = sorted(EXPECTED_ERROR_M)
    found = float(np.interp(days / 30.4, months, [EXPECTED_ERROR_M[month] for month in months]))
    return found if days >= 30.4 else found * float(np.sqrt(30.4 / max(days, 1)))


def method_of(lat_deg: float, lon_deg: float) -> Method:
    """The method that the handbook uses on a coast: the Pacific's west of 100° W (and of the date line), else the East's."""
    in_pacific = lon_deg < -100 or lon_deg > 130 or (lon_deg < -92 and lat_deg < 18)
    return "standard" if in_pacific else "modified range ratio"


def _ratio(site_m: float, control_m: float) -> float:
    """A ratio of inequalities; one under a centimetre says nothing and is taken as the control's own."""
    return 1.0 if abs(control_m) < 0.01 else site_m / control_m
