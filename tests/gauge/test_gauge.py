"""A logger's record from the file to a chosen tide, over HTTP and by the command; the heavy work in a child process."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flask import Flask
from flask.testing import FlaskClient
from made import BEGIN, beside, tide_of, times, weather
from sqlite_utils import Database

from fieldlog import child, create_app, serving
from fieldlog.access.bodies import MAX_RECORD_BYTES
from fieldlog.errors import SiteNotReady, StationUnknown, WorkFailed
from fieldlog.gauge.allowances import asks_for
from fieldlog.gauge.kept import records, work_out
from fieldlog.stations import find, station_of
from fieldlog.store import Programme, write
from fieldlog.tides.predict import predict_levels
from fieldlog.tides.yearly import has_season
from tests.live_server import code_for

FORT = find("noaa/8670870")


def logger_file(days: float = 20.0, *, dry_below_m: float | None = None, as_pressure: bool = False) -> str:
    """A made logger's file near the demo's reference port."""
    rng = np.random.default_rng(4)
    t = times(BEGIN, days)
    level = tide_of(beside(FORT, rng), BEGIN, days)(t) + weather(len(t), 360.0, 0.05, rng)
    if dry_below_m is not None:
        level = np.maximum(level, dry_below_m)
    values = 101.325 + (level + 1.2) * 1.02 * 9.80665 if as_pressure else level + 3.4
    head = "time UTC,pressure kPa" if as_pressure else "time UTC,level m"
    stamps = (datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d %H:%M") for at in t)
    return head + "\n" + "".join(f"{stamp},{value:.4f}\n" for stamp, value in zip(stamps, values, strict=True))


def site_of(programme: Programme) -> dict[str, Any]:
    return next(iter(programme.db().query("SELECT * FROM site")))


def at(site: dict[str, Any]) -> str:
    return f"/api/sites/{site['record_id']}/water-records"


NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture
def app_of_demo(demo_programme: Programme) -> Iterator[Flask]:
    made = create_app(demo_programme.folder, lambda: NOW)
    yield made
    assert made.extensions["works"].wait()
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


def joined(app: Flask, programme: Programme, role: str) -> FlaskClient:
    client = app.test_client()
    code = code_for(programme, role, None, int(NOW.timestamp() * 1000))
    assert client.post("/api/join", json={"code": code, "device_name": "a phone"}).status_code == 200
    return client


@pytest.fixture
def lead(demo_programme: Programme, app_of_demo: Flask) -> FlaskClient:
    return joined(app_of_demo, demo_programme, "lead")


def brought(lead: FlaskClient, programme: Programme, **asked: Any) -> dict[str, Any]:
    """What becomes of a record that a lead brings."""
    answer = lead.post(at(site_of(programme)), json=asked)
    assert answer.status_code == 202, answer.json
    assert lead.application.extensions["works"].wait()
    (found,) = lead.get(at(site_of(programme))).json["records"]
    return found


def test_a_file_is_shown_as_it_is_read_and_nothing_is_stored(lead: FlaskClient, demo_programme: Programme) -> None:
    found = lead.post(f"{at(site_of(demo_programme))}/look", json={"text": logger_file(2)}).json
    assert found["names"] == ["time UTC", "level m"]
    assert (found["columns"]["zone"], found["columns"]["unit"]) == ("UTC", "m")
    assert found["first_rows"][0][0] == "2026-03-01 00:00"
    assert lead.get(at(site_of(demo_programme))).json["records"] == []


def test_a_record_becomes_ways_to_choose_from_and_the_chosen_one_is_the_sites_tide(lead: FlaskClient, demo_programme: Programme) -> None:
    found = brought(lead, demo_programme, name="Row D post", text=logger_file(40))
    assert (found["state"], found["name"], found["fault"]) == ("done", "Row D post", None)
    result = found["result"]
    assert [one["kind"] for one in result["candidates"]] == ["station", "offsets", "constants"]
    assert result["proposed"] != "station"
    assert result["datums"]["above_chart_datum_m"]["MLLW"] == 0
    best = next(one for one in result["candidates"] if one["kind"] == result["proposed"])
    assert best["residuals"]["basis"].startswith("meant for at most 1 low in 20. In simulated years, 2 lows in 100 went over it")
    assert len(best["residuals"]["basis"]) <= 200, "it is kept in a text of the site"
    parts = best["residuals"]["allowance"]
    assert best["residuals"]["allowance_m"] == pytest.approx(parts["shown_m"] + parts["more_m"], abs=0.006)
    assert (parts["days"], parts["is_year"], best["residuals"]["asks"]) == (40, False, None)
    constants = next(one for one in result["candidates"] if one["kind"] == "constants")
    assert {"name": "K2", "beside": "S2", "needs_days": 182.6} in constants["not_parted"]
    assert all(one["amplitude_ci_m"] >= 0 for one in constants["constants"])
    needs = {one["name"]: one["needs_days"] for one in constants["constants"]}
    assert (needs["S2"], needs["N2"], needs["K2"], needs["P1"]) == (14.8, 27.6, 182.6, 182.6)
    site = site_of(demo_programme) | {"tide_station": best["station_id"]}
    station = station_of(demo_programme.db(), site)
    assert station.chart_datum == FORT.chart_datum
    t = times(BEGIN, 5)
    truth = tide_of(beside(FORT, np.random.default_rng(4)), BEGIN, 5)(t)
    own = predict_levels(station, t.astype("datetime64[s]"))
    assert np.std(own - truth) < 0.08


def test_pressure_becomes_depth_and_says_where_the_air_comes_from(lead: FlaskClient, demo_programme: Programme) -> None:
    found = brought(lead, demo_programme, text=logger_file(6, as_pressure=True), salinity_psu=28, temperature_c=20)["result"]
    assert "the air counts as 101.325 kPa" in found["record"]["air"]
    assert found["record"]["density_kg_m3"] == pytest.approx(1019.43, abs=0.01)
    assert any("harmonic constants need 14 or more" in reason for reason in found["reasons"])


def test_faults_of_a_record_are_told_in_sentences(lead: FlaskClient, demo_programme: Programme) -> None:
    found = brought(lead, demo_programme, text=logger_file(30, dry_below_m=0.1))["result"]
    (dry,) = [one for one in found["faults"] if one["word"] == "dry"]
    assert "was dry at" in dry["sentence"]
    assert "so the record has no lows below that level" in dry["sentence"]


def control_file(days: float, plus_m: float = 0.0, unit: str = "level m") -> str:
    """What the reference port's gauge observed, above its chart datum."""
    t = times(BEGIN, days)
    level = tide_of(FORT, BEGIN, days)(t) + weather(len(t), 360.0, 0.05, np.random.default_rng(9)) + plus_m
    stamps = (datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d %H:%M") for at in t)
    return f"time UTC,{unit}\n" + "".join(f"{stamp},{value:.3f}\n" for stamp, value in zip(stamps, level, strict=True))


def test_the_ports_own_gauge_makes_the_datums_better(lead: FlaskClient, demo_programme: Programme) -> None:
    alone = brought(lead, demo_programme, text=logger_file(20))["result"]["datums"]
    lead.post(at(site_of(demo_programme)), json={"text": logger_file(20), "control": {"text": control_file(20)}})
    assert lead.application.extensions["works"].wait()
    told = [record["result"]["datums"] for record in lead.get(at(site_of(demo_programme))).json["records"]]
    (beside,) = (datums for datums in told if datums["method"] == "modified range ratio with the control station")
    assert alone["method"] == "modified range ratio with the control station's predictions"
    assert all(beside["errors_m"][name] < 0.7 * error for name, error in alone["errors_m"].items()), (beside, alone)


@pytest.mark.parametrize(
    ("control", "sentence"),
    [(control_file(10, 1.2), "levels are +1.2"), (control_file(10, 0.0, "level ft"), "its chart datum, MLLW"), (control_file(10, 0.0, "pressure kPa"), "holds pressures")],
)
def test_a_control_record_on_another_datum_is_refused(lead: FlaskClient, demo_programme: Programme, control: str, sentence: str) -> None:
    found = brought(lead, demo_programme, text=logger_file(10), control={"text": control})
    assert found["state"] == "failed"
    assert sentence in found["fault"]


@pytest.mark.parametrize(
    ("times", "plus", "sentence"), [(0.0, 1.0, "cannot be this shore's water"), (100.0, 0.0, "Is its unit right?"), (-1.0, 5.0, "a distance down to the water")]
)
def test_what_is_no_tide_of_this_shore_proposes_nothing(lead: FlaskClient, demo_programme: Programme, times: float, plus: float, sentence: str) -> None:
    lines = logger_file(10).splitlines()
    text = "\n".join([lines[0], *(f"{line[:17]}{times * float(line[17:]) + plus:.4f}" for line in lines[1:])])
    found = brought(lead, demo_programme, text=text)
    assert found["state"] == "failed"
    assert sentence in found["fault"]


def test_levels_too_far_apart_are_told(lead: FlaskClient, demo_programme: Programme) -> None:
    head, *lines = logger_file(20).splitlines()
    found = brought(lead, demo_programme, text="\n".join([head, *lines[::30]]))
    assert found["state"] == "failed"
    assert "180 min apart" in found["fault"]


def test_many_small_gaps_are_told_as_one(lead: FlaskClient, demo_programme: Programme) -> None:
    head, *lines = logger_file(20).splitlines()
    text = "\n".join([head, *(line for n, line in enumerate(lines) if n % 100 and not 2000 < n < 2100)])
    found = brought(lead, demo_programme, text=text)
    told = [fault["sentence"] for fault in found["result"]["faults"] if fault["word"] in ("gap", "more-gaps")]
    # 4,800 levels less each hundredth: 47 gaps after the first level, of which two are the ends of the long one.
    assert len(told) == 8 + 1
    assert sum("A gap of 10.2 h" in one for one in told) == 1
    assert told[-1].startswith("38 smaller gaps more from")


def test_a_record_too_short_keeps_its_sentence(lead: FlaskClient, demo_programme: Programme) -> None:
    found = brought(lead, demo_programme, text=logger_file(2))
    assert found["state"] == "failed"
    assert "fewer than 4" in found["fault"]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"text": ""}, "The file is empty"),
        ({"text": "nothing"}, "No line of this file"),
        ({"text": logger_file(2), "salinity_psu": 99}, "salinity_psu is 99"),
        ({"text": logger_file(2), "columns": {"zone": "Mars"}}, "The time zone 'Mars' is not known"),
        ({"text": logger_file(2), "columns": {"unit": "furlong"}}, "The unit 'furlong'"),
        ({"text": logger_file(2), "columns": {"value": "second"}}, "value is the number of a"),
        ({"text": logger_file(2), "columns": {"value": 7}}, "There is no value column number 7"),
        ({"text": logger_file(2), "columns": ["zone"]}, "The upload must be the file's text"),
        ({"text": logger_file(2), "barometer": "air.csv"}, "The upload must be the file's text"),
        ({"text": 7}, "The file is empty"),
    ],
)
def test_what_cannot_be_a_record_is_refused_at_once_or_told(lead: FlaskClient, demo_programme: Programme, asked: dict[str, Any], sentence: str) -> None:
    answer = lead.post(at(site_of(demo_programme)), json=asked)
    assert answer.status_code == 400
    assert sentence in answer.json["detail"]


