"""Every answer of the server, and every command, survives any row that the tables can hold."""

from __future__ import annotations

import contextlib
import io
import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import icalendar
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from fieldlog import create_app
from fieldlog.__main__ import COMMANDS, main
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from records.drawn_rows import SITE_ID, Drawing
from records.taken_rows import take_rows
from tests.live_server import code_for
from tests.sync.lines import Lane

NOW = datetime(2026, 11, 28, 11, 44, tzinfo=UTC)
NOW_MS = int(NOW.timestamp() * 1000)
DRAWS = 2
READING = [
    ["flags"], ["flags", "--all"], ["flags", "--site", SITE_ID], ["windows", "--days", "20", "--rows", "--units"], ["windows", "--site", SITE_ID],
    ["windows", "--site", SITE_ID, "--best", "3", "--days", "20"], ["plan", "--site", SITE_ID, "--everything", "--samples"], ["doctor"], ["confirm"], ["replay"],
    ["invite", "--role", "crew", "--site", SITE_ID], ["backup", "{folder}/copy.db"], ["doctor", "{folder}/copy.db"],
    ["stations", "--near", "42.35,-71.05"], ["query", "SELECT * FROM checks"], ["query", "SELECT * FROM flags"], ["sheet", "--site", SITE_ID, "--out", "{folder}/s.html"],
    ["hours"], ["hours", "--year", "2026", "--site", SITE_ID], ["hours", "--award", "none", "--out", "{folder}/h.html"], ["hours", "--award", "none", "--out", "{folder}/h.xlsx"],
    ["export", "--as", "csv", "--out", "{folder}/x.zip", "--names", "--history"], ["purge", "--report", "--days", "0"], ["import", "{folder}/rows.csv", "--site", SITE_ID, "--dry-run"],
]  # fmt: skip
ASKING_NO_ROW = {"demo", "init", "serve", "tide", "restore", "ingest", "water-level", "service"}


@contextmanager
def programme_of(seed: int) -> Iterator[tuple[Programme, Drawing]]:
    with tempfile.TemporaryDirectory() as folder:
        create_programme(Path(folder) / "p", "Skein Bay").close()
        programme = open_programme(Path(folder) / "p", CATALOGUE, NOW_MS)
        drawing = Drawing(seed, NOW)
        take_rows(programme, drawing.rows(), NOW_MS - 86_400_000)
        (programme.folder / "rows.csv").write_text("tag,checked_at,found_state\nA010,2026-11-01T12:00:00Z,seen\n", "utf-8")
        yield programme, drawing
        programme.close()


def called(folder: Path, *arguments: str) -> tuple[int, str, str]:
    """A command's exit status and what it printed; a fault of ours is raised."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(["--data", str(folder), *(one.format(folder=folder) for one in arguments)])
        except SystemExit as ended:
            return int(ended.code or 0), out.getvalue(), err.getvalue()
    raise AssertionError("a command ends by itself")


def answers_of(client: Any, drawing: Drawing) -> Iterator[Any]:
    yield client.post("/api/sync", data=Lane("fresh phone lane").body(cursor=None))
    pack = client.get("/api/pack")
    yield pack
    for path in ("/api/pack/index", "/api/pack/forms", "/api/pack/tray", "/api/devices", "/api/invitations", "/api/photos"):
        yield client.get(path)
    for site_id in drawing.ids["site"]:
        for path in ("pack/sites/{}/windows", "pack/sites/{}/state", "sites/{}/water-records"):
            yield client.get("/api/" + path.format(site_id))
    for unit_id in drawing.ids["unit"]:
        yield client.get(f"/api/pack/sites/{SITE_ID}/units/{unit_id}/flags")
    for person_id in drawing.ids["person"]:
        yield client.get(f"/api/private/{person_id}")
    yield client.post(f"/api/sites/{SITE_ID}/plan", json={"everything": True, "samples": True})
    for part in pack.json["sites"].values():
        answer = client.application.test_client().get(part["calendar"])
        yield answer
        if answer.status_code == 200:
            assert not [event for event in icalendar.Calendar.from_ical(answer.data).walk("VEVENT") if event.errors]


@settings(max_examples=DRAWS, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(seed=st.integers(0, 2**32))
def test_every_answer_survives_any_row(seed: int) -> None:
    with programme_of(seed) as (programme, drawing):
        app = create_app(programme.folder, lambda: NOW)
        for role in ("lead", "crew"):
            client = app.test_client()
            client.post("/api/join", json={"code": code_for(programme, role, None, NOW_MS), "device_name": "a phone"})
            for answer in answers_of(client, drawing):
                assert answer.status_code in (200, 403, 404, 409), answer.text
                if answer.status_code in (404, 409):
                    assert answer.json["detail"].strip()
                    assert "None" not in answer.json["detail"]
        app.extensions["photo_copies"].close()
        app.extensions["programme"].close()


@settings(max_examples=DRAWS, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(seed=st.integers(0, 2**32))
@example(seed=8)
@example(seed=17)
def test_every_command_survives_any_row(seed: int) -> None:
    with programme_of(seed) as (programme, _):
        for arguments in READING:
            for as_json in ([], ["--json"]):
                status, out, err = called(programme.folder, *arguments, *as_json)
                assert "Traceback" not in err and "gave an unexpected answer" not in err
                if as_json and status != 2:
                    json.loads(out)
                assert status == 2 or "None" not in out.replace("None is", "").replace("None yet", ""), (arguments, out)
                assert (status == 2) == bool(err.strip()), (arguments, err)


def test_every_command_that_reads_rows_is_called() -> None:
    assert {one[0] for one in READING} | ASKING_NO_ROW >= set(COMMANDS)


def test_a_site_that_is_not_ready_does_not_hide_the_others(programme: Programme) -> None:
    ready = {
        "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
        "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
    }  # fmt: skip
    envelope = {"visit_id": None, "created_by": None}
    sites = [{"record_id": "a" * 36, "site_id": "a" * 36, "name": "Alder Spit", **ready, **envelope}, {"record_id": "b" * 36, "site_id": "b" * 36, "name": None, **envelope}]
    take_rows(programme, {"site": sites}, NOW_MS)
    status, out, _ = called(programme.folder, "windows", "--days", "20")
    assert status == 0
    assert "Alder Spit" in out
    assert "This site has no" in out
