"""A place as it is typed or pasted into the set-up of a site: what is read, and what is not taken for one."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

READ = {
    "44.63, -124.04": (44.63, -124.04), "44.63 -124.04": (44.63, -124.04), "44.63,-124.04": (44.63, -124.04), " +44.63 ; -124.04 ": (44.63, -124.04),
    "44,63; -124,04": (44.63, -124.04), "44,63 -124,04": (44.63, -124.04), "44,-124": (44, -124), "44,124": (44, 124),
    "\u221236.84, 174.76": (-36.84, 174.76), "44.63 N, 124.04 W": (44.63, -124.04), "44.63n 124.04w": (44.63, -124.04),
    "N 44.63 W 124.04": (44.63, -124.04), "124.04 W, 44.63 N": (44.63, -124.04), "36.84\u00b0S 174.76\u00b0E": (-36.84, 174.76),
    "44\u00b0 37.8' N 124\u00b0 2.4' W": (44.63, -124.04), "44\u00b037\u203248\u2033N 124\u00b002\u203224\u2033W": (44.63, -124.04),
    "N44 37 48, W124 2 24": (44.63, -124.04), "44 37.8, -124 2.4": (44.63, -124.04), "-0 30, -0 30": (-0.5, -0.5),
    "geo:44.63,-124.04": (44.63, -124.04), "Lat 44.63 Lon -124.04": (44.63, -124.04), "lat: 44.63, lng: -124.04": (44.63, -124.04),
    "90, 180": (90, 180), "0, 0": (0, 0),
}  # fmt: skip

NO_PLACE = [
    "", "44.63", "here", "44.63, -124.04, 12", "-124.04, 44.63", "91, 0", "0, 181", "44.63 N, 124.04 N", "44.63 E", "44 63 N 124 2 W", "44.5 30 N 124 2 W",
    "44.63 S, -124.04 W", "44 -37, 124 2", "Pier 4, 12 Shore Road", "44.63 N 124.04", "44 30.5 10 N 124 2 1 W", "<b>1</b> 2",
]  # fmt: skip


def test_places_are_read_as_people_write_them_and_nothing_else_is_taken_for_one(modules_page) -> None:
    said = modules_page.evaluate("async (list) => { const { placeOf } = await import('/records/place.js'); return list.map(placeOf); }", [*READ, *NO_PLACE])
    assert dict(zip(READ, said, strict=False)) == {text: {"lat_deg": lat, "lon_deg": lon} for text, (lat, lon) in READ.items()}
    assert said[len(READ) :] == [None] * len(NO_PLACE)


AROUND = [
    {"lat_deg": 45, "lon_deg": -122, "distance_km": 20}, {"lat_deg": 46, "lon_deg": -124, "distance_km": 45},
    {"lat_deg": 44, "lon_deg": -124, "distance_km": 0}, {"lat_deg": 45, "lon_deg": 178, "distance_km": 11.25},
]  # fmt: skip


def test_stations_are_drawn_in_their_direction_also_across_the_date_line(modules_page) -> None:
    call = "async ([place, list]) => { const { chartOf } = await import('/online/station-chart.js'); return chartOf(place, list); }"
    drawn = modules_page.evaluate(call, [{"lat_deg": 45, "lon_deg": -124}, AROUND[:2]])
    assert drawn == {"ring_km": 50, "points": [{"x": 160 + 58, "y": 110}, {"x": 160, "y": 110 - 87}]}
    over = modules_page.evaluate(call, [{"lat_deg": 45, "lon_deg": -179}, [AROUND[3]]])
    assert over["points"] == [{"x": 160 - 69, "y": 110}], "three degrees to the west, not 357 to the east"
    assert modules_page.evaluate(call, [{"lat_deg": 44, "lon_deg": -124}, [AROUND[2], AROUND[1]]])["points"][0] == {"x": 160, "y": 110}
