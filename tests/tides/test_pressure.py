"""Density and depth against published values."""

from __future__ import annotations

import numpy as np
import pytest

from fieldlog.tides.pressure import air_at, depth_m, seawater_density_kg_m3


@pytest.mark.parametrize(
    ("salinity", "temperature", "density"),
    [(35, 5, 1027.67547), (35, 25, 1023.34306), (0, 5, 999.96675), (0, 25, 997.04796)],
)
def test_density_is_that_of_the_published_check_values(salinity: float, temperature: float, density: float) -> None:
    """UNESCO Technical Papers in Marine Science 44 (1983), check values of the equation of state at the surface."""
    assert seawater_density_kg_m3(salinity, temperature) == pytest.approx(density, abs=1e-5)


def test_ten_kilopascals_over_the_air_are_a_metre_of_water() -> None:
    density = seawater_density_kg_m3(28, 20)
    assert depth_m(np.array([111.325]), 101.325, density)[0] == pytest.approx(10_000 / (1019.43289 * 9.80665))


def test_air_is_read_between_a_barometers_readings_and_not_guessed_across_a_gap() -> None:
    hours = np.array([0.0, 1, 2, 8, 9]) * 3600
    air = air_at(np.array([0.5, 1.5, 5, 8.5, 20]) * 3600, hours, np.array([100.0, 101, 102, 101, 101]))
    assert air[:2] == pytest.approx([100.5, 101.5])
    assert np.isnan(air[[2, 4]]).all()
    assert air[3] == pytest.approx(101)
