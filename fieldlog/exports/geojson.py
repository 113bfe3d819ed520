"""GeoJSON (RFC 7946): a FeatureCollection a table that has places, in one zip with the dictionary; longitude before latitude, WGS 84."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

import orjson

from fieldlog.exports.columns import YES_NO, Table
from fieldlog.exports.dictionary import described, schema_of
from fieldlog.exports.parts import FAST, Tell, at_once, named_part
from fieldlog.exports.places import Place, Places
from fieldlog.exports.stream import Export

Finder = Callable[[Mapping[str, Any]], tuple[Place | None, str | None]]

PLACE_FROM = "place_from"
"""The property that says by what a feature is where it is: its own reading, its unit's planned place or newest position."""


def write_geojson(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write an export; `to` need not be seekable. What is nowhere known stands with a null geometry; a table whose rows are nowhere is left out."""
    places = Places(export.db, export.words)
    made_at = export.made_by.made_at
    resources = []
    with ZipFile(to, "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        for table in export.tables:
            place_of = places.finder(table)
            if place_of is None:
                continue
            path = f"{table.name}.geojson"
            with package.open(named_part(path, made_at), "w", force_zip64=True) as file:
                rows = _write(table, _features(export, table, place_of), file, tell)
            resources.append({
                "name": table.name, "path": path, "format": "geojson", "mediatype": "application/geo+json", "title": table.title, "rows": rows,
                "schema": schema_of(table, export.made_by),
            })  # fmt: skip
        with package.open(named_part("datapackage.json", made_at), "w") as file:
            file.write(described(export, resources))


def _write(table: Table, features: Iterator[bytes], file: IO[bytes], tell: Tell) -> int:
    file.write(b'{"type":"FeatureCollection","name":' + orjson.dumps(table.name) + b',"features":[\n')
    rows = 0
    for chunk in at_once(features):
        file.write((b",\n" if rows else b"") + b",\n".join(chunk))
        rows += len(chunk)
        tell(len(chunk))
    file.write(b"\n]}\n")
    return rows


def _features(export: Export, table: Table, place_of: Finder) -> Iterator[bytes]:
    names = [column.name for column in table.columns]
    yes_no = [column.name for column in table.columns if column.type == YES_NO]
    for values in export.rows(table):
        row = dict(zip(names, values, strict=True))
        place, said_by = place_of(row)
        for name in yes_no:
            row[name] = None if row[name] is None else bool(row[name])
        geometry = None if place is None else {"type": "Point", "coordinates": place}
        identity = {"id": row["record_id"]} if row.get("record_id") else {}
        yield orjson.dumps({"type": "Feature", **identity, "geometry": geometry, "properties": row | {PLACE_FROM: said_by}})
