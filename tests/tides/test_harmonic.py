"""
A site's own constants against ones that are known: NOAA's, put into records with noise and gaps, and NOAA's own tables.

Source of the constants and of the hourly heights: National Oceanic and Atmospheric Administration, Center for Operational
Oceanographic Products and Services (US Government work, public domain); each file in tests/data/tides says where it was seen.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from made import tide_of, times

from fieldlog.errors import RecordTooShort
from fieldlog.stations import find
from fieldlog.tides.evenly import averaging_response, hourly
from fieldlog.tides.harmonic import REFERENCE, Constants, fit_constants
from fieldlog.tides.parting import RATIOS, days_to_part, parted
from fieldlog.tides.predict import predict_levels
from fieldlog.tides.station import Station

DATA = Path(__file__).parents[1] / "data" / "tides"
BEGIN = datetime(2026, 1, 10, tzinfo=UTC)


def constants_of(station: Station) -> dict[str, tuple[float, float]]:
    return {name: (height, lag) for name, height, lag in station.constituents}


def with_gaps(t: np.ndarray, *gaps_days: tuple[float, float]) -> np.ndarray:
    days = (t - t[0]) / 86400
    return ~np.any([(days > start) & (days < end) for start, end in gaps_days], axis=0)


def inside(found: Constants, true: dict[str, tuple[float, float]]) -> list[bool]:
    """Whether each fitted constituent's amplitude and phase interval hold the truth, one after another."""
    verdicts = []
    for one in found.constituents:
        if one.inferred_from is None and one.name in true:
            height, lag = true[one.name]
            verdicts.append(abs(one.amplitude_m - height) <= one.amplitude_ci_m)
            verdicts.append(abs((one.phase_deg - lag + 180) % 360 - 180) <= one.phase_ci_deg)
    return verdicts


@pytest.mark.parametrize("number", [pytest.param("8410140", id="Eastport", marks=pytest.mark.long), pytest.param("8729840", id="Pensacola"),
                                    pytest.param("9447130", id="Seattle", marks=pytest.mark.long), pytest.param("8443970", id="Boston")])  # fmt: skip
def test_369_days_of_hourly_levels_with_noise_and_gaps_give_noaas_constants_back(number: str) -> None:
    station = find(f"noaa/{number}")
    true, verdicts = constants_of(station), []
    for seed in (1, 2, 3):
        t = times(BEGIN, 369, 3600)
        levels = predict_levels(station, t.astype("datetime64[s]")) + np.random.default_rng(seed).normal(0, 0.05, len(t))
        keep = with_gaps(t, (40, 47), (200, 203), (300, 301.3))
        verdicts += inside(fit_constants(t[keep], levels[keep], station.lat_deg), true)
    # Below half the noise's own share an amplitude cannot be under nought, so its interval is one-sided.
    assert np.mean(verdicts) >= 0.90


def test_without_noise_the_constants_come_back_to_a_tenth_of_a_millimetre() -> None:
    station = find("noaa/8410140")
    t = times(BEGIN, 369, 3600)
    true = constants_of(station)
    found = fit_constants(t, predict_levels(station, t.astype("datetime64[s]")), station.lat_deg)
    off = [abs(one.amplitude_m - true[one.name][0]) for one in found.constituents if one.name in true]
    assert len(off) >= 34
    assert max(off) < 0.0004
    assert found.left_m < 0.001


def test_six_minute_levels_say_the_same_as_hourly_ones() -> None:
    station = find("noaa/8443970")
    t = times(BEGIN, 200, 360)
    found = fit_constants(t, predict_levels(station, t.astype("datetime64[s]")), station.lat_deg)
    m2, m6 = (next(one for one in found.constituents if one.name == name) for name in ("M2", "M6"))
    assert m2.amplitude_m == pytest.approx(constants_of(station)["M2"][0], abs=0.002)
    assert m6.amplitude_m == pytest.approx(constants_of(station)["M6"][0], abs=0.001)


@pytest.mark.parametrize(
    ("number", "reference"), [("8410140", "noaa/8411060"), ("8729840", None)], ids=["Eastport beside Cutler", "Pensacola alone"]
)
def test_twenty_published_days_predict_the_other_ten_within_5_cm(number: str, reference: str | None) -> None:
    told = json.loads((DATA / f"noaa_{number}.json").read_text("utf-8"))
    level = np.array(told["hourly_mm_from_first_day_00utc"]) / 1000
    t = datetime.strptime(told["window_utc"][0], "%Y%m%d").replace(tzinfo=UTC).timestamp() + 3600.0 * np.arange(len(level))
    known = None if reference is None else constants_of(find(reference))
    found = fit_constants(t[:480], level[:480], 40.0, known)
    own = Station("own", "own", 0, 0, "harmonic", "own", "MSL", {}, found.used, None, None, "", "")
    seasonal = dict.fromkeys(("SA", "SSA")) if known else {}
    assert {one.name for one in found.constituents if one.inferred_from == REFERENCE} == set(seasonal)
    off = predict_levels(own, t[480:].astype("datetime64[s]")) + found.mean_level_m - level[480:]
    assert np.sqrt(np.mean(off**2)) <= 0.05