def test_the_crews_own_readings_say_an_allowance_where_there_are_enough(lead: FlaskClient, demo_programme: Programme) -> None:
    said = lead.get(at(site_of(demo_programme))).json["readings"]
    assert said["count"] >= 15
    assert (said["allowance_m"] is None) == (said["count"] < said["least"])
    assert (said["basis"] is None) == (said["allowance_m"] is None)
    with write(demo_programme.db()) as db:
        db.execute("UPDATE visit SET level_datum = 'NAVD88'")
    assert lead.get(at(site_of(demo_programme))).json["readings"] is None, "a level on another datum is compared with nothing"


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_only_leads_bring_records(demo_programme: Programme, app_of_demo: Flask, role: str) -> None:
    answer = joined(app_of_demo, demo_programme, role).post(at(site_of(demo_programme)), json={"text": logger_file(2)})
    assert answer.status_code == 403


def test_a_record_left_by_a_stopped_server_is_taken_up_again(lead: FlaskClient, demo_programme: Programme) -> None:
    brought(lead, demo_programme, text=logger_file(6))
    with write(demo_programme.db()) as db:
        db.execute("UPDATE water_record SET state = 'working', result = NULL")
    works = lead.application.extensions["works"]
    works.resume()
    assert works.wait()
    (found,) = records(demo_programme.db(), site_of(demo_programme)["record_id"])
    assert found["state"] == "done"


