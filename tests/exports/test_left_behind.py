"""How far an export is, told to who looks on; and what one that was killed left, swept by the next."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fieldlog.commands.exporting import Progress
from fieldlog.exports import left_behind
from fieldlog.exports.formats import FORMATS, write_file
from fieldlog.exports.stream import Export

NOW = datetime(2026, 11, 25, tzinfo=UTC)


@pytest.fixture
def gone() -> int:
    """The number of a process that is no more."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    return ended.pid


def folder(place: Path, name: str, days_old: float) -> Path:
    made = place / name
    made.mkdir()
    (made / "part").write_text("rows")
    at = NOW.timestamp() - days_old * 86400
    os.utime(made, (at, at))
    return made


def test_old_folders_of_processes_that_are_gone_are_swept_and_no_others(tmp_path: Path, gone: int, monkeypatch: pytest.MonkeyPatch) -> None:
    swept = folder(tmp_path, f"fieldlog-export-{gone}-abc", 2)
    kept = [
        folder(tmp_path, f"fieldlog-export-{gone}-new", 0.5), folder(tmp_path, f"fieldlog-export-{os.getpid()}-abc", 2), folder(tmp_path, "fieldlog-export-mine", 2),
        folder(tmp_path, f"somebody-{gone}-abc", 2),
    ]  # fmt: skip
    monkeypatch.setattr(left_behind.tempfile, "tempdir", str(tmp_path))
    with left_behind.temporary_folder(NOW) as own:
        assert own.parent == tmp_path and not swept.exists()
    assert sorted(tmp_path.iterdir()) == sorted(kept)


def test_what_was_begun_under_the_same_name_goes_with_the_next_export(made: Export, tmp_path: Path, gone: int) -> None:
    half, other = tmp_path / f".out.zip.{gone}.begun", tmp_path / f".another.zip.{gone}.begun"
    for begun in (half, other):
        begun.write_text("half")
    write_file(made, FORMATS["csv"], tmp_path / "out.zip", lambda _rows: None)
    assert sorted(path.name for path in tmp_path.iterdir()) == [other.name, "out.zip"]


def test_who_looks_on_sees_rows_by_table_and_a_clean_line_at_the_end(made: Export, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldlog.commands.exporting.TELL_EVERY_S", 0.0)
    with Progress(made, True) as progress:
        write_file(made, FORMATS["csv"], tmp_path / "out.zip", progress.count)
    said = capsys.readouterr().err
    assert "Unit check: " in said and f" of about {made.count}" in said and progress.rows > 0
    assert said.split("\r")[-1] == "" and set(said.split("\r")[-2]) == {" "}
    with Progress(made, False) as progress:
        write_file(made, FORMATS["csv"], tmp_path / "again.zip", progress.count)
    assert capsys.readouterr().err == ""
