"""Making, checking, backing up and restoring a programme by command; the demo is the programme."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import sys
import urllib.request
import zipfile
from pathlib import Path

import pytest

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.store import ProgrammeLock, existing_programme, set_setting, setting
from fieldlog.sync import tables
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.screen_checks import ODD_DAY
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id

ROOT = Path(__file__).parents[2]
NOT_DERIVED = {"log", "tray", "lane", "setting", "device", "invitation", "photo_file", "migration", "join_attempt"}


@pytest.fixture
def demo(demo_folder: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "programme"
    shutil.copytree(demo_folder, folder)
    return folder


def dump(folder: Path) -> dict[str, list[str]]:
    """Every table's rows as text, sorted."""
    db = sqlite3.connect(folder / "fieldlog.sqlite")
    db.row_factory = sqlite3.Row
    names = [row["name"] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")]
    told = {name: sorted(repr(tuple(row)) for row in db.execute(f'SELECT * FROM "{name}"')) for name in names}
    db.close()
    return told


def test_init_makes_an_empty_programme_with_a_leads_invitation(call, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    said = call("init", "--name", "Skein Bay", "--address", "https://reef.example/", "--json", data=folder).document
    assert said["programme"] == "Skein Bay"
    assert said["invitation"]["role"] == "lead"
    assert said["invitation"]["link"].startswith("https://reef.example/#join=")
    assert (said["second_lead"]["role"], said["second_lead"]["uses"]) == ("lead", 1)
    assert said["second_lead"]["code"] != said["invitation"]["code"]
    set_setting(existing_programme(folder).db(), "address", "http://localhost:8080")
    assert call("doctor", data=folder).status == 1, "there is no backup yet"
    invited = call("invite", "--role", "crew", "--uses", 12, "--json", data=folder).document
    assert (invited["role"], invited["uses"]) == ("crew", 12)


def test_init_on_a_programme_is_refused(call, refused, demo: Path) -> None:
    assert "programme" in refused("init", data=demo)
    assert call("flags", "--json", data=demo).status == 0


@pytest.mark.parametrize("command", [("flags",), ("replay",), ("doctor",), ("windows",), ("invite", "--role", "crew"), ("serve",)])
def test_a_folder_without_a_programme_is_told_so(refused, tmp_path: Path, command: tuple[str, ...]) -> None:
    assert str(tmp_path) in refused(*command, data=tmp_path)


def test_replay_rebuilds_every_table_to_the_same_content(call, demo: Path) -> None:
    before = dump(demo)
    db = sqlite3.connect(demo / "fieldlog.sqlite")
    spoilt = [name for name in before if name in CATALOGUE.kinds or name in ("flag", "disagreement")]
    for name in spoilt:
        db.execute(f'DELETE FROM "{name}"')
    db.commit()
    db.close()
    assert dump(demo) != before
    assert call("replay", "--json", data=demo).document["entries"] == len(before["log"])
    after = dump(demo)
    assert {name for name in before if after[name] != before[name]} <= {"pack_mark"}, "marks are drawn, not derived"
    assert all(before[name] for name in ("unit_check", "flag", "disagreement", "sighting", "sign_in", "person_private"))


def times_made(folder: Path) -> int:
    """How often a table, index or trigger was made or dropped in a folder's life, as SQLite counts it."""
    db = sqlite3.connect(folder / "fieldlog.sqlite")
    (count,) = db.execute("PRAGMA schema_version").fetchone()
    db.close()
    return int(count)


def test_a_replay_makes_the_tables_of_an_older_version_once(call, tmp_path: Path) -> None:
    """Before, they were made at opening and again for the command."""
    call("init", data=tmp_path / "new")
    counts = [times_made(tmp_path / "new")]
    for made_as in ("today's", "older"):
        if made_as == "older":
            set_setting(existing_programme(tmp_path / "new").db(), "tables", made_as)
        assert call("replay", data=tmp_path / "new").status == 0
        counts.append(times_made(tmp_path / "new"))
    assert counts[2] - counts[1] == counts[1] - counts[0] > len(CATALOGUE.kinds)
    assert setting(existing_programme(tmp_path / "new").db(), "tables") == tables.MADE_AS


def test_a_replay_takes_what_an_older_version_could_not_read(call, tmp_path: Path) -> None:
    call("init", data=tmp_path / "new")
    lane, db = keyed_lane("lead"), open_programme(tmp_path / "new", CATALOGUE, 0).db()
    lane.write("species", record_id("crab"), {"scientific_name": "Invented crab"})
    older = Catalogue([kind for kind in CATALOGUE.kinds.values() if kind.name != "species"])
    lead = Device("a lead", "lead", None, None, False)
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES ('a lead', 'x', 'lead', NULL, 'a phone', 0)")
    receive(db, lane.body(), older, lambda: lead, lambda: lane.now_ms)
    assert db.execute("SELECT why FROM tray").fetchall() == [("unknown-kind",)]
    set_setting(db, "catalogue", older.hash)
    set_setting(db, "tables", "older")
    assert call("replay", data=tmp_path / "new").status == 0
    assert db.execute("SELECT scientific_name FROM species").fetchall() == [("Invented crab",)]
    assert db.execute("SELECT why FROM tray").fetchall() == []


def test_a_backup_is_checked_moves_durable_and_can_be_restored(call, demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "kept" / "all.zip"
    db = open_programme(demo, CATALOGUE, 0).db()
    assert db.execute("SELECT max(durable) FROM lane").fetchone() == (0,)
    said = call("backup", file, "--json", data=demo).document
    assert said["photos"] == db.execute("SELECT count(*) FROM photo_file").fetchone()[0] > 0
    assert db.execute("SELECT count(*) FROM lane WHERE durable < top").fetchone() == (0,)
    before = dump(demo)
    elsewhere = tmp_path / "elsewhere"
    assert call("restore", file, data=elsewhere).status == 0
    after = dump(elsewhere)
    # Who may do what waits to be confirmed on another machine (tests/backup/test_confirming.py).
    same = set(before) - {"setting", "lane", "photo_file", "migration", "pack_mark", "device", "invitation"}
    assert {name for name in same if after[name] != before[name]} == set()
    photos = sorted(path.name for path in (elsewhere / "photos").iterdir() if len(path.name) == 64)
    assert photos == sorted(row[0] for row in db.execute("SELECT sha256 FROM photo_file").fetchall())
    for path in photos[:3]:
        assert (elsewhere / "photos" / path).read_bytes() == (demo / "photos" / path).read_bytes()
    assert "are intact" in call("doctor", data=elsewhere).out


def test_restoring_moves_what_was_there_aside(call, demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "all.zip"
    call("backup", file, data=demo)
    said = call("restore", file, "--json", data=demo).document
    assert (Path(said["before"]) / "fieldlog.sqlite").exists()


@pytest.mark.parametrize("harm", ["cut", "byte", "text", "photo"])
def test_a_backup_that_is_not_what_was_written_is_refused_and_changes_nothing(call, refused, demo: Path, tmp_path: Path, harm: str) -> None:
    file = tmp_path / "all.zip"
    call("backup", file, data=demo)
    whole = file.read_bytes()
    if harm == "cut":
        file.write_bytes(whole[: len(whole) // 2])
    elif harm == "text":
        file.write_text("not a backup")
    elif harm == "byte":
        spoilt = bytearray(whole)
        spoilt[len(whole) // 2] ^= 0xFF
        file.write_bytes(bytes(spoilt))
    else:
        with zipfile.ZipFile(file) as packed, zipfile.ZipFile(tmp_path / "less.zip", "w") as less:
            names = packed.namelist()
            photo = next(name for name in names if name.startswith("photos/"))
            for name in names:
                if name != photo:
                    less.writestr(name, packed.read(name))
        file = tmp_path / "less.zip"
    before = dump(demo)
    assert "backup" in refused("restore", file, data=demo)
    assert dump(demo) == before


def test_a_second_server_on_the_same_folder_is_refused(refused, demo: Path) -> None:
    with ProgrammeLock(demo):
        assert "another" in refused("serve", data=demo).lower()


def test_a_replay_goes_on_beside_a_server_that_reads_meanwhile(call, demo: Path) -> None:
    server = sqlite3.connect(demo / "fieldlog.sqlite")
    (checks,) = server.execute("SELECT count(*) FROM unit_check").fetchone()
    with ProgrammeLock(demo):
        server.execute("BEGIN")
        assert server.execute("SELECT count(*) FROM unit_check").fetchone() == (checks,)
        assert call("replay", "--json", data=demo).status == 0
        assert server.execute("SELECT count(*) FROM unit_check").fetchone() == (checks,), "what was begun is read to its end"
        server.execute("COMMIT")
        assert server.execute("SELECT count(*) FROM unit_check").fetchone() == (checks,)
    server.close()


def test_the_doctor_finds_a_spoilt_line_and_a_spoilt_photo(call, demo: Path) -> None:
    call("backup", demo / "one.zip", data=demo)
    said_else = ("held", "clock", "leads", "address", "certificate")
    assert all(finding["ok"] for finding in call("doctor", "--json", data=demo).document["findings"] if finding["word"] not in said_else)
    db = sqlite3.connect(demo / "fieldlog.sqlite")
    db.execute("UPDATE log SET line = CAST(replace(CAST(line AS TEXT), 'seen', 'lost') AS BLOB) WHERE seq = (SELECT min(seq) FROM log WHERE kind = 'unit_check')")
    (sha256,) = db.execute("SELECT sha256 FROM photo_file LIMIT 1").fetchone()
    db.commit()
    db.close()
    (demo / "photos" / sha256).write_bytes(b"spoilt")
    said = call("doctor", "--json", data=demo)
    assert said.status == 1
    unsound = " ".join(finding["sentence"] for finding in said.document["findings"] if finding["word"] in ("unsound", "photos-missing"))
    assert sha256[:12] in unsound
    assert "Restore the newest backup" in unsound


def exported_species(phone: Lane, tmp_path: Path, **header: object) -> Path:
    for number in range(3):
        phone.write("species", f"0000000{number}-0000-4000-8000-000000000000", {"scientific_name": f"Invented {number}"})
    file = tmp_path / "phone.ndjson"
    file.write_bytes(phone.body(first=len(phone.texts) - 2, **header))
    return file


def test_an_exported_file_is_taken_once_by_the_rights_of_the_device_that_holds_its_lane(call, client_of, programme, tmp_path: Path) -> None:
    lane = keyed_lane("lead")
    lane.write("species", record_id("oyster"), {"scientific_name": "Ostrea"})
    assert client_of("lead").post("/api/sync", data=lane.body()).json["acks"][0][2] == "ok"
    file = exported_species(lane, tmp_path)
    said = call("ingest", file, "--json", data=programme.folder).document
    assert (said["lines"], said["taken"], said["known"]) == (3, 3, 0)
    again = call("ingest", file, "--json", data=programme.folder).document
    assert (again["taken"], again["known"]) == (0, 3)


def test_a_file_that_shows_no_key_writes_as_crew_of_one_site_whatever_device_it_names(call, client_of, programme, tmp_path: Path) -> None:
    lead, site = client_of("lead"), record_id("Alder Spit")
    lane = Lane("lead", site)
    lane.write("site", site, REQUIRED["site"])
    assert lead.post("/api/sync", data=lane.body()).json["acks"][0][2] == "ok"
    for phone in (Lane("unknown"), lane):
        file = exported_species(phone, tmp_path, device=lead.device_id)
        phone.write("sighting", record_id(f"seen in {phone.lane_id}"), REQUIRED["sighting"], g=site)
        file.write_bytes(phone.body(first=len(phone.texts) - 3, device=lead.device_id))
        said = call("ingest", file, "--json", data=programme.folder).document
        assert (said["taken"], said["held"]) == (1, 3)


def test_a_file_that_proves_nothing_needs_a_site_where_there_are_several(call, client_of, programme, tmp_path: Path) -> None:
    lane = keyed_lane("lead")
    for name in ("Alder Spit", "Heron Bar"):
        lane.write("site", record_id(name), REQUIRED["site"] | {"name": name}, g=record_id(name))
    client_of("lead").post("/api/sync", data=lane.body())
    file = exported_species(Lane("unknown"), tmp_path)
    said = call("ingest", file, data=programme.folder)
    assert said.status == 2 and "--site" in said.err
    assert call("ingest", file, "--site", "Heron Bar", "--json", data=programme.folder).document["held"] == 3


def test_a_file_whose_lane_has_a_key_that_it_lacks_is_told_as_that(call, client_of, programme, tmp_path: Path) -> None:
    lane = keyed_lane("lead")
    lane.write("site", record_id("Alder Spit"), REQUIRED["site"], g=record_id("Alder Spit"))
    assert client_of("lead").post("/api/sync", data=lane.body()).json["acks"][0][2] == "ok"
    lane.key = None
    said = call("ingest", exported_species(lane, tmp_path), "--json", data=programme.folder).document
    assert (said["taken"], said["held"]) == (0, 0)
    assert "the file has no key for it" in said["sentences"][0]


@pytest.mark.parametrize("text", ["", "hello", '{"p":1}', "\x00\x01"])
def test_a_file_that_is_no_export_is_refused(call, programme, tmp_path: Path, text: str) -> None:
    file = tmp_path / "phone.ndjson"
    file.write_text(text)
    said = call("ingest", file, data=programme.folder)
    assert said.status == 2
    assert "Traceback" not in said.err
    assert said.err.strip()


def test_a_spoilt_database_is_told_without_a_traceback(refused, demo: Path) -> None:
    for beside in demo.glob("fieldlog.sqlite-*"):
        beside.unlink()
    (demo / "fieldlog.sqlite").write_bytes(b"not a database at all" * 400)
    assert "Restore the newest backup" in refused("flags", data=demo)


def test_flags_and_windows_of_the_demo_are_one_json_document_each(call, demo: Path) -> None:
    flags = call("flags", "--json", data=demo).document
    assert {"damaged", "displaced"} <= {flag["rule"] for flag in flags}
    two_values = next(flag["sentence"] for flag in flags if flag["rule"] == "disagreement")
    assert re.search(r", visit of \w+ \d+, 2026: two phones wrote .+ \(\w.+, 2026, \d\d:\d\d\) and .+ \(\w.+\) for .+ is used until someone decides", two_values), two_values
    windows = call("windows", "--from", "2026-11-25", "--days", 20, "--rows", "--json", data=demo).document
    assert {window["row"] for window in windows} == {None, "A", "B", "C", "D"}
    assert "No site" in call("windows", "--site", "Nowhere", data=demo).err
    assert existing_programme(demo).folder == demo


def test_no_command_says_a_day_in_another_way_than_the_screens(call, demo: Path) -> None:
    said = call("flags", data=demo).out + call("windows", "--from", "2026-11-25", "--days", 5, data=demo).out
    assert "Thu, Nov 26, 2026" in said
    assert ODD_DAY.findall(said) == []


def test_a_server_is_up_and_a_proxys_word_is_heard_only_when_told(demo: Path) -> None:
    for told, expected in (("1", True), ("0", False)):
        served = subprocess.Popen(
            [sys.executable, "-m", "fieldlog", "--data", str(demo), "serve", "--port", "0"], stdout=subprocess.PIPE, text=True, cwd=ROOT,
            env={"PATH": "", "FIELDLOG_BEHIND_PROXY": told, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        try:
            said = served.stdout.readline()
            address = next(word for word in said.split() if word.startswith("http")).rstrip(";.,")
            asked = urllib.request.Request(f"{address}/healthz", headers={"X-Forwarded-Proto": "https", "X-Forwarded-Host": "reef.example", "X-Forwarded-For": "192.0.2.9"})
            with urllib.request.urlopen(asked) as answer:
                assert ("Strict-Transport-Security" in answer.headers) is expected
                assert json.loads(answer.read())
        finally:
            served.terminate()
            assert served.wait(timeout=20) is not None
            served.stdout.close()
