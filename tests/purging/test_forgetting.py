"""Somebody is forgotten: what they are called, how they are reached and what ails them is nowhere any more; hours, chains and checks stand."""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fieldlog.backup import make_backup
from fieldlog.backup_file import opened_backup
from fieldlog.doctor import examine
from fieldlog.purging.aged import aged_records
from fieldlog.purging.doing import forget
from fieldlog.purging.held import held_about
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, create_programme, write
from fieldlog.sync.opening import open_programme
from fieldlog.sync.replay import replay
from tests.sync.lines import START_MS, Lane, record_id
from tests.sync.model_phone import short_hash
from tests.sync.taking import CREW, DESK, INES, LEAD, SITE, take, verdicts

MARIA, SIGN_IN = record_id("Maria"), record_id("Maria's turn")
CONTACT, NOTE = record_id("Maria's contact"), record_id("Maria's note")
SECRETS = [b"Quintanilla", b"Wexford", b"555-0142", b"bee stings", b"Rosalind"]
NOW = datetime.fromtimestamp(START_MS / 1000 + 86_400, UTC)
K = {"k": "ab" * 16}


@pytest.fixture
def programme(tmp_path: Path) -> Programme:
    create_programme(tmp_path / "programme", "Alder Spit").close()
    programme = open_programme(tmp_path / "programme", CATALOGUE, START_MS)
    for device in (LEAD, CREW, DESK):
        programme.db().execute(
            "INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, ?, ?, 'a phone', 0)",
            (device.device_id, device.device_id, device.role, device.sites and json.dumps(sorted(device.sites))),
        )
    return programme


def desk_lane() -> Lane:
    lane = Lane("desk", SITE)
    lane.write("person", MARIA, {"display_name": "Rosalind Wexford", "role": "student", "minor": True}, **K)
    lane.write("person", MARIA, {"display_name": "Maria Quintanilla"}, **K)
    lane.write("person_private", CONTACT, {"person_id": MARIA, "phone": "555-0142", "guardian_name": "Rosalind Wexford"}, **K)
    lane.write("sign_in", SIGN_IN, {"person_id": MARIA, "in_at": "2026-09-22T06:12:00Z", "out_at": "2026-09-22T09:42:00Z"})
    lane.write("sign_in_private", NOTE, {"sign_in_id": SIGN_IN, "medical_note": "bee stings"}, **K)
    lane.write("person", INES, {"display_name": "Ines Calder"}, **K)
    return lane


def purge(programme: Programme) -> bool:
    held = held_about(programme.db(), CATALOGUE, MARIA, NOW.date())
    return forget(programme, CATALOGUE, MARIA, held.tag, None, NOW)


def traces(folder: Path) -> list[tuple[str, bytes]]:
    """Where a secret stands in the files below a folder, in the database's free pages and write-ahead file, and within backups."""
    found = []
    for path in folder.rglob("*"):
        if path.is_file():
            texts = [path.read_bytes()]
            if path.suffix == ".zip":
                with zipfile.ZipFile(path) as packed:
                    texts = [packed.read(name) for name in packed.namelist()]
            found += [(path.name, secret) for secret in SECRETS for text in texts if secret in text]
    return found


def rows(programme: Programme) -> dict[str, list[tuple]]:
    db = programme.db()
    own = [*CATALOGUE.kinds, "flag", "disagreement", "purged"]
    return {name: sorted(map(repr, db.conn.execute(f'SELECT * FROM "{name}"').fetchall())) for name in own}


def test_nothing_of_somebody_who_is_forgotten_stands_in_any_file_and_all_checks_hold(programme: Programme) -> None:
    take(programme.db(), desk_lane(), DESK)
    assert traces(programme.folder), "else the search finds nothing"
    hashes = programme.db().conn.execute("SELECT seq, entry_id, lane_id, number, eff, h, ch FROM log ORDER BY seq").fetchall()
    assert purge(programme)
    assert traces(programme.folder) == []
    db = programme.db()
    people = "SELECT display_name, role, minor FROM person ORDER BY role DESC"
    assert db.conn.execute(people).fetchall() == [("M. Q.", "student", 1), ("Ines Calder", None, None)]
    assert db.conn.execute("SELECT person_id, in_at, out_at FROM sign_in").fetchall() == [
        (MARIA, "2026-09-22T06:12:00.000Z", "2026-09-22T09:42:00.000Z")
    ], "hours stay"
    assert [db.conn.execute(f"SELECT count(*) FROM {kind}").fetchone()[0] for kind in ("person_private", "sign_in_private")] == [0, 0]
    assert db.conn.execute("SELECT seq, entry_id, lane_id, number, eff, h, ch FROM log ORDER BY seq").fetchall()[: len(hashes)] == hashes
    assert faults_of(db, None) == []
    assert not {finding.word for finding in examine(programme.folder, CATALOGUE, START_MS) if not finding.ok} & {"unsound", "held", "not-judged"}
    live = rows(programme)
    with write(db):
        replay(db, CATALOGUE)
    assert rows(programme) == live, "a replay says the same"
    made = make_backup(programme, programme.folder.parent / "new.zip", START_MS)
    with opened_backup(programme.folder.parent / "new.zip", None) as opened:
        assert opened.backup.entries == made.entries
    assert traces(programme.folder.parent) == []