def test_a_site_without_a_port_is_told_to_choose_one_first(lead: FlaskClient, demo_programme: Programme) -> None:
    with write(demo_programme.db()) as db:
        db.execute("UPDATE site SET tide_station = NULL")
    answer = lead.post(at(site_of(demo_programme)), json={"text": logger_file(2)})
    assert (answer.status_code, "reference port" in answer.json["detail"]) == (SiteNotReady.status, True)


def test_a_tide_that_is_not_here_is_told(demo_programme: Programme) -> None:
    with pytest.raises(StationUnknown, match="a water-level record that is not here"):
        station_of(demo_programme.db(), {"tide_station": "own/none/constants", "name": "A"})


def test_the_command_says_how_a_file_is_read_then_works_it_out(demo_programme: Programme, tmp_path: Path) -> None:
    file = tmp_path / "post.csv"
    file.write_text(logger_file(6))
    command = [sys.executable, "-m", "fieldlog", "--data", str(demo_programme.folder), "water-level", str(file)]
    told = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "Nothing was stored" in told.stdout
    done = subprocess.run([*command, "--keep", "--json"], capture_output=True, text=True, check=True)
    result = json.loads(done.stdout)
    assert result["proposed"] == "offsets"
    assert "trying offsets" in done.stderr
    again = sqlite3.connect(demo_programme.path).execute("SELECT count(*) FROM own_station").fetchone()
    assert again == (1,)


