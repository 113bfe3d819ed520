"""The time zone of a place: shores, waters before them, borders, the open sea."""

from __future__ import annotations

import pytest

from fieldlog.zones import zone_of


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "zone"),
    [
        (44.63, -124.04, "America/Los_Angeles"), (32.03, -80.92, "America/New_York"), (71.0, -156.8, "America/Anchorage"),
        (-36.8, 174.8, "Pacific/Auckland"), (-43.9, -176.5, "Pacific/Chatham"), (60.0, 5.0, "Europe/Oslo"),
        # On both sides of a border at the sea, some kilometres from it.
        (32.5, -117.13, "America/Tijuana"), (32.58, -117.13, "America/Los_Angeles"),
        # The open sea has bare hours, which no site is told by.
        (31.5, -118.0, None), (0, -30, None), (51.5, 2.9, None),
    ],
)  # fmt: skip
def test_a_place_has_the_zone_that_its_people_live_by(lat_deg: float, lon_deg: float, zone: str | None) -> None:
    assert zone_of(lat_deg, lon_deg) == zone


@pytest.mark.parametrize(("lat_deg", "lon_deg"), [(90, 180), (-90, -180), (90, 0), (0, 180), (0, -180)])
def test_the_ends_of_the_earth_are_asked_without_harm(lat_deg: float, lon_deg: float) -> None:
    assert zone_of(lat_deg, lon_deg) is None or "/" in str(zone_of(lat_deg, lon_deg))