def test_what_comes_again_or_late_stays_away(programme: Programme) -> None:
    """The same lines under another lane, as a copied phone writes them; changes that nobody had sent; and private records nobody knew of."""
    db = programme.db()
    lane = desk_lane()
    take(db, lane, DESK)
    purge(programme)
    again = Lane("copied", SITE)
    for text in lane.texts:
        said = json.loads(text)
        again.write(said["t"], said["r"], said["f"], **K, was="0" * 32)
    again.write("person", MARIA, {"display_name": "Maria Quintanilla"}, s="f" * 12 + "0000", **K)
    again.write("person_private", record_id("another"), {"person_id": MARIA, "email": "Quintanilla"}, **K)
    again.write("person_private", record_id("another"), {"phone": "555-0142"}, **K)
    again.write("sign_in_private", record_id("note two"), {"sign_in_id": record_id("turn two"), "medical_note": "bee stings"}, **K)
    again.write("sign_in", record_id("turn two"), {"person_id": MARIA, "in_at": "2026-09-23T06:12:00Z"})
    again.write("sign_in_private", record_id("note two"), {"medical_note": "bee stings"}, **K)
    again.add(b'{"t": "person", "r": "%s", "f": {"display_name": "Quintanilla"}}' % MARIA.encode())
    reply = take(db, again, DESK)
    assert [word for word in verdicts(reply) if word != "taken"] == ["gone"]
    assert not [line for table in ("log", "tray") for (line,) in db.conn.execute(f"SELECT line FROM {table}") if any(secret in line for secret in SECRETS)]
    assert db.conn.execute("SELECT display_name FROM person WHERE record_id = ?", (MARIA,)).fetchall() == [("M. Q.",)]
    assert faults_of(db, None) == []
    again.write("person", record_id("Theo"), {"display_name": "Theo Vance"}, **K)
    assert verdicts(take(db, again, DESK))[-1] == "taken", "the lane goes on"


def test_held_lines_of_somebody_lose_their_text_too(programme: Programme) -> None:
    db = programme.db()
    take(db, desk_lane(), DESK)
    crew = Lane("crew", SITE)
    crew.write("person_private", record_id("not theirs"), {"person_id": MARIA, "phone": "555-0142"}, **K)
    crew.write("person", MARIA, {"display_name": "Quintanilla", "nickname": "Wexford"}, **K)
    assert verdicts(take(db, crew)) == ["not-permitted", "unknown-field:nickname"]
    purge(programme)
    assert traces(programme.folder) == []
    assert db.conn.execute("SELECT line, why, resolved_by IS NOT NULL FROM tray").fetchall() == [(b"", "gone", 1)] * 2


def test_a_backup_from_before_is_purged_again_when_it_is_restored(programme: Programme) -> None:
    take(programme.db(), desk_lane(), DESK)
    before = programme.folder.parent / "before.zip"
    make_backup(programme, before, START_MS)
    purge(programme)
    expected = rows(programme)
    programme.close()
    restored = restore_backup(str(before), programme.folder, CATALOGUE, START_MS)
    assert restored.are_purges_known
    before.unlink()
    assert traces(programme.folder.parent) == []
    again = open_programme(programme.folder, CATALOGUE, START_MS)
    assert rows(again) == expected
    assert faults_of(again.db(), None) == []


def test_phones_are_told_which_entries_went_and_older_ones_start_anew(programme: Programme) -> None:
    db = programme.db()
    lane = desk_lane()
    lane.write("person_private", record_id("other"), {"person_id": INES, "phone": "1"}, **K)
    take(db, lane, DESK)
    asking = Lane("asking", SITE)
    before = {purges: take(db, asking, LEAD, purges=purges)["cursor"] for purges in (True, False)}
    purge(programme)
    new = take(db, asking, LEAD, cursor=before[True], purges=True)
    assert not new["reset"]
    (line,) = [json.loads(text) for *_, text in new["pull"] if text and '"purge"' in text]
    assert {kind for kind, _, _ in line["f"]["records"]} == {"person", "person_private", "sign_in_private"}
    assert line["g"] is None
    older = take(db, asking, LEAD, cursor=before[False])
    assert older["reset"]
    assert not any(secret.decode() in text for *_, text in older["pull"] if text for secret in SECRETS)
    assert not take(db, asking, LEAD, cursor=older["cursor"])["reset"], "once a purge"
    own = take(db, lane, DESK, first=len(lane.texts) + 1, prev=lane.chain[-1], purges=True)
    assert {entry_id for _, entry_id, _, text in own["pull"] if text is None} >= set(map(short_hash, lane.texts)), "news of own lines"



def test_a_signed_waiver_stays_until_the_day_of_its_text_and_goes_with_age_after_it(programme: Programme) -> None:
    lead, signed = Lane("lead", SITE), record_id("signed")
    lead.write("person", MARIA, {"display_name": "Maria Quintanilla"}, **K)
    waiver = {"version": "1", "language": "en", "paragraphs": ["Ours."], "used_from_at": "2026-01-01T00:00:00Z", "keep_until": "2026-12-31"}
    lead.write("waiver", record_id("w"), waiver)
    fields = {"person_id": MARIA, "waiver_id": record_id("w"), "signed_as": "self", "signed_name": "M Quintanilla", "signed_at": "2026-09-22T06:00:00Z"}
    lead.write("waiver_signed", signed, fields, **K)
    assert verdicts(take(programme.db(), lead, LEAD)) == ["taken"] * 3
    held = held_about(programme.db(), CATALOGUE, MARIA, NOW.date())
    assert [(one.count, one.fate, one.sentence) for one in held.holdings if one.kind == "waiver_signed"] == [
        (1, "stays", "Stays until Dec 31, 2026, as set with its text.")
    ]  # fmt: skip
    purge(programme)
    assert programme.db().conn.execute("SELECT signed_name FROM waiver_signed").fetchall() == [("M Quintanilla",)]
    assert aged_records(programme.db(), CATALOGUE, 30, datetime(2026, 12, 31, 12, tzinfo=UTC)) == []
    assert aged_records(programme.db(), CATALOGUE, 30, datetime(2027, 1, 1, 12, tzinfo=UTC)) == [("waiver_signed", signed)]
