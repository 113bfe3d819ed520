"""Faults put into a made record are found, told and taken out; a record without faults is left alone."""

from __future__ import annotations

import numpy as np
import pytest
from made import BEGIN, tide_of, times, weather

from fieldlog.stations import find
from fieldlog.tides.beside_tide import Lags, clock_faults, examine
from fieldlog.tides.moves import moves
from fieldlog.tides.record import Levels, in_order

DAYS = 120
TIDE = tide_of(find("noaa/8670870"), BEGIN, DAYS)
T = times(BEGIN, DAYS)


def level(t: np.ndarray = T, seed: int = 2) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return TIDE(t) + weather(len(t), 360.0, 0.06, rng) + rng.normal(0, 0.003, len(t))


def found(t: np.ndarray, z: np.ndarray) -> tuple[Levels, dict[str, list]]:
    levels, faults = in_order(t, z)
    clear, more = examine(levels, TIDE)
    by_word: dict[str, list] = {}
    for fault in faults + more:
        by_word.setdefault(fault.word, []).append(fault)
    return clear, by_word


@pytest.mark.parametrize("seed", [2, 3, 4, 5])
def test_a_sound_record_is_left_alone(seed: int) -> None:
    clear, faults = found(T, level(seed=seed))
    assert faults == {}
    assert len(clear.t_s) == len(T)


@pytest.mark.parametrize("floor_m", [-0.1, 0.1, 0.3])
def test_a_logger_that_fell_dry_is_told_and_its_flat_lows_go(floor_m: float) -> None:
    z = level()
    dry = z < floor_m
    clear, faults = found(T, np.maximum(z, floor_m + np.random.default_rng(1).normal(0, 0.002, len(T))))
    assert faults["dry"][0].count > 3
    assert faults["dry"][0].size == pytest.approx(floor_m, abs=0.01)
    gone = ~np.isin(T, clear.t_s)
    assert (gone & dry).sum() > 0.8 * dry.sum()
    assert (gone & (z > floor_m + 0.03)).sum() == 0


@pytest.mark.parametrize("step_m", [0.22, -0.3])
def test_a_moved_logger_is_told_with_when_and_how_far(step_m: float) -> None:
    z = level()
    z[20_000:] += step_m
    _, faults = found(T, z)
    (moved,) = faults["moved"]
    assert abs(moved.from_s - T[20_000]) < 7200
    assert moved.size == pytest.approx(step_m, abs=0.08)


def test_a_logger_that_was_moved_twice_is_told_twice() -> None:
    t = times(BEGIN, 60)
    left = 0.5 * (t >= t[0] + 10 * 86_400) - 0.9 * (t >= t[0] + 40 * 86_400)
    found = moves(Levels(t, left), np.zeros(len(t)))
    assert [one.size for one in found] == pytest.approx([0.5, -0.9])
    assert [(one.to_s - t[0]) / 86_400 for one in found] == pytest.approx([10, 40], abs=0.05)


def test_a_handful_of_levels_says_nothing_of_a_move() -> None:
    t = times(BEGIN, 0.2)
    assert moves(Levels(t, np.linspace(0, 9, len(t))), np.zeros(len(t))) == []


def test_spikes_are_told_and_go_and_nothing_else_does() -> None:
    z = level()
    z[[100, 5000, 20_000]] += [1.0, -0.8, 3.0]
    clear, faults = found(T, z)
    assert faults["spike"][0].count == 3
    assert faults["spike"][0].size == pytest.approx(3, abs=0.1)
    assert sorted(np.flatnonzero(~np.isin(T, clear.t_s)).tolist()) == [100, 5000, 20_000]


