"""
Longitudes of moon, sun and their perigees, and the node factors f and u.

Source: P. Schureman, Special Publication 98 (1940, reprinted 1958): Table 1 (longitudes and rates), formulas 65 to
79 (f), Table 2 (u), 201 to 207 (M1), 213 to 215 (L2), 223 to 235 (K1, K2). Held to the printed Tables 6, 14
and 15 in test_astronomy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.tides.constituents import SIMPLE, parts_of

_NOON_1899_DEC_31 = datetime(1899, 12, 31, 12, tzinfo=UTC)
_HOURS_A_CENTURY = 36525 * 24
_OBLIQUITY = math.radians(23 + 27 / 60 + 8.26 / 3600)
_MOON_ORBIT_INCLINATION = math.radians(5 + 8 / 60 + 43.3546 / 3600)

# Degrees, and degrees a Julian century to the first, second and third power.
_MOON = (270 + 26 / 60 + 14.72 / 3600, 1336 * 360 + 1108411.20 / 3600, 9.09 / 3600, 0.0068 / 3600)
_SUN = (279 + 41 / 60 + 48.04 / 3600, 129602768.13 / 3600, 1.089 / 3600, 0.0)
_PERIGEE = (334 + 19 / 60 + 40.87 / 3600, 11 * 360 + 392515.94 / 3600, -37.24 / 3600, -0.045 / 3600)
_NODE = (259 + 10 / 60 + 57.12 / 3600, -(5 * 360 + 482912.63 / 3600), 7.58 / 3600, 0.008 / 3600)
_SOLAR_PERIGEE = (281 + 13 / 60 + 15.0 / 3600, 6189.03 / 3600, 1.63 / 3600, 0.012 / 3600)
_LONGITUDES = np.array([_MOON, _SUN, _PERIGEE, _SOLAR_PERIGEE])

_RATES_DEG_PER_H = np.array([15.0, *(_LONGITUDES[:, 1] / _HOURS_A_CENTURY)])


@dataclass(frozen=True)
class Orbit:
    """Elements of the moon's orbit, in radians: I, nu, xi, nu', 2 nu'' and P (the perigee's mean longitude less xi)."""

    inclination: float
    nu: float
    xi: float
    nu_prime: float
    two_nu_second: float
    perigee: float


def longitudes_deg(at_utc: datetime) -> np.ndarray:
    """T, s, h, p, p1 at an instant, degrees, not reduced to a circle; T is 180 at 0 h UTC. Shape (5,)."""
    centuries = (at_utc - _NOON_1899_DEC_31).total_seconds() / 3600 / _HOURS_A_CENTURY
    hours = (at_utc - at_utc.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds() / 3600
    return np.array([180 + 15 * hours, *(_LONGITUDES @ (centuries ** np.arange(4)))])


def orbit_of_node(node: float, perigee: float = 0.0) -> Orbit:
    """The orbit for a longitude of the moon's node N and of its perigee p, both in radians."""
    omega, i = _OBLIQUITY, _MOON_ORBIT_INCLINATION
    inclination = math.acos(
        math.cos(i) * math.cos(omega) - math.sin(i) * math.sin(omega) * math.cos(node)
    )
    half_node = (node % (2 * math.pi)) / 2
    half_sum = _arctan_scaled(math.cos((omega - i) / 2) / math.cos((omega + i) / 2), half_node)
    half_difference = _arctan_scaled(math.sin((omega - i) / 2) / math.sin((omega + i) / 2), half_node)
    nu = half_sum - half_difference
    xi = 2 * half_node - half_sum - half_difference
    sin_2i, sin_i_squared = math.sin(2 * inclination), math.sin(inclination) ** 2
    return Orbit(
        inclination=inclination,
        nu=nu,
        xi=xi,
        nu_prime=math.atan2(sin_2i * math.sin(nu), sin_2i * math.cos(nu) + 0.3347),
        two_nu_second=math.atan2(
            sin_i_squared * math.sin(2 * nu), sin_i_squared * math.cos(2 * nu) + 0.0727
        ),
        perigee=perigee - xi,
    )


def _arctan_scaled(scale: float, half_angle: float) -> float:
    """The angle whose tangent is scale x tan(half_angle), in the same half turn."""
    return math.atan2(scale * math.sin(half_angle), math.cos(half_angle))


def orbit_at(at_utc: datetime) -> Orbit:
    """The moon's orbit at an instant."""
    centuries = (at_utc - _NOON_1899_DEC_31).total_seconds() / 3600 / _HOURS_A_CENTURY
    powers = centuries ** np.arange(4)
    return orbit_of_node(math.radians(_NODE @ powers), math.radians(_PERIGEE @ powers))


def node_factors(orbit: Orbit) -> dict[str, tuple[float, float]]:
    """f (a ratio) and u (degrees) of every node rule that constituents.SIMPLE names."""
    inclination, nu, xi, perigee = orbit.inclination, orbit.nu, orbit.xi, orbit.perigee
    half = inclination / 2
    sin_i, sin_2i, tan_half = math.sin(inclination), math.sin(2 * inclination), math.tan(half)
    f_o1 = sin_i * math.cos(half) ** 2 / 0.3800
    f_m2 = math.cos(half) ** 4 / 0.9154
    f_k1 = math.sqrt(0.8965 * sin_2i**2 + 0.6001 * sin_2i * math.cos(nu) + 0.1006)
    f_k2 = math.sqrt(19.0444 * sin_i**4 + 2.7702 * sin_i**2 * math.cos(2 * nu) + 0.0981)
    # M1's two numbers, 0.483 and 2.310 + 1.435 cos 2P, are both SP98's for the mean inclination: Table 15 uses them.
    q = math.atan2(0.483 * math.sin(perigee), math.cos(perigee))
    r = math.atan2(math.sin(2 * perigee), 1 / (6 * tan_half**2) - math.cos(2 * perigee))
    l2_growth = math.sqrt(1 - 12 * tan_half**2 * math.cos(2 * perigee) + 36 * tan_half**4)
    in_radians = {
        "O1": (f_o1, 2 * xi - nu),
        "K1": (f_k1, -orbit.nu_prime),
        "J1": (sin_2i / 0.7214, -nu),
        "OO1": (sin_i * math.sin(half) ** 2 / 0.0164, -2 * xi - nu),
        "M1": (f_o1 * math.sqrt(2.310 + 1.435 * math.cos(2 * perigee)), xi - nu + q),
        "M2": (f_m2, 2 * xi - 2 * nu),
        "K2": (f_k2, -orbit.two_nu_second),
        "L2": (f_m2 * l2_growth, 2 * xi - 2 * nu - r),
        "M3": (math.cos(half) ** 6 / 0.8758, 3 * xi - 3 * nu),
        "MF": (sin_i**2 / 0.1578, -2 * xi),
        "MM": ((2 / 3 - sin_i**2) / 0.5021, 0.0),
    }
    return {name: (f, math.degrees(u)) for name, (f, u) in in_radians.items()}


def speed_deg_per_h(name: str) -> float:
    """Speed of a verified constituent, degrees an hour."""
    total = 0.0
    for part, multiple in parts_of(name).items():
        total += multiple * float(np.dot(SIMPLE[part].coefficients, _RATES_DEG_PER_H))
        if part == "M1":
            total += multiple * float(_RATES_DEG_PER_H[3])
    return total


def equilibrium(name: str, longitudes: np.ndarray, factors: dict[str, tuple[float, float]]) -> tuple[float, float]:
    """f and V0 + u (degrees, 0 to 360) of a verified constituent; longitudes as longitudes_deg gives them."""
    f_product, argument_deg = 1.0, 0.0
    for part, multiple in parts_of(name).items():
        simple = SIMPLE[part]
        f, u_deg = factors[simple.node] if simple.node else (1.0, 0.0)
        f_product *= f ** abs(multiple)
        v_deg = float(np.dot(simple.coefficients, longitudes)) + simple.constant_deg
        argument_deg += multiple * (v_deg + u_deg)
    return f_product, argument_deg % 360
