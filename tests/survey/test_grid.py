"""The site grid against geodesics: one published line, and points recomputed with geographiclib 2.1 outside this project."""

from __future__ import annotations

import math

import pytest

from fieldlog.survey.grid import SiteGrid, _radii_m

# (origin lat, lon, azimuth, distance_m, lat2, lon2): geodesic direct on WGS 84, geographiclib 2.1.
DIRECT = [
    (41.25, -72.55, 0, 100, 41.2509004243, -72.55),
    (41.25, -72.55, 90, 100, 41.2499999938, -72.5488069172),
    (41.25, -72.55, 45, 1000, 41.2563666492, -72.5415628114),
    (41.25, -72.55, 210, 1000, 41.2422019363, -72.5559647049),
    (60.4, 5.3, 90, 1000, 60.3999987646, 5.3181405791),
    (-37.9, 144.4, 300, 1000, -37.8954948622, 144.3901539863),
    (41.25, -72.55, 120, 1, 41.2499954979, -72.5499896676),
    (0.0, 179.999, 90, 1000, 0.0, -179.9920168472),
]


def dms(degrees: float, minutes: float, seconds: float) -> float:
    return degrees + minutes / 60 + seconds / 3600


@pytest.mark.parametrize("line", DIRECT)
def test_within_a_kilometre_the_plane_is_the_geodesic_to_a_millimetre(line):
    lat, lon, azimuth, distance, lat2, lon2 = line
    east, north = SiteGrid(lat, lon, 0).from_degrees(lat2, lon2)
    wanted = (distance * math.sin(math.radians(azimuth)), distance * math.cos(math.radians(azimuth)))
    assert (east, north) == pytest.approx(wanted, abs=1e-3)


@pytest.mark.parametrize("line", DIRECT)
def test_a_turned_grid_runs_along_its_azimuth(line):
    lat, lon, azimuth, distance, lat2, lon2 = line
    assert SiteGrid(lat, lon, azimuth).from_degrees(lat2, lon2) == pytest.approx((0, distance), abs=1e-3)


@pytest.mark.parametrize("line", DIRECT)
def test_metres_along_a_geodesic_lead_to_its_end_also_across_the_date_line(line):
    """1e-8 degrees are a millimetre, what a plane of a kilometre is off at most."""
    lat, lon, azimuth, distance, lat2, lon2 = line
    assert SiteGrid(lat, lon, azimuth).to_degrees(0, distance) == pytest.approx((lat2, lon2), abs=2e-8)
    turned = math.radians(azimuth)
    assert SiteGrid(lat, lon, 0).to_degrees(distance * math.sin(turned), distance * math.cos(turned)) == pytest.approx((lat2, lon2), abs=2e-8)


@pytest.mark.parametrize("azimuth", [0, 37.5, 270, 360])
@pytest.mark.parametrize("point", [(0, 0), (812.34, -455.6), (-3000, 9000)])
def test_metres_to_degrees_and_back_lose_nothing(azimuth, point):
    grid = SiteGrid(60.4, 5.3, azimuth)
    assert grid.from_degrees(*grid.to_degrees(*point)) == pytest.approx(point, abs=1e-6)


def test_the_published_line_flinders_peak_to_buninyong():
    # Geoscience Australia, GDA technical manual: 54 972.271 m, azimuth 306d52'05.37". At 55 km the plane's distance is
    # shorter than the geodesic by s³/6R², here 0.68 m (R by Euler's formula); 2 cm are allowed for its next terms.
    flinders = SiteGrid(-dms(37, 57, 3.7203), dms(144, 25, 29.5244), 0)
    east, north = flinders.from_degrees(-dms(37, 39, 10.1561), dms(143, 55, 35.3839))
    azimuth = math.degrees(math.atan2(east, north)) % 360
    assert azimuth == pytest.approx(dms(306, 52, 5.37), abs=0.5 / 3600)
    radius_m = 6377470.0
    assert math.hypot(east, north) == pytest.approx(54972.271 - 54972.271**3 / (6 * radius_m**2), abs=0.02)


@pytest.mark.parametrize(
    ("lat", "lat_m", "lon_m"), [(41.25, 1.11059, 0.83816), (45, 1.11132, 0.78847)]
)  # fmt: skip
def test_a_hundred_thousandth_of_a_degree_in_metres(lat, lat_m, lon_m):
    # Recomputed with geographiclib outside this project.
    grid = SiteGrid(lat, 0, 0)
    assert grid.from_degrees(lat + 1e-5, 0)[1] == pytest.approx(lat_m, abs=5e-6)
    assert grid.from_degrees(lat, 1e-5)[0] == pytest.approx(lon_m, abs=5e-6)


def test_the_meridian_radii_add_up_to_the_quarter_meridian():
    """From the equator to a pole WGS 84 measures 10 001 965.729 m; of a curve so smooth the trapezoids' sum is exact to a millimetre."""
    radii = [_radii_m(lat_deg)[0] for lat_deg in range(91)]
    assert math.radians(1) * (sum(radii) - (radii[0] + radii[-1]) / 2) == pytest.approx(10_001_965.729, abs=0.002)
