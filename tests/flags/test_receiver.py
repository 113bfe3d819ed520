"""A survey receiver's fix in degrees only says whether a unit moved, as one in metres does; a phone's never."""

from __future__ import annotations

import pytest

from fieldlog.flags.receiver import RADIUS_95, on_grid
from fieldlog.survey.grid import SiteGrid
from tests.flags.shore import SITE, SITE_FIELDS, UNIT, Shore

GRID = SiteGrid(SITE_FIELDS["lat_deg"], SITE_FIELDS["lon_deg"], 0.0)


def in_degrees(shore: Shore, at: str, east_m: float, method: str = "rtk", **more: float) -> None:
    lat_deg, lon_deg = GRID.to_degrees(east_m, 15.0)
    told = {"lat_deg": lat_deg, "lon_deg": lon_deg, "fixed_at": at, "method": method, **more}
    shore.write("position_fix", of_kind="unit", of_id=UNIT, **told)


def moved(shore: Shore) -> list[str]:
    return [flag["rule"] for flag in shore.flags("displaced")]


def test_a_receivers_degrees_are_compared_with_metres(shore: Shore) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0, sigma_m=0.02)
    in_degrees(shore, "2026-07-01T10:00:00.000Z", 12.6, sigma_m=0.02)
    assert moved(shore) == ["displaced"]
    assert shore.flag("displaced")["evidence"]["displacement_m"] == pytest.approx(0.6, abs=0.002)


def test_a_phones_degrees_are_not(shore: Shore) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0, sigma_m=0.02)
    in_degrees(shore, "2026-07-01T10:00:00.000Z", 40.0, method="phone_gnss", accuracy_m=4)
    assert moved(shore) == []


def test_another_place_of_the_site_is_another_place_on_its_grid(shore: Shore) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0, sigma_m=0.02)
    in_degrees(shore, "2026-07-01T10:00:00.000Z", 12.0, sigma_m=0.02)
    assert moved(shore) == []
    shore.write("site", SITE, lat_deg=SITE_FIELDS["lat_deg"] + 0.00002)
    assert moved(shore) == ["displaced"]


def test_the_sigma_follows_from_the_radius_and_what_is_in_metres_stays() -> None:
    bare = dict.fromkeys(("east_m", "north_m", "sigma_m", "accuracy_m"))
    site = {"lat_deg": 32.03, "lon_deg": -80.92, "grid_azimuth_deg": None}
    fix = on_grid({**bare, "method": "rtk", "lat_deg": 32.03, "lon_deg": -80.92, "accuracy_m": 0.05}, site)
    assert (fix["east_m"], fix["north_m"], fix["sigma_m"]) == pytest.approx((0, 0, 0.05 / RADIUS_95))
    metres = {**bare, "method": "rtk", "lat_deg": 32.03, "lon_deg": -80.92, "east_m": 3.0, "north_m": 4.0}
    assert on_grid(metres, site) == metres
    unplaced = {**bare, "method": "rtk", "lat_deg": 32.03, "lon_deg": -80.92}
    assert on_grid(unplaced, {"lat_deg": None, "lon_deg": None, "grid_azimuth_deg": None}) == unplaced


ON_PHONE = """async (cases) => {
  const { onGrid } = await import('/survey/grid.js');
  return cases.map(([fix, site]) => onGrid(fix, site));
}"""


@pytest.mark.browser
def test_the_phone_puts_it_at_the_same_place(modules_page) -> None:
    bare = dict.fromkeys(("east_m", "north_m", "sigma_m", "accuracy_m"))
    cases = [
        [{**bare, "method": method, "lat_deg": lat_deg + 0.001, "lon_deg": lon_deg - 0.002, "accuracy_m": accuracy_m},
         {"lat_deg": lat_deg, "lon_deg": lon_deg, "grid_azimuth_deg": azimuth_deg}]
        for method in ("rtk", "phone_gnss")
        for lat_deg, lon_deg, azimuth_deg in ((32.03, -80.92, None), (-43.5, 172.7, 30), (70.0, 179.999, 275))
        for accuracy_m in (None, 0.03)
    ]  # fmt: skip
    for (fix, site), theirs in zip(cases, modules_page.evaluate(ON_PHONE, cases), strict=True):
        ours = on_grid(fix, site)
        for name in ("east_m", "north_m", "sigma_m"):
            assert theirs[name] == (None if ours[name] is None else pytest.approx(ours[name], abs=1e-6)), (fix, site)
