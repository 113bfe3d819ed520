"""
The tidal constituents: what each one's argument is made of, and which node factor it takes.

A simple constituent's argument is V = aT + bs + ch + dp + ep1 + constant (T hour angle of the mean sun, s moon,
h sun, p lunar perigee, p1 solar perigee). A compound one is a sum of simple ones: its argument, speed and u are
the sums, its f is the product. Three choices follow the agency whose tables we are checked against, and cost
centimetres where made otherwise: SA is h without p1, S1 is T (180 degrees at 0 h), M1 is the mixture of SP98's
formula 201, whose speed has the perigee's rate although its V0 does not.

Source: P. Schureman, Manual of Harmonic Analysis and Prediction of Tides, US Coast and Geodetic Survey Special
Publication 98 (1940, reprinted 1958), Table 2; held to its speeds in test_constituents.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Simple:
    """Coefficients of (T, s, h, p, p1), a constant in degrees, and the name of the node factor (None: f 1, u 0)."""

    coefficients: tuple[int, int, int, int, int]
    constant_deg: int
    node: str | None


SIMPLE: dict[str, Simple] = {
    "O1": Simple((1, -2, 1, 0, 0), 90, "O1"),
    "M2": Simple((2, -2, 2, 0, 0), 0, "M2"),
    "S2": Simple((2, 0, 0, 0, 0), 0, None),
    "K1": Simple((1, 0, 1, 0, 0), -90, "K1"),
    "P1": Simple((1, 0, -1, 0, 0), 90, None),
    "K2": Simple((2, 0, 2, 0, 0), 0, "K2"),
    "Q1": Simple((1, -3, 1, 1, 0), 90, "O1"),
    "N2": Simple((2, -3, 2, 1, 0), 0, "M2"),
    "NU2": Simple((2, -3, 4, -1, 0), 0, "M2"),
    "J1": Simple((1, 1, 1, -1, 0), -90, "J1"),
    "L2": Simple((2, -1, 2, -1, 0), 180, "L2"),
    "OO1": Simple((1, 2, 1, 0, 0), -90, "OO1"),
    "M1": Simple((1, -1, 1, 0, 0), -90, "M1"),
    "2N2": Simple((2, -4, 2, 2, 0), 0, "M2"),
    "RHO": Simple((1, -3, 3, -1, 0), 90, "O1"),
    "T2": Simple((2, 0, -1, 0, 1), 0, None),
    "MU2": Simple((2, -4, 4, 0, 0), 0, "M2"),
    "2Q1": Simple((1, -4, 1, 2, 0), 90, "O1"),
    "LAM2": Simple((2, -1, 0, 1, 0), 180, "M2"),
    "SA": Simple((0, 0, 1, 0, 0), 0, None),
    "R2": Simple((2, 0, 1, 0, -1), 180, None),
    "SSA": Simple((0, 0, 2, 0, 0), 0, None),
    "S1": Simple((1, 0, 0, 0, 0), 0, None),
    "M3": Simple((3, -3, 3, 0, 0), 0, "M3"),
    "MF": Simple((0, 2, 0, 0, 0), 0, "MF"),
    "MM": Simple((0, 1, 0, -1, 0), 0, "MM"),
    "SIGMA1": Simple((1, -4, 3, 0, 0), 90, "O1"),
    "PI1": Simple((1, 0, -2, 0, 1), 90, None),
    "PHI1": Simple((1, 0, 3, 0, 0), -90, None),
    "PSI1": Simple((1, 0, 2, 0, -1), -90, None),
    "THETA1": Simple((1, 1, -1, 1, 0), -90, "J1"),
    "CHI1": Simple((1, -1, 3, -1, 0), -90, "J1"),
}

COMPOUND: dict[str, dict[str, int]] = {
    "M4": {"M2": 2}, "M6": {"M2": 3}, "S4": {"S2": 2}, "M8": {"M2": 4}, "MS4": {"M2": 1, "S2": 1},
    "MN4": {"M2": 1, "N2": 1}, "2SM2": {"S2": 2, "M2": -1}, "MSF": {"S2": 1, "M2": -1},
    "2MS6": {"M2": 2, "S2": 1}, "2MK5": {"M2": 2, "K1": 1}, "N4": {"N2": 2}, "2MO5": {"M2": 2, "O1": 1},
    "MKS2": {"M2": 1, "K2": 1, "S2": -1}, "S6": {"S2": 3}, "MK3": {"M2": 1, "K1": 1},
    "2MK3": {"M2": 2, "K1": -1}, "2MN6": {"M2": 2, "N2": 1}, "2MK6": {"M2": 2, "K2": 1},
    "2SM6": {"S2": 2, "M2": 1}, "MSK6": {"M2": 1, "S2": 1, "K2": 1}, "SO3": {"S2": 1, "O1": 1},
    "MK4": {"M2": 1, "K2": 1}, "MO3": {"M2": 1, "O1": 1}, "MSN2": {"M2": 1, "S2": 1, "N2": -1},
    "SN4": {"S2": 1, "N2": 1}, "SK3": {"S2": 1, "K1": 1}, "2SK5": {"S2": 2, "K1": 1},
    "3MK7": {"M2": 3, "K1": 1}, "OQ2": {"O1": 1, "Q1": 1}, "SK4": {"S2": 1, "K2": 1},
    "SO1": {"S2": 1, "O1": -1}, "MP1": {"M2": 1, "P1": -1}, "2PO1": {"P1": 2, "O1": -1},
    "MNS2": {"M2": 1, "N2": 1, "S2": -1}, "OP2": {"O1": 1, "P1": 1}, "2NS2": {"N2": 2, "S2": -1},
    "MLN2S2": {"M2": 1, "L2": 1, "N2": 1, "S2": -2}, "2ML2S2": {"M2": 2, "L2": 1, "S2": -2},
    "SKM2": {"S2": 1, "K2": 1, "M2": -1}, "2MS2K2": {"M2": 2, "S2": 1, "K2": -2},
    "MKL2S2": {"M2": 1, "K2": 1, "L2": 1, "S2": -2}, "M2KS2": {"M2": 1, "K2": 2, "S2": -2},
    "2SNMK2": {"S2": 2, "N2": 1, "M2": -1, "K2": -1}, "2KMSN2": {"K2": 2, "M2": 1, "S2": -1, "N2": -1},
    "NO3": {"N2": 1, "O1": 1}, "2MLS4": {"M2": 2, "L2": 1, "S2": -1}, "3MS4": {"M2": 3, "S2": -1},
    "ML4": {"M2": 1, "L2": 1}, "SL4": {"S2": 1, "L2": 1}, "MNO5": {"M2": 1, "N2": 1, "O1": 1},
    "MSK5": {"M2": 1, "S2": 1, "K1": 1}, "3KM5": {"K2": 1, "K1": 1, "M2": 1}, "2MP5": {"M2": 2, "P1": 1},
    "3MP5": {"M2": 3, "P1": -1}, "MNK5": {"M2": 1, "N2": 1, "K1": 1}, "MSN6": {"M2": 1, "S2": 1, "N2": 1},
    "2NMLS6": {"N2": 2, "M2": 1, "L2": 1, "S2": -1}, "2NM6": {"N2": 2, "M2": 1},
    "MSL6": {"M2": 1, "S2": 1, "L2": 1}, "2ML6": {"M2": 2, "L2": 1},
    "2MLNS6": {"M2": 2, "L2": 1, "N2": 1, "S2": -1}, "3MLS6": {"M2": 3, "L2": 1, "S2": -1},
    "2MNO7": {"M2": 2, "N2": 1, "O1": 1}, "2NMK7": {"N2": 2, "M2": 1, "K1": 1},
    "2MSO7": {"M2": 2, "S2": 1, "O1": 1}, "MSKO7": {"M2": 1, "S2": 1, "K2": 1, "O1": 1},
    "2MSN8": {"M2": 2, "S2": 1, "N2": 1}, "3MS8": {"M2": 3, "S2": 1}, "2MS8": {"M2": 2, "S2": 2},
    "2MN8": {"M2": 2, "N2": 2}, "3MN8": {"M2": 3, "N2": 1}, "2MSL8": {"M2": 2, "S2": 1, "L2": 1},
    "4MLS8": {"M2": 4, "L2": 1, "S2": -1}, "3ML8": {"M2": 3, "L2": 1}, "3MK8": {"M2": 3, "K2": 1},
    "2MSK8": {"M2": 2, "S2": 1, "K2": 1}, "2M2NK9": {"M2": 2, "N2": 2, "K1": 1},
    "3MNK9": {"M2": 3, "N2": 1, "K1": 1}, "4MK9": {"M2": 4, "K1": 1}, "3MSK9": {"M2": 3, "S2": 1, "K1": 1},
    "4MN10": {"M2": 4, "N2": 1}, "M10": {"M2": 5}, "3MNS10": {"M2": 3, "N2": 1, "S2": 1},
    "4MS10": {"M2": 4, "S2": 1}, "3MSL10": {"M2": 3, "S2": 1, "L2": 1}, "3M2S10": {"M2": 3, "S2": 2},
    "4MSK11": {"M2": 4, "S2": 1, "K1": 1}, "4MNS12": {"M2": 4, "N2": 1, "S2": 1}, "5MS12": {"M2": 5, "S2": 1},
    "4MSL12": {"M2": 4, "S2": 1, "L2": 1}, "4M2S12": {"M2": 4, "S2": 2}, "KJ2": {"K1": 1, "J1": 1},
    "OO2": {"O1": 1, "Q1": 1},
}

# No published series was found that settles their phase, so a prediction leaves them out and says so.
NOT_VERIFIED = frozenset({
    "MB2", "EPS2", "MSQM", "MTM", "MA2", "3N2", "R3", "3L2", "T3", "S3", "ALPHA2", "ETA2", "GAMMA2", "ALPHA1",
    "TAU1", "BETA1",
})  # fmt: skip

# Other spellings of the same constituent. M(KS)2 is M2 + K1 - S1, not MKS2; NO1 is no spelling of M1 at all.
ALIASES: dict[str, str] = {
    "TK1": "PI1", "RP1": "PSI1", "KP1": "PHI1",
    "RHO1": "RHO", "LAMBDA2": "LAM2", "LDA2": "LAM2", "SGM": "SIGMA1", "THE1": "THETA1", "ALP1": "ALPHA1",
    "BET1": "BETA1", "EP2": "EPS2", "EPSILON2": "EPS2", "M(KS)2": "MB2",
}  # fmt: skip


def known_name(name: str) -> str | None:
    """The table's own spelling of a constituent's name, or None where the name is not in the table."""
    upper = name.strip().upper()
    ours = ALIASES.get(upper, upper)
    return ours if ours in SIMPLE or ours in COMPOUND or ours in NOT_VERIFIED else None


def parts_of(name: str) -> dict[str, int]:
    """The simple constituents, with their multiples, that a verified constituent is made of."""
    return COMPOUND.get(name) or {name: 1}
