"""Speeds and names of constituents against SP98's Table 2 and the agency's own list of speeds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fieldlog.tides.astronomy import speed_deg_per_h
from fieldlog.tides.constituents import NOT_VERIFIED, SIMPLE, known_name, parts_of

DATA = Path(__file__).parents[1] / "data" / "tides"
SP98 = json.loads((DATA / "sp98_tables.json").read_text("utf-8"))["table2_2a_speed_deg_per_h"]
NOAA = json.loads((DATA / "noaa_speeds.json").read_text("utf-8"))["noaa_speeds_deg_per_h"]


@pytest.mark.parametrize("name", SP98)
def test_speed_is_that_of_table_2(name: str) -> None:
    assert speed_deg_per_h(name) == pytest.approx(SP98[name], abs=1e-6)


@pytest.mark.parametrize("given", NOAA)
def test_speed_is_that_of_the_agencys_list(given: str) -> None:
    """All 120 that NOAA predicts with; the list rounds speeds over 43 degrees to four or five decimals."""
    name = known_name(given)
    assert name is not None, f"{given} is not known"
    if name not in NOT_VERIFIED:
        assert speed_deg_per_h(name) == pytest.approx(NOAA[given], abs=2e-5)


@pytest.mark.parametrize(("alias", "name"), [("LAMBDA2", "LAM2"), ("LDA2", "LAM2"), ("RHO1", "RHO"), ("SGM", "SIGMA1")])
def test_other_spellings_are_the_same_constituent(alias: str, name: str) -> None:
    assert known_name(alias) == name


def test_an_unknown_name_is_said_to_be_unknown() -> None:
    assert known_name("ZZ9") is None


def test_a_compound_is_made_of_simple_ones() -> None:
    assert parts_of("MS4") == {"M2": 1, "S2": 1}
    assert parts_of("2MK3") == {"M2": 2, "K1": -1}
    for given in NOAA:
        name = known_name(given)
        if name not in NOT_VERIFIED:
            assert set(parts_of(name)) <= set(SIMPLE)


SHALLOW = {"MO3": 42.9271398, "SO3": 43.9430356, "SK3": 45.0410686, "MK4": 59.0662415, "SN4": 58.4397295, "MSN2": 30.5443747}
"""Degrees an hour, from memory of the International Hydrographic Organization's list of constituents."""


@pytest.mark.parametrize("name", SHALLOW)
def test_speed_of_a_shallow_water_constituent_is_that_of_the_hydrographers_list(name: str) -> None:
    assert speed_deg_per_h(name) == pytest.approx(SHALLOW[name], abs=1e-6)
