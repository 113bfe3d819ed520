"""Hours on the command line: sums in words and as JSON, and the files that print."""

from __future__ import annotations

import json
from pathlib import Path

from fieldlog.store import Programme, write


def test_hours_are_listed_and_written_to_files_that_are_never_overwritten(demo_programme: Programme, call, tmp_path: Path) -> None:
    folder, db = demo_programme.folder, demo_programme.db()
    site_id, person_id, name = db.execute("SELECT site_id, record_id, display_name FROM person WHERE role = 'volunteer' ORDER BY display_name LIMIT 1").fetchone()
    with write(db):
        db.execute("INSERT INTO award(record_id, site_id, name) VALUES ('a1', ?, 'Spring grant')", [site_id])
    told = json.loads(call("hours", "--json", data=folder).out)
    assert (told["sign_in_count"], told["total"]["hours"], told["uncounted"]["count"]) == (213, 217.82, 0)
    said = call("hours", "--year", "2026", data=folder).out
    assert "213 sign-ins on record." in said
    assert "Volunteer: " in said
    assert f"{name}: " in said
    letter = tmp_path / "letter.html"
    assert call("hours", "--person", person_id, "--out", letter, data=folder).status == 0
    assert f"Hours of {name}" in letter.read_text("utf-8")
    assert "<style>" in letter.read_text("utf-8"), "it stands alone"
    assert "is there already" in call("hours", "--person", person_id, "--out", letter, data=folder).err
    for suffix, begins in (("csv", b"day,person"), ("xlsx", b"PK"), ("html", b"<!doctype")):
        file = tmp_path / f"sheet.{suffix}"
        assert call("hours", "--award", "spring GRANT", "--out", file, data=folder).status == 0
        assert file.read_bytes().startswith(begins)
    assert "No award is called 'winter'. Known here: Spring grant (a1)." in call("hours", "--award", "winter", "--out", tmp_path / "x.csv", data=folder).err
    assert "Say which file to write: --out FILE." in call("hours", "--award", "none", data=folder).err
    assert "Say whose file to write" in call("hours", "--out", tmp_path / "y.html", data=folder).err
    assert "Name a file that ends in .html." in call("hours", "--person", person_id, "--out", tmp_path / "z.pdf", data=folder).err
    assert "The year is 'soon'" in call("hours", "--year", "soon", data=folder).err
