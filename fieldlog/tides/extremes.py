"""Which highs and lows a published table lists."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fieldlog.tides.trace import TurningPoints

_CLOSE_MIN = 120
_CLOSE_M = 0.03048


@dataclass(frozen=True)
class Extreme:
    """A high or a low: when (UTC), metres above the station's chart datum, and kind "high" or "low"."""

    at_utc: datetime
    level_m: float
    kind: str


def listed(points: TurningPoints) -> np.ndarray:
    """
    Indexes of the turning points that stay in a list of highs and lows.

    Scanning in time, a high and the next low (or a low and the next high) less than two hours, in whole minutes,
    and less than 0.1 ft apart are both dropped: the rule of the agency's tables, where such a pair is a wiggle of the
    stand of the tide (test_published holds that none is missing and none is extra).
    """
    minute = np.round(points.t_s / 60).tolist()
    before_m, after_m = points.before_m.tolist(), points.level_m.tolist()
    kept, at, last = [], 0, len(minute) - 1
    while at <= last:
        is_pair = (
            at < last
            and abs(minute[at + 1] - minute[at]) < _CLOSE_MIN
            and abs(before_m[at + 1] - after_m[at]) < _CLOSE_M
        )
        if is_pair:
            at += 2
        else:
            kept.append(at)
            at += 1
    return np.array(kept, dtype=int)
