"""From a logger's pressure to the depth of water over it."""

from __future__ import annotations

import numpy as np

GRAVITY_M_PER_S2 = 9.80665
STANDARD_AIR_KPA = 101.325

_WATER = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
_SALT = (0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
_SALT_ROOT = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
_SALT_SQUARE = 4.8314e-4


def seawater_density_kg_m3(salinity_psu: float, temperature_c: float) -> float:
    """
    Density of seawater at the surface, kg/m3, for 0 to 42 psu and -2 to 40 °C.

    Source: the International Equation of State of Seawater 1980 (EOS-80), UNESCO Technical Papers in Marine Science 44, 1983.
    """
    s, t = salinity_psu, temperature_c

    def of_t(coefficients: tuple[float, ...]) -> float:
        return float(sum(c * t**power for power, c in enumerate(coefficients)))

    return float(of_t(_WATER) + of_t(_SALT) * s + of_t(_SALT_ROOT) * s**1.5 + _SALT_SQUARE * s * s)


def depth_m(pressure_kpa: np.ndarray, air_kpa: np.ndarray | float, density_kg_m3: float) -> np.ndarray:
    """
    Depth of water over a sensor that reads absolute pressure.

    Args:
        pressure_kpa: absolute pressure at the sensor, shape (n,).
        air_kpa: pressure of the air at the same times, shape (n,), or one value.
        density_kg_m3: of the water over the sensor; 1 kg/m3 is 1 mm in a metre.

    Returns:
        Depths, shape (n,), metres; a little under zero where the sensor lies dry.
    """
    depth: np.ndarray = (pressure_kpa - air_kpa) * 1000 / (density_kg_m3 * GRAVITY_M_PER_S2)
    return depth


def air_at(t_s: np.ndarray, air_t_s: np.ndarray, air_kpa: np.ndarray, longest_gap_s: float = 3 * 3600) -> np.ndarray:
    """
    Air pressure at a logger's times, between the readings of a barometer.

    Args:
        t_s: the logger's times, seconds, shape (n,).
        air_t_s, air_kpa: the barometer's, rising in time, shape (m,).
        longest_gap_s: air is not guessed across longer gaps, nor this far beyond its ends.

    Returns:
        Shape (n,), kPa; NaN where the barometer says nothing.
    """
    found = np.interp(t_s, air_t_s, air_kpa)
    after = np.clip(np.searchsorted(air_t_s, t_s), 1, len(air_t_s) - 1)
    nearest = np.minimum(np.abs(air_t_s[after] - t_s), np.abs(air_t_s[after - 1] - t_s))
    inside = (t_s >= air_t_s[0]) & (t_s <= air_t_s[-1])
    is_far = np.where(inside, air_t_s[after] - air_t_s[after - 1] > longest_gap_s, nearest > longest_gap_s)
    return np.where(is_far & (nearest > 60), np.nan, found)
