"""A small programme with something of everything that leaves it, and what a spreadsheet would trip over."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from fieldlog.access.devices import Device
from fieldlog.exports.stream import Export, MadeBy
from fieldlog.exports.tables import Wanted
from fieldlog.questions.whole_tables import one_state
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.commands.conftest import call  # noqa: F401
from tests.sync.lines import REQUIRED, START_MS, Lane, record_id

LEAD = Device("lead-device", "lead", None, None, False)
SPIT, BAR = record_id("Alder Spit"), record_id("Heron Bar")
INES, RUTH = record_id("Ines"), record_id("Ruth")
UNIT, ROW, DESIGN, VISIT, MARK = (record_id(name) for name in ("unit", "row", "design", "visit", "mark"))
MADE_BY = MadeBy("Alder Spit", "0.0", "1", "2026-11-25T06:00:00.000Z")

HOSTILE = [
    "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "'=1", "''", "'", 'a "quoted", cell', "two\nlines", "two\r\nlines", " =1", "ü, 牡蠣", "a\x01b", "_x0041_", "\ufffe end",
]  # fmt: skip
"""Notes that volunteers may type."""


def tell_story(lane: Lane, other: Lane) -> None:
    """Everything that stands in the programme, written by two devices."""
    for site, name in ((SPIT, "Alder Spit"), (BAR, "=Heron Bar")):
        lane.write("site", site, REQUIRED["site"] | {"name": name, "grid_azimuth_deg": 30}, g=site)
    lane.write("person", INES, {"display_name": "Ines Calder"}, g=SPIT)
    lane.write("person", RUTH, {"display_name": "Ruth Okafor-Lind", "minor": False}, g=SPIT)
    lane.person_id = INES
    lane.write("unit_design", DESIGN, {"name": "Block 450", "height_mm": 450, "footprint_mm": 600}, g=None)
    lane.write("species", record_id("oyster"), {"scientific_name": "Crassostrea virginica", "common_name": "Eastern oyster"}, g=None)
    lane.write("row", ROW, REQUIRED["row"])
    lane.write("control_mark", MARK, {"label": "M1", "east_m": 0, "north_m": 0})
    lane.write("unit", UNIT, {"tag": "A018", "row_id": ROW, "slot_number": 1, "design_id": DESIGN, "planned_east_m": 3, "planned_north_m": 4})
    lane.write("unit_event", record_id("placed"), {"unit_id": UNIT, "event": "placed", "event_at": "2026-06-01T12:00:00Z"})
    lane.write("visit", VISIT, {"purpose": "monitoring", "started_at": "2026-06-14T10:00:00Z", "leader_id": RUTH})
    lane.write("sign_in", record_id("in"), {"person_id": RUTH, "in_at": "2026-06-14T10:00:00Z"}, y=VISIT)
    lane.write("sign_in_private", record_id("medical"), {"sign_in_id": record_id("in"), "medical_note": "Asthma"}, k="1" * 32)
    lane.write("person_private", record_id("contact"), {"person_id": RUTH, "phone": "+1 555 0100"}, k="2" * 32)
    for n, note in enumerate(HOSTILE):
        lane.write("unit_check", record_id(f"check {n}"), check(f"2026-06-14T{n:02}:12:00Z", exposed_height_mm=225 + n / 4, note=note), y=VISIT)
    lane.write("unit_check", record_id("bar"), check("2026-06-14T12:00:00Z"), g=BAR, u=None)
    lane.write("unit_check", record_id("removed"), check("2026-06-14T12:00:00Z", note="removed for good"))
    lane.write("unit_check", record_id("removed"), {"_deleted": True})
    lane.write("sighting", record_id("oysters"), {"found": "seen", "seen_at": "2026-06-15T03:30:00Z", "species_id": record_id("oyster"), "count": 3, "near_unit_id": UNIT})
    lane.write("position_fix", record_id("fix"), {
        "of_kind": "unit", "of_id": UNIT, "fixed_at": "2026-06-14T10:30:00Z", "method": "rtk", "east_m": 3.01, "north_m": 4.0, "sigma_m": 0.02,
    })  # fmt: skip
    other.now_ms = lane.now_ms - 3000
    other.person_id = RUTH
    other.write("unit_check", record_id("check 0"), {"exposed_height_mm": 250})
    lane.write("unit_check", record_id("check 0"), {"exposed_height_mm": 240})


def check(checked_at: str, **fields: object) -> dict[str, object]:
    """A check of the unit with a few measures."""
    return {"unit_id": UNIT, "checked_at": checked_at, "found_state": "seen", "tilt_deg": 20, "rocking": False, "crack_width_mm": 0.5, **fields}


def make_shore(folder: Path) -> Programme:
    """The programme, made anew in a folder."""
    create_programme(folder, "Alder Spit").close()
    opened = open_programme(folder, CATALOGUE, START_MS)
    db = opened.db()
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [LEAD.device_id] * 2)
    lane, other = Lane("lead", SPIT), Lane("other", SPIT)
    tell_story(lane, other)
    for written in (lane, other):
        reply = receive(db, written.body(1), CATALOGUE, lambda: LEAD, lambda: START_MS + 10_000_000)
        assert [ack for ack in reply["acks"] if ack[2] != "ok"] == [], reply["acks"]
    return opened


@pytest.fixture(scope="session")
def shore_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the programme, which tests only read."""
    folder = tmp_path_factory.mktemp("shore") / "programme"
    make_shore(folder).close()
    return folder


@contextmanager
def exported(folder: Path, **wanted: object) -> Iterator[Export]:
    """An export of a folder's programme."""
    with one_state(folder / "fieldlog.sqlite") as db:
        yield Export(db, CATALOGUE, Wanted(**wanted), MADE_BY)


@pytest.fixture
def some(shore_folder: Path) -> Iterator[Export]:
    """Some tables, for tests that read them all with a slow reader."""
    with exported(shore_folder, names=True, kinds=("site", "unit", "unit_check", "sighting", "position_fix", "flag", "disagreement")) as export:
        yield export


@pytest.fixture
def made(shore_folder: Path) -> Iterator[Export]:
    """All that a lead may take, with names and contacts."""
    with exported(shore_folder, names=True, private=True, history=True) as export:
        yield export