def test_a_child_that_dies_is_told_and_harms_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "dying.py").write_text("import os, sys\nsys.stdin.read()\nprint('{\"step\": \"one\"}', flush=True)\nos._exit(3)\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    steps: list[str] = []
    with pytest.raises(WorkFailed, match="stopped without an answer"):
        child.run("dying", {}, steps.append)
    assert steps == ["one"]


def test_a_child_that_hangs_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "hanging.py").write_text("import time\ntime.sleep(60)\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(WorkFailed):
        child.run("hanging", {}, patience_s=1.0)


def test_a_record_that_is_not_here_is_told() -> None:
    db = Database(memory=True)
    db.execute("CREATE TABLE water_record(water_id TEXT, job BLOB, site_id TEXT)")
    with pytest.raises(Exception, match="no water-level record"):
        work_out(db, "none")


def test_whoever_imports_fieldlog_may_import_pandas_too() -> None:
    """It comes along with ortools; only processes of Fieldlog's own go without."""
    code = "import fieldlog, importlib.util; print(importlib.util.find_spec('pandas') is not None); import pandas"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "True"


def test_the_server_never_loads_the_heavy_libraries() -> None:
    code = """
import sys
from fieldlog.__main__ import main
try: main(["serve", "--help"])
except SystemExit: pass
import fieldlog.web
print([m for m in ("utide", "scipy", "pandas", "ortools") if sys.modules.get(m)])
"""
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.splitlines()[-1] == "[]"


def test_the_server_takes_a_body_as_large_as_a_record_may_be() -> None:
    assert serving.BODY_LIMIT > MAX_RECORD_BYTES


def test_twenty_readings_say_an_allowance_with_what_they_do_not_show(lead: FlaskClient, demo_programme: Programme) -> None:
    with write(demo_programme.db()) as db:
        (last,) = db.execute("SELECT max(observed_at) FROM visit WHERE observed_at IS NOT NULL").fetchone()
        rows = db.execute("SELECT record_id FROM visit WHERE observed_at IS NOT NULL AND observed_level_m IS NOT NULL").fetchall()
        assert last and rows
        template = dict(next(demo_programme.db().query("SELECT * FROM visit WHERE record_id = ?", [rows[0][0]])))
        for n in range(20):
            more = template | {"record_id": str(uuid.uuid4()), "observed_at": f"2025-0{1 + n % 8}-15T1{n % 10}:00:00Z", "observed_level_m": 1.0}
            db.execute(f"INSERT INTO visit ({', '.join(more)}) VALUES ({', '.join('?' * len(more))})", list(more.values()))
    said = lead.get(at(site_of(demo_programme))).json["readings"]
    assert said["count"] >= 20
    assert said["allowance_m"] >= 0.2
    assert "readings on fair days in" in said["basis"] and len(said["basis"]) <= 200
    assert said["allowance"]["more_m"] > 0


def test_a_port_without_the_yearly_wave_asks_for_sixty_days() -> None:
    assert "do not show it. Leave the logger out until it has 60 days" in asks_for(40.2, is_season_known=False)
    assert asks_for(12.34, is_season_known=True) == "12.3 days are too few for an allowance. Leave the logger out until it has 28."
    assert asks_for(27.99, is_season_known=True).startswith("27.9 days are too few"), "a record that has 28 would have got one"
    assert has_season(FORT)
    without = replace(FORT, constituents=tuple(one for one in FORT.constituents if one[0] != "SA"))
    assert not has_season(without)
