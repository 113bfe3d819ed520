"""GeoJSON, read back by shapely, and each place held to the geodesic distance from the site's position."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
import shapely

from fieldlog.exports.geojson import write_geojson
from fieldlog.exports.stream import Export
from tests.exports.conftest import BAR, SPIT, UNIT, exported, make_shore
from tests.sync.lines import REQUIRED, record_id

SITE = REQUIRED["site"]
METRES_A_DEGREE = 111_195.0
"""Of latitude, to a part in 200: enough to tell axes and signs apart."""


def package_of(export: Export) -> dict[str, Any]:
    written = io.BytesIO()
    write_geojson(export, written, lambda _rows: None)
    package = ZipFile(written)
    return {name: json.loads(package.read(name)) for name in package.namelist()}


def metres_from_site(place: shapely.Point) -> tuple[float, float]:
    """East and north of the site's position."""
    east = (place.x - SITE["lon_deg"]) * METRES_A_DEGREE * math.cos(math.radians(SITE["lat_deg"]))
    return east, (place.y - SITE["lat_deg"]) * METRES_A_DEGREE


def test_every_row_of_a_table_with_places_is_a_feature_with_the_tables_values(made: Export) -> None:
    package = package_of(made)
    tables = {f"{table.name}.geojson": table for table in made.tables}
    assert {"site.geojson", "unit.geojson", "unit_check.geojson", "position_fix.geojson", "sighting.geojson"} <= set(package)
    assert not {"species.geojson", "person.geojson", "visit.geojson", "history.geojson"} & set(package)
    for name in package.keys() - {"datapackage.json"}:
        collection, names = package[name], [column.name for column in tables[name].columns]
        assert collection["type"] == "FeatureCollection"
        assert "crs" not in collection
        rows = [dict(zip(names, row, strict=True)) for row in made.rows(tables[name])]
        assert [{key: value for key, value in feature["properties"].items() if key != "place_from"} for feature in collection["features"]] == rows
        placed = [feature for feature in collection["features"] if feature["geometry"]]
        # Its reader takes no feature without a place, which RFC 7946 allows.
        assert len(shapely.get_parts(shapely.from_geojson(json.dumps(collection | {"features": placed})))) == len(placed)


def test_a_unit_is_where_the_turned_grid_has_it(made: Export) -> None:
    """3 m east and 4 m north of a grid whose north points 30° east of true north; longitude stands first."""
    (unit,) = package_of(made)["unit.geojson"]["features"]
    assert unit["id"] == UNIT
    east, north = metres_from_site(shapely.from_geojson(json.dumps(unit["geometry"])))
    turn = math.radians(30)
    assert (east, north) == pytest.approx((3 * math.cos(turn) + 4 * math.sin(turn), 4 * math.cos(turn) - 3 * math.sin(turn)), abs=0.03)
    assert unit["properties"]["place_from"] == "own"


def test_a_check_and_a_sighting_are_where_their_unit_is(made: Export) -> None:
    package = package_of(made)
    (unit,) = package["unit.geojson"]["features"]
    check = next(feature for feature in package["unit_check.geojson"]["features"] if feature["id"] == record_id("check 1"))
    (sighting,) = package["sighting.geojson"]["features"]
    assert check["geometry"] == sighting["geometry"] == unit["geometry"]
    assert check["properties"]["place_from"] == "unit's planned place"
    assert check["properties"]["rocking"] is False


def test_a_unit_without_a_planned_place_is_where_it_was_last_read_or_nowhere(tmp_path: Path) -> None:
    programme = make_shore(tmp_path / "programme")
    for name in ("read", "lost"):
        programme.db().execute("INSERT INTO unit(record_id, site_id, deleted, tag) VALUES (?, ?, 0, ?)", [name, SPIT, name])
    for name, east_m, at in (("early", 7, "2026-06-01T00:00:00.000Z"), ("late", 0, "2026-06-02T00:00:00.000Z")):
        programme.db().execute(
            "INSERT INTO position_fix(record_id, site_id, deleted, of_kind, of_id, fixed_at, method, east_m, north_m) VALUES (?, ?, 0, 'unit', 'read', ?, 'rtk', ?, 0)",
            [name, SPIT, at, east_m],
        )
    programme.close()
    with exported(programme.folder, kinds=("unit",)) as export:
        features = {feature["id"]: feature for feature in package_of(export)["unit.geojson"]["features"]}
    assert features["lost"]["geometry"] is None
    assert features["read"]["properties"]["place_from"] == "unit's newest position"
    assert metres_from_site(shapely.from_geojson(json.dumps(features["read"]["geometry"]))) == pytest.approx((0, 0), abs=0.01)


def test_readings_and_photos_are_where_their_plot_or_unit_is_and_another_sites_gives_no_place(tmp_path: Path) -> None:
    programme = make_shore(tmp_path / "programme")
    run = programme.db().execute
    run("INSERT INTO plot(record_id, site_id, deleted, label, east_m, north_m) VALUES ('plot', ?, 0, 'C1', 3, 4)", [SPIT])
    for name, site in (("here", SPIT), ("elsewhere", BAR)):
        run("INSERT INTO stake_reading(record_id, site_id, deleted, plot_id, read_at, exposed_mm) VALUES (?, ?, 0, 'plot', '2026-06-01T00:00:00.000Z', 5)", [name, site])
    of = (("of plot", "plot", "plot", None), ("of unit", "unit", UNIT, None), ("of check", "unit_check", record_id("check 1"), None), ("of visit", "visit", "v", None), ("own", "plot", "plot", 41))
    for name, kind, which, degrees in of:
        run(
            """INSERT INTO photo(record_id, site_id, deleted, of_kind, of_id, sha256, taken_at, lat_deg, lon_deg)
               VALUES (?, ?, 0, ?, ?, ?, '2026-06-01T00:00:00.000Z', ?, ?)""", [name, SPIT, kind, which, name, degrees, degrees],
        )  # fmt: skip
    programme.close()
    with exported(programme.folder, kinds=("plot", "unit", "stake_reading", "photo")) as export:
        package = package_of(export)
    found = {feature["id"]: (feature["properties"]["place_from"], feature["geometry"]) for name in package if name.endswith(".geojson") for feature in package[name]["features"]}
    assert {name: said for name, (said, _) in found.items() if name != UNIT} == {
        "plot": "own", "here": "plot's place", "elsewhere": None, "of plot": "plot's place", "of unit": "unit's planned place",
        "of check": "unit's planned place", "of visit": None, "own": "own",
    }  # fmt: skip
    # Plot and unit stand at the same metres of the grid.
    assert found["here"][1] == found["of plot"][1] == found["plot"][1] == found["of unit"][1] == found[UNIT][1]
    assert found["elsewhere"][1] is found["of visit"][1] is None
