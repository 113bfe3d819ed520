"""`fieldlog purge`: a person by name, or contacts and medical notes by age; asked twice."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from datetime import UTC, datetime, timedelta

import pytest

from fieldlog.__main__ import main
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme
from tests.sync.lines import Lane, record_id
from tests.sync.taking import LEAD, SITE, take, verdicts

K = {"k": "ab" * 16}
OLD, NEW = record_id("Maria"), record_id("Theo")


@pytest.fixture
def folder(programme):
    """Two people with a contact and a note each: one was last here 40 days ago, the other yesterday."""
    lane, now = Lane("lead", SITE), datetime.now(UTC)
    for name, person, days in (("Maria Quintanilla", OLD, 40), ("Theo Vance", NEW, 1)):
        at = (now - timedelta(days=days)).isoformat().replace("+00:00", "Z")[:19] + "Z"
        lane.write("person", person, {"display_name": name}, **K)
        lane.write("person_private", record_id(f"{name} contact"), {"person_id": person, "phone": "555 0142"}, **K)
        lane.write("sign_in", record_id(f"{name} turn"), {"person_id": person, "in_at": at})
        lane.write("sign_in_private", record_id(f"{name} note"), {"sign_in_id": record_id(f"{name} turn"), "medical_note": "wasp"}, **K)
    lane.now_ms = int(now.timestamp() * 1000)
    assert verdicts(take(programme.db(), lane, LEAD)) == ["taken"] * 8
    programme.close()
    return programme.folder


def purge(folder, *arguments: str, typed: str = "") -> tuple[int, str, str]:
    out, err, before = io.StringIO(), io.StringIO(), sys.stdin
    sys.stdin = io.StringIO(typed)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as ended:
            main(["--data", str(folder), "purge", *arguments])
    finally:
        sys.stdin = before
    return int(ended.value.code or 0), out.getvalue(), err.getvalue()


def kinds_left(folder) -> list[int]:
    db = open_programme(folder, CATALOGUE, 0).db()
    return [db.conn.execute(f"SELECT count(*) FROM {kind}").fetchone()[0] for kind in ("person", "person_private", "sign_in", "sign_in_private")]


def test_what_is_old_enough_goes_after_two_questions(folder) -> None:
    _, out, _ = purge(folder, "--report")
    assert out == "Contacts: 1 record\nMedical note: 1 record\n"
    status, _, err = purge(folder, typed="yes\n")
    assert (status, err.splitlines()[-1]) == (2, "You typed yes, not delete. Nothing was deleted.")
    assert kinds_left(folder) == [2, 2, 2, 2]
    status, out, err = purge(folder, "--json", typed="delete\nfor good\n")
    assert json.loads(out)["deleted"] == 2
    assert "This cannot be undone." in err
    assert kinds_left(folder) == [2, 1, 2, 1]
    assert purge(folder, "--report")[1] == "No contact or medical note is older than 30 days after its visit.\n"


def test_a_contact_that_went_with_age_may_be_written_again(folder) -> None:
    purge(folder, typed="delete\nfor good\n")
    lane = Lane("again", SITE)
    later_ms = int((datetime.now(UTC) + timedelta(minutes=1)).timestamp() * 1000)
    lane.now_ms = later_ms
    lane.write("person_private", record_id("Maria Quintanilla contact"), {"person_id": OLD, "phone": "555 0999"}, **K)
    db = open_programme(folder, CATALOGUE, 0).db()
    assert verdicts(take(db, lane, LEAD)) == ["taken"]
    assert db.conn.execute("SELECT phone FROM person_private WHERE person_id = ?", (OLD,)).fetchall() == [("555 0999",)]


def test_a_person_is_forgotten_by_name_after_two_questions(folder) -> None:
    status, _, err = purge(folder, "Nobody")
    assert (status, err) == (2, "Nobody here is called Nobody, or has that id.\n")
    _, out, _ = purge(folder, "Maria Quintanilla", "--report")
    assert "Contacts: 1" in out
    assert "seen by lead. Deleted for good." in out
    status, _, err = purge(folder, "Maria Quintanilla", typed="Maria Quintanilla\nno\n")
    assert status == 2
    assert "Nothing was deleted" in err
    status, out, _ = purge(folder, "maria quintanilla", typed="Maria Quintanilla\ndelete\n")
    assert (status, out.splitlines()[0]) == (0, "The name is now M. Q.. Phones delete their copies when they next sync.")
    assert kinds_left(folder) == [2, 1, 2, 1]
