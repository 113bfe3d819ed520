"""A place that was typed or came from a receiver: the weighted mean of what was given, no surer than the best of it."""

from __future__ import annotations

import pytest

from fieldlog.survey.epoch import given


def test_places_are_weighed_by_how_sure_they_are_and_readings_of_one_receiver_do_not_make_it_surer() -> None:
    epoch = given("typed", [(10.0, 20.0, 0.1), (10.3, 20.6, 0.2)])
    assert (epoch.east_m, epoch.north_m) == pytest.approx((10.06, 20.12))
    assert epoch.sigma_m == 0.1