def test_what_thirty_days_cannot_part_is_told_with_the_days_it_needs() -> None:
    kept, short = parted(30.0)
    needs = {one.name: (one.beside, one.needs_days) for one in short}
    assert {"K2", "P1", "T2", "NU2", "S1", "SA", "SSA"} <= set(needs)
    assert needs["K2"] == ("S2", pytest.approx(182.6, abs=0.1))
    assert needs["P1"] == ("K1", pytest.approx(182.6, abs=0.1))
    assert needs["T2"] == ("S2", pytest.approx(365.3, abs=0.1))
    assert needs["NU2"][1] == pytest.approx(205.9, abs=0.1)
    assert {"M2", "S2", "N2", "K1", "O1", "M4"} <= set(kept) - set(needs)


def test_levels_two_hours_apart_do_not_tell_what_turns_faster() -> None:
    """S6, of four hours, would lie on every second level alike: its amplitude would be anything."""
    t = times(BEGIN, 40, 7200)
    found = fit_constants(t, tide_of(find("noaa/8443970"), BEGIN, 40)(t), 42.35)
    names = {one.name for one in found.constituents}
    assert {"M2", "S2", "K1", "M4"} <= names and not {"S6", "M6", "M8"} & names
    assert max(one.amplitude_m for one in found.constituents) < 2


def test_days_to_part_are_those_of_the_classic_pairs() -> None:
    """UNESCO, Manual on Sea Level Measurement and Interpretation I (IOC Manuals and Guides 14), 1985: M2 and S2 14.8 days,
    M2 and N2 27.6, S2 and K2 182.6; values from memory."""
    assert days_to_part("M2", "S2") == pytest.approx(14.77, abs=0.01)
    assert days_to_part("M2", "N2") == pytest.approx(27.55, abs=0.01)
    assert days_to_part("S2", "K2") == pytest.approx(182.62, abs=0.01)


def test_a_year_parts_the_yearly_wave_from_the_mean_level() -> None:
    kept, short = parted(365.0)
    assert "SA" in kept
    assert short == []


def test_equilibrium_ratios_are_near_those_of_noaas_own_constants() -> None:
    """SP98's ratios for inference, typed from memory, against the median over ports all round the United States."""
    ports = [constants_of(find(f"noaa/{n}")) for n in ("8443970", "8518750", "8670870", "8729840", "9414290", "9447130", "9410170")]
    for name in ("K2", "P1", "NU2", "Q1"):
        source, ratio = RATIOS[name]
        measured = [port[name][0] / port[source][0] for port in ports if port.get(source, (0, 0))[0] > 0.02 and name in port]
        assert np.median(measured) == pytest.approx(ratio, rel=0.2), name


def test_under_two_weeks_is_told_in_a_sentence() -> None:
    t = times(BEGIN, 13, 3600)
    with pytest.raises(RecordTooShort, match=r"13\.0 days; harmonic constants need 14 or more"):
        fit_constants(t, np.cos(t), 40.0)


def test_hourly_means_take_from_a_cosine_what_the_response_says() -> None:
    t = times(BEGIN, 20, 360)
    speed = 57.9682084
    at, mean, count = hourly(t, np.cos(np.radians(speed) * (t - t[0]) / 3600))
    assert count == 10
    expected = averaging_response(speed, 10) * np.cos(np.radians(speed) * (at - t[0]) / 3600)
    assert np.nanmax(np.abs(mean - expected)) < 0.002


def test_a_gap_stays_a_gap_in_hourly_means() -> None:
    t = times(BEGIN, 10, 360)
    keep = with_gaps(t, (3, 4))
    at, mean, _ = hourly(t[keep], np.ones(keep.sum()))
    assert 22 <= np.isnan(mean).sum() <= 26
    assert np.isclose(np.diff(at), 3600).all()


def test_tide_of_reaches_beyond_its_span() -> None:
    assert np.isfinite(tide_of(find("noaa/8443970"), BEGIN, 2)(np.array([BEGIN.timestamp() - 86400]))).all()


def test_a_fit_tells_its_steps_to_who_asks_and_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    """It runs in a child process whose output is its answer."""
    station, steps = find("noaa/8443970"), []
    t = times(BEGIN, 15, 3600)
    fit_constants(t, predict_levels(station, t.astype("datetime64[s]")), station.lat_deg, tell=steps.append)
    assert [step.rsplit(", ", 1)[1] for step in steps] == ["pass 1 of 2", "pass 2 of 2"]
    assert capfd.readouterr() == ("", "")