@pytest.mark.parametrize("hour", [0, 1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("port", ["noaa/9455920", "noaa/8443970", "noaa/9447130", "noaa/8729840", "kartverket/BGO"])
def test_a_sound_record_of_any_port_is_left_alone_wherever_it_begins(port: str, hour: int) -> None:
    """A steep tide at the record's ends is no spike: Anchorage's rises by half a metre in six minutes."""
    tide = tide_of(find(port).harmonic, BEGIN, 30)
    t = times(BEGIN, 28)[hour * 10 :]
    clear, faults = examine(Levels(t, tide(t) + weather(len(t), 360.0, 0.05, np.random.default_rng(hour))), tide)
    assert (len(clear.t_s), [fault.word for fault in faults]) == (len(t), [])


def test_a_wild_first_or_last_level_is_a_spike_too() -> None:
    z = level()
    z[0], z[-1] = -9999.0, 50.0
    clear, faults = found(T, z)
    assert (faults["spike"][0].count, set(faults)) == (2, {"spike"})
    assert len(clear.t_s) == len(T) - 2


def air() -> np.ndarray:
    """A barometer's day by day, as water: 0.1 m of it, no tide."""
    return weather(len(T), 360.0, 0.1, np.random.default_rng(5)) + 10.3


@pytest.mark.parametrize("hours", [-12, -9, -6, -5, -3, 3, 4, 5, 6, 9, 12])
def test_a_tide_hours_off_is_told_as_a_wrong_zone_would_be(hours: int) -> None:
    _, faults = found(T, level(T - 3600 * hours))
    assert set(faults) == {"late"}
    assert faults["late"][0].size == pytest.approx(60 * hours, abs=1)
    if abs(hours) < 12:
        _, faults = found(T[:1200], level(T - 3600 * hours)[:1200])
        assert set(faults) == {"late"}, "of five days too, but where the tide before fits as well"


@pytest.mark.parametrize("hours", [-2, 0, 2])
@pytest.mark.parametrize("port", ["noaa/8670870", "noaa/8443970", "noaa/9447130"])
def test_a_distance_down_to_the_water_is_told_as_one(port: str, hours: int) -> None:
    """Where two tides a day are not quite alike; one tide a day turned over is one half a day late."""
    tide = tide_of(find(port), BEGIN, 30)
    t = times(BEGIN, 29)
    _, faults = examine(Levels(t, 5 - tide(t - 3600 * hours) + weather(len(t), 360.0, 0.05, np.random.default_rng(2))), tide)
    assert "upside-down" in [fault.word for fault in faults]


@pytest.mark.parametrize(
    ("z", "word", "size"),
    [
        (air(), "not-the-tide", 0.0),
        (np.full(len(T), 1.5), "not-the-tide", 0.0),
        (level() * 100, "too-large", 75.0),
        (level() * 3.28, "range", 3.28),
        (level() / 3.28, "range", 0.305),
        (level() + weather(len(T), 360.0, 0.9, np.random.default_rng(6)), "weak", 0.4),
    ],
)
def test_what_does_not_move_as_the_tide_does_is_told(z: np.ndarray, word: str, size: float) -> None:
    _, faults = found(T, z)
    assert set(faults) & {"not-the-tide", "too-large", "range", "weak"} == {word}
    assert faults[word][0].size == pytest.approx(size, abs=0.05 if size < 1 else 0.1 * size)


def test_a_gap_is_told_with_its_hours() -> None:
    keep = np.ones(len(T), bool)
    keep[1000:3000] = False
    _, faults = found(T[keep], level()[keep])
    (gap,) = faults["gap"]
    assert gap.size == pytest.approx(200.1)
    assert gap.from_s == T[999]


def test_a_drifting_clock_is_told_with_its_minutes() -> None:
    shifted = T - (T - T[0]) / (T[-1] - T[0]) * 15 * 60
    _, faults = found(T, TIDE(shifted) + weather(len(T), 360.0, 0.04, np.random.default_rng(3)))
    assert faults["drift"][0].size == pytest.approx(15, abs=2)
    assert "moved" not in faults


@pytest.mark.parametrize("hours", [1, -1])
@pytest.mark.parametrize("place", [2_000, 14_000, 15_100, 26_500])
def test_an_hour_of_summer_time_is_told_as_a_jump_with_when_it_was(place: int, hours: int) -> None:
    _, faults = found(T, TIDE(T - 3600 * hours * (np.arange(len(T)) > place)) + weather(len(T), 360.0, 0.04, np.random.default_rng(3)))
    assert faults["clock-jump"][0].size == pytest.approx(60 * hours, abs=3)
    assert abs(faults["clock-jump"][0].from_s - T[place]) < 6 * 3600
    assert set(faults) <= {"clock-jump", "spike"}  # the one level read twice at the jump may stand alone


@pytest.mark.parametrize("minutes", [30, -30])
def test_a_clock_that_jumps_by_half_an_hour_is_told_as_a_jump_and_no_drift(minutes: int) -> None:
    """Summer time is half an hour on Lord Howe Island."""
    _, faults = found(T, TIDE(T - 60 * minutes * (np.arange(len(T)) > 14_000)) + weather(len(T), 360.0, 0.04, np.random.default_rng(3)))
    assert faults["clock-jump"][0].size == pytest.approx(minutes, abs=3)
    assert "drift" not in faults


@pytest.mark.parametrize(("minutes", "words"), [(19, ["drift"]), (20, ["clock-jump"])])
def test_a_clock_jumps_from_twenty_minutes_on(minutes: int, words: list[str]) -> None:
    """Less within a week may be weather's own doing; the lags of ten weeks are given, the record follows the tide."""
    week_s = 7 * 86_400
    late = Lags(T[0] + week_s * (np.arange(10) + 0.5), np.where(np.arange(10) < 5, 0.0, minutes))
    assert [one.word for one in clock_faults(Levels(T, TIDE(T)), TIDE, late)] == words


def test_doubled_and_disordered_times_are_told_and_each_time_counts_once() -> None:
    z = level()
    t, doubled = np.concatenate([T[500:], T[:500], T[:10]]), np.concatenate([z[500:], z[:500], z[:10]])
    clear, faults = found(t, doubled)
    assert faults["doubled"][0].count == 10
    assert faults["out-of-order"][0].count == 2
    assert np.array_equal(clear.t_s, T)
