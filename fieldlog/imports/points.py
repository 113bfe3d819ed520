"""Points on a map (GeoJSON, RFC 7946) as rows: what each point says of itself, then its longitude, latitude and height."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from fieldlog.imports.cells import Cell, Row, cell_of
from fieldlog.imports.limits import unreadable

PLACE = ("lon_deg", "lat_deg", "height_m")


def rows_of_points(data: bytes) -> Iterator[Row]:
    """
    A header row, then a row a feature; a feature that is no point says so in the place of its latitude.

    Raises:
        BadTable: it is no collection of features.
    """
    try:
        said = json.loads(data)
    except (ValueError, RecursionError):
        raise unreadable("it is not GeoJSON") from None
    features = said.get("features") if isinstance(said, dict) else None
    if not isinstance(features, list) or not all(isinstance(feature, dict) for feature in features):
        raise unreadable("it is not a GeoJSON collection of features")
    names = list(dict.fromkeys(name for feature in features for name in _properties(feature)))
    yield [*names, *PLACE]
    for feature in features:
        own = _properties(feature)
        yield [*(_told(own.get(name)) for name in names), *_place(feature.get("geometry"))]


def _properties(feature: dict[str, Any]) -> dict[str, Any]:
    own = feature.get("properties")
    return {**({"id": feature["id"]} if "id" in feature else {}), **(own if isinstance(own, dict) else {})}


def _told(value: Any) -> Cell:
    return cell_of(json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else value)


def _place(geometry: Any) -> list[Cell]:
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    numbers = geometry.get("coordinates") if kind == "Point" else None
    if isinstance(numbers, list) and 2 <= len(numbers) <= 4 and all(type(number) in (int, float) for number in numbers):
        return [numbers[0], numbers[1], numbers[2] if len(numbers) > 2 else None]
    return [None, {"fault": f"This feature is {kind or 'without a place'}, not a point. Draw it as a point, or remove it."}, None]
