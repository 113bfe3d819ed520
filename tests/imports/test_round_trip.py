"""What is taken out comes in again: a programme exported, imported into an empty one and exported once more says the same."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import UTC, datetime
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import pytest

from fieldlog.exports.formats import FORMATS
from fieldlog.exports.opening import open_export
from fieldlog.exports.tables import Wanted
from fieldlog.imports import kept, reading, trying
from fieldlog.imports.mapping import settled
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme

NOW_MS = 1_795_586_400_000


def exported(programme: Programme) -> bytes:
    into = io.BytesIO()
    with open_export(programme.path, CATALOGUE, Wanted(names=True), datetime.fromtimestamp(NOW_MS / 1000, UTC)) as export:
        FORMATS["csv"].write(export, into, lambda _rows: None)
    return into.getvalue()


def tables(package: bytes) -> dict[str, list[dict[str, str]]]:
    with zipfile.ZipFile(io.BytesIO(package)) as packed:
        return {Path(name).stem: list(csv.DictReader(io.StringIO(packed.read(name).decode("utf-8"), newline=""))) for name in packed.namelist() if name.endswith(".csv")}


def declared(found: dict[str, list[dict[str, str]]]) -> dict[str, list[dict[str, str]]]:
    """The declared fields of each kind that is not private, with site and visit, by record; and the items of its lists."""
    said = {}
    for name, kind in CATALOGUE.kinds.items():
        if kind.privacy not in ("leader", "medical") and name != "import":
            columns = ["record_id", "site_id", "visit_id", *(field for field in kind.fields if field not in kind.lists)]
            said[name] = sorted(({column: row[column] for column in columns if column in row} for row in found.get(name, [])), key=lambda row: row["record_id"])
            for field in kind.lists:
                said[f"{name}_{field}"] = sorted(found.get(f"{name}_{field}", []), key=lambda row: (row["record_id"], int(row["place"])))
    return said


def in_order() -> list[str]:
    """Kinds, each after those that it names."""
    graph = {
        name: {to for ref in kind.refs.values() for to in ([ref] if ref in CATALOGUE.kinds else kind.fields[ref].metadata["enum"] if ref in kind.fields else []) if to in CATALOGUE.kinds and to != name}
        | ({"site"} - {name}) | ({"person", "visit"} if name in ("unit_check", "position_fix", "sighting", "unit_event", "sign_in", "photo") else set())
        for name, kind in CATALOGUE.kinds.items()
    }  # fmt: skip
    return list(TopologicalSorter(graph).static_order())


def brought_in(programme: Programme, package: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    modules: dict[str, Any] = {kept.READING_CHILD: reading, kept.TRYING_CHILD: trying}
    monkeypatch.setattr(kept, "run", lambda module, job, tell=lambda _step: None, **_limits: modules[module].work(job, tell))
    device = kept.device_of_commands(programme.db(), NOW_MS)
    found = tables(package)
    for kind in in_order():
        if not found.get(kind):
            continue
        upload = kept.begin(programme, device, None, f"{kind}.zip", iter([package]), NOW_MS)
        looked = kept.looked(programme.db(), CATALOGUE, upload, {"sheet": kind, "kind": kind})
        if any(question["column"] == "observer_name" for question in looked["questions"]):
            # Who wrote of a person or of the site may be a person who comes later.
            said = settled(looked["mapping"], [{"path": ["columns", "observer_name", "field"], "value": None}])
            looked = kept.looked(programme.db(), CATALOGUE, upload, said)
        assert looked["questions"] == [], (kind, looked["questions"][:2])
        result = kept.try_upload(programme, upload)
        assert (result["good"], result["to_mend"]) == (len(found[kind]), 0), (kind, result["remarks"][:3], result["doubles"][:3])
        kept.begin_taking(upload, NOW_MS)
        assert kept.take_upload(programme, CATALOGUE, upload, lambda: NOW_MS).held == 0, (kind, programme.db().conn.execute("SELECT why, sentence, line FROM tray LIMIT 1").fetchone())


def test_the_demo_goes_out_comes_in_and_goes_out_the_same(demo: Programme, programme: Programme, monkeypatch: pytest.MonkeyPatch) -> None:
    first = exported(demo)
    brought_in(programme, first, monkeypatch)
    before, after = declared(tables(first)), declared(tables(exported(programme)))
    assert sum(map(len, before.values())) > 500
    for name in before:
        assert after[name] == before[name], name
