"""What is missing, alike, too little or wrong in plots, frames, series of levels, dates and methods: why is said, or numbers are numbers."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from fieldlog.outcomes import (
    agreement,
    before_after,
    cover,
    density,
    diversity,
    flooding,
    joining,
    profiles,
    shoreline,
    sizes,
    trends,
)
from fieldlog.outcomes.criteria import Criterion, Direction, Word, no_change, verdict
from fieldlog.outcomes.leveling import Setup, level_run
from fieldlog.outcomes.more_visits import more_visits
from fieldlog.outcomes.results import Caveat, Why
from tests.outcomes.cases import YEAR_DAYS, as_json, why

NAN = float("nan")


def test_cover_counts_what_was_read_and_says_a_bound_where_plots_are_alike() -> None:
    found = cover.zone_cover([5, None, 10, NAN, 20, 0], [50] * 6, list("ABCDEF"))
    assert [note.name for note in found.left_out] == ["B", "D"]
    assert why(cover.zone_cover([5, 6], [50, 50])) is Why.TOO_FEW_PLOTS
    assert why(cover.zone_cover([], [])) is Why.TOO_FEW_PLOTS
    full = cover.zone_cover([50] * 5, [50] * 5)
    assert isinstance(full, cover.AllAlike)
    assert full.share == 1
    assert why(cover.zone_cover_by_percent([20, 20, 20])) is Why.NO_SPREAD
    alike = cover.zone_cover([10, 10, 10], [50] * 3)
    assert alike.low < 0.2 < alike.high, "points still say how sure it is"
    for wrong in (lambda: cover.zone_cover([51], [50]), lambda: cover.plot_cover(1, 0), lambda: cover.zone_cover_by_percent([101])):
        with pytest.raises(ValueError, match="0"):
            wrong()


def test_animals_that_were_not_counted_are_not_zero() -> None:
    assert density.density([None, 3, 5], 0.25).frames == 2
    assert why(density.density([], 0.25)) is Why.TOO_FEW_FRAMES
    alike = density.density([4, 4], 1)
    assert alike.low_per_m2 < 4 < alike.high_per_m2, "equal counts are not sure"
    assert why(density.faces_ratio([0, 0, 0], [1, 2, 3])) is Why.NONE_SEEN
    assert why(density.faces_ratio([1, 2, 3], [0, 0, 0])) is Why.NONE_IN_THE_OTHER
    assert why(density.faces_ratio([1, 2, None], [1, 2, 3])) is Why.TOO_FEW_UNITS
    assert why(density.faces_ratio([1, 2, 3], [2, 4, 6])) is Why.NO_SPREAD
    assert why(density.more_frames([0, 0, 0])) is Why.NONE_SEEN
    assert why(density.more_frames([2])) is Why.TOO_FEW_FRAMES
    for wrong in (lambda: density.density([1], 0), lambda: density.density([-1], 1), lambda: density.more_frames([1, 2], 0)):
        with pytest.raises(ValueError, match="0"):
            wrong()


def test_sizes_and_species_say_what_they_lack() -> None:
    assert why(sizes.sizes([])) is Why.NONE_SEEN
    assert why(sizes.mean_size({"F1": [10], "F2": [], "F3": [12, 13]})) is Why.TOO_FEW_FRAMES
    assert why(sizes.size_share({name: [90.0] for name in "ABCD"}, "spat")) is Why.NO_SPREAD
    few = sizes.size_share({"A": [10, 90], "B": [80, 90, 90], "C": [90], "D": [95, 99]}, "spat")
    assert few.low == 0
    assert why(diversity.diversity([])) is Why.NONE_SEEN
    assert diversity.diversity([None, 3, 0]).listed == 2
    assert why(diversity.rarefied_species([3, 2], 9)) is Why.TOO_FEW_ANIMALS
    with pytest.raises(ValueError, match="whole"):
        diversity.diversity([1.5])


def test_flooding_counts_no_gap_as_dry_or_wet() -> None:
    hours = [float(hour) for hour in range(24 * 30)]
    tide = [float(np.cos(2 * np.pi * hour / 12.42)) for hour in hours]
    found = flooding.flooding(hours, tide, 0.2, 0.05)
    assert found.share_if_higher < found.share < found.share_if_lower
    assert found.caveats == (Caveat.PREDICTED_WITHOUT_WEATHER, Caveat.SHORT_SPAN)
    gap = flooding.flooding(hours, [None if 100 < hour < 120 else level for hour, level in zip(hours, tide, strict=True)], 0.2, least_days=10)
    assert abs(gap.share - found.share) < 0.01
    assert why(flooding.flooding(hours[:200], tide[:200], 0.2)) is Why.TOO_FEW_DAYS
    assert why(flooding.flooding([], [], 0.2)) is Why.TOO_FEW_DAYS
    assert why(flooding.flooding(hours, [NAN] * len(hours), 0.2, least_days=0)) is Why.TOO_FEW_DAYS
    assert flooding.flooding(hours, tide, 5).hours_a_flood is None
    with pytest.raises(ValueError, match="grow"):
        flooding.flooding([1, 1], [0, 0], 0)


def test_profiles_say_what_they_share() -> None:
    assert why(profiles.profile_change([0, 5], [1, 0.9], [6, 9], [1, 0.9])) is Why.NO_COMMON_REACH
    assert why(profiles.profile_change([0, 5], [1, None], [0, 5], [1, 2])) is Why.TOO_FEW_STATIONS
    with pytest.raises(ValueError, match="station"):
        profiles.profile_change([0, 0, 5], [1, 1, 1], [0, 5], [1, 1])
    turned = profiles.profile_change([20, 10, 0], [0, 0, 0], [0, 10, 20], [0.1, -0.1, 0.1])
    assert turned.crossings_m == (5, 15)
    touching = profiles.profile_change([0, 10, 20], [0, 0, 0], [0, 10, 20], [0.1, 0, -0.1])
    assert (touching.gain_m2, touching.loss_m2, touching.crossings_m) == (0.5, 0.5, (10,))
    assert why(profiles.reach_volume([2, None, 3], 80)) is Why.TOO_FEW_TRANSECTS
    assert why(profiles.end_area_volume([0], [1], [0])) is Why.TOO_FEW_TRANSECTS
    with pytest.raises(ValueError, match="setup"):
        level_run(2, [])
    with pytest.raises(ValueError, match="numbers"):
        level_run(2, [Setup(1, NAN, "BM", 10)])


def test_dates_before_and_after_need_three_each() -> None:
    assert why(before_after.before_after([1, 2, 3], [0, 0, 0], [5, None, 6], [1, 1, 1])) is Why.TOO_FEW_DATES_AFTER
    assert why(before_after.before_after([1, 1, 1], [0, 0, 0], [5, 5, 5], [1, 1, 1])) is Why.NO_SPREAD
    assert why(before_after.before_after_unpaired([], [], [], [])) is Why.TOO_FEW_DATES_BEFORE
    remembers = before_after.before_after([1, 2, 3, 4, 5, 6], [0] * 6, [21, 22, 23, 24, 25, 26], [0] * 6)
    assert remembers.lag1 > 0.4
    with pytest.raises(ValueError, match="pair"):
        before_after.before_after([1], [], [], [])


def test_methods_are_joined_only_where_they_measure_the_same() -> None:
    def rate(name: str, **more: Any) -> joining.MeasuredRate:
        usual = {"quantity": joining.SURFACE, "zone": "reef", "first_day": 0, "last_day": 700, "rate_mm_y": 8.0, "se_mm_y": 1.0, "df": 5, "replicates": 6}
        return joining.MeasuredRate(name, **{**usual, **more})

    others = [rate("zone", zone="control"), rate("span", last_day=800), rate("few", replicates=2), rate("horizon", quantity=joining.ACCRETION)]
    found = joining.join([rate("stakes"), rate("levels", rate_mm_y=9.0), *others])
    assert [note.why for note in found.left_out] == [Why.OTHER_ZONE, Why.OTHER_SPAN, Why.TOO_FEW_REPLICATES, Why.OTHER_QUANTITY]
    assert why(joining.join([])) is Why.TOO_FEW_METHODS
    assert why(joining.over_programs([9, 8])) is Why.TOO_FEW_PROGRAMS
    assert why(joining.random_effects([9, 8, NAN], [1, 1, 1])) is Why.TOO_FEW_PROGRAMS
    as_json(joining.over_programs([9, 8, 4]))


def test_a_verdict_without_an_interval_cannot_tell() -> None:
    criterion = Criterion(Direction.AT_LEAST, 5, date(2028, 10, 31), date(2026, 1, 1))
    assert verdict(criterion, NAN, 3, date(2027, 1, 1)).word is Word.CANNOT_TELL
    assert verdict(criterion, -1, 4, date(2028, 10, 31)).word is Word.NOT_MET, "the due date itself is no longer before it"
    assert not no_change(0.5, 1, 9, within=0.1).is_within
    with pytest.raises(ValueError, match="above 0"):
        more_visits(9, 5, 0, 4, 6)


def test_observers_who_agree_all_over_get_a_share() -> None:
    found = agreement.agreement([[12, 0], [0, 12]])
    assert found.why is Why.ALL_AGREED
    assert found.low < found.share == 1
    assert why(agreement.agreement([[0, 0], [0, 0]])) is Why.TOO_FEW_PAIRS
    assert agreement.agreement_of_pairs([0, 1, 2] * 9, [0, 1, 1] * 9, 3).pairs == 27
    for wrong in (lambda: agreement.agreement([[1, 2]]), lambda: agreement.agreement_of_pairs([3], [0], 3)):
        with pytest.raises(ValueError, match="need"):
            wrong()


def test_a_reach_leaves_nothing_at_one_reading_that_is_missing() -> None:
    days = [0.0, 200, 400, 600, 800]
    lines = [[12 + 0.4 * day / YEAR_DAYS + 0.01 * (place * day % 7) + place for day in days] for place in range(4)]
    whole = shoreline.reach_rate(days, lines)
    lines[3][4] = None
    found = shoreline.reach_rate(days, lines)
    assert found.transects == 4
    assert abs(found.rate_m_y - whole.rate_m_y) < 0.05
    assert why(shoreline.reach_rate(days, lines[:2])) is Why.TOO_FEW_TRANSECTS
    assert why(shoreline.reach_rate([], [])) is Why.TOO_FEW_TRANSECTS
    assert why(shoreline.weighted_shore_rate(days, lines[0], [0, None, 0.5, 0.5, 0.5])) is Why.TOO_FEW_SURVEYS
    assert why(trends.slopes_over_plots(days, {"A": [1, 2, None, None, None]})) is Why.TOO_FEW_PLOTS
    assert trends.memory([1, 2, 3]) is None
