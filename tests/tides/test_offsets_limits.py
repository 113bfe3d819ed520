"""The curve of a station by offsets between a high and a low that are nearly as high, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fieldlog.tides.offsets import warped
from fieldlog.tides.station import Offsets
from fieldlog.tides.trace import Trace, TurningPoints


@pytest.mark.parametrize(("rise_m", "is_stretched"), [(0.0095, False), (0.0105, True), (-0.0095, False), (-0.0105, True)])
def test_a_rise_under_a_centimetre_is_not_stretched(rise_m: float, is_stretched: bool) -> None:
    """
    Turning points six hours apart, highs a metre higher here: half of the reference's rise is behind it after a quarter of the
    time. Stretched that is half of the way here too; the plain S-curve has 3/16 - 2/64 = 5/32 of its own behind it.
    """
    is_high = np.array([False, True]) if rise_m > 0 else np.array([True, False])
    t_s, level_m = np.array([0.0, 1.5, 6.0]) * 3600, np.array([1.0, 1.0 + rise_m / 2, 1.0 + rise_m])
    points = TurningPoints(t_s[[0, 2]], level_m[[0, 2]], level_m[[0, 2]], is_high, np.array([0, 2]))
    own, listed = warped(Trace(t_s, level_m, np.zeros(3)), points, Offsets(0.0, 0.0, plus_high_m=1.0))
    first, last = listed.level_m
    assert own.level_m[[0, 2]].tolist() == pytest.approx([first, last])
    assert (own.level_m[1] - first) / (last - first) == pytest.approx(1 / 2 if is_stretched else 5 / 32)
