"""What leaves as CSV comes in again: export, import into an empty programme, export, and the declared fields of every kind are equal."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import pytest

from fieldlog.exports.csv_package import write_csv_package
from fieldlog.imports import kept, reading, trying
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from tests.exports.conftest import SPIT, exported

ORDER = (
    "site", "unit_design", "species", "person", "row", "control_mark", "datum_offset", "closure", "casting_batch", "unit", "plot", "visit", "visit_part",
    "sign_in", "unit_event", "unit_check", "position_fix", "sighting", "flag_decision", "level_word",
)  # fmt: skip
"""What is referred to comes before what refers to it."""

Declared = dict[str, list[tuple[str, ...]]]


def package_of(folder: Path) -> ZipFile:
    written = io.BytesIO()
    with exported(folder, sites=frozenset([SPIT]) if folder.name == "shore" else None, names=True) as export:
        write_csv_package(export, written, lambda _rows: None)
    return ZipFile(written)


def declared_in(package: ZipFile) -> Declared:
    """Of each kind the declared fields of its rows, sorted."""
    return {
        kind: sorted(
            tuple(row[name] for name in CATALOGUE.kinds[kind].fields if name in row)
            for row in csv.DictReader(io.StringIO(package.read(f"{kind}.csv").decode(), newline=""))
        )
        for kind in ORDER
    }


def bring(package: ZipFile, folder: Path, call: Callable) -> None:
    """Import each table by the command, as somebody does who starts anew."""
    create_programme(folder, "Empty").close()
    for kind in ORDER:
        file = folder.parent / f"{kind}.csv"
        file.write_bytes(package.read(f"{kind}.csv"))
        if file.read_bytes().count(b"\n") < 2:
            continue
        # Who wrote the first tables is not there before the people are.
        alone = {"columns": {"observer_name": {"field": None}}} if ORDER.index(kind) <= ORDER.index("person") else {}
        (folder.parent / "map.json").write_text(json.dumps(alone))
        said = call("import", file, "--kind", kind, "--whole-program", "--map", folder.parent / "map.json", "--json", data=folder)
        assert said.status == 0, (kind, said.out, said.err)


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Children's work is done in this process."""
    modules = {kept.READING_CHILD: reading, kept.TRYING_CHILD: trying}
    monkeypatch.setattr(kept, "run", lambda module, job, tell=lambda _step: None, **_limits: modules[module].work(job, tell))


@pytest.mark.usefixtures("here")
def test_declared_fields_are_equal_after_the_way_out_and_in(shore_folder: Path, tmp_path: Path, call) -> None:
    (tmp_path / "shore").symlink_to(shore_folder)
    package = package_of(tmp_path / "shore")
    bring(package, tmp_path / "empty", call)
    before, after = declared_in(package), declared_in(package_of(tmp_path / "empty"))
    for kind in ORDER:
        assert after[kind] == before[kind], kind
    assert sum(map(len, before.values())) > 25


@pytest.mark.long
@pytest.mark.usefixtures("here")
def test_so_are_those_of_the_demo(demo_folder: Path, tmp_path: Path, call) -> None:
    package = package_of(demo_folder)
    bring(package, tmp_path / "empty", call)
    assert declared_in(package_of(tmp_path / "empty")) == declared_in(package)
