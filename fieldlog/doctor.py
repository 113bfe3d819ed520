"""Whether a programme is sound and looked after, in sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from fieldlog.access.incidents import MOST_TOLD, incident_sentence, list_incidents
from fieldlog.access.leads import LEADS_WANTED, count_leads
from fieldlog.backup import backup_age_h, backup_gone, photos_missing, photos_named
from fieldlog.backup_file import opened_backup
from fieldlog.days import day_words
from fieldlog.errors import BackupUnsound, DatabaseDamaged
from fieldlog.finding import Finding
from fieldlog.flags.trying import NOT_JUDGED
from fieldlog.lost_photos import lost_photos, set_lost
from fieldlog.machine import look_at_machine
from fieldlog.questions.flags import count_of_rule
from fieldlog.questions.photos import count_of_files_to_come
from fieldlog.records.catalogue import Catalogue
from fieldlog.replica.checking import SETTING
from fieldlog.replica.state import read_state
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted
from fieldlog.soundness import faults_of, whole_photos
from fieldlog.store import Programme, setting, write
from fieldlog.sync.opening import open_programme

RESTORE = "Restore the newest backup: fieldlog restore FILE"

BACKUP_OLD_H = 36
"""A night and half a day: one nightly backup was missed. Our own proposal."""

CLOCK_SLACK_H = 1.0
"""A clock set right by a time server may go back a little. Our own proposal."""

INCIDENT_LOOK_MS = 30 * 24 * 3600 * 1000
"""Incidents are asked about for a month; a device that goes on is asked about for as long. Our own proposal."""

REPLICA_OLD_S = 60.0
"""A replica follows within seconds; a minute is a fault or a server that does not run. Our own proposal."""

SKEW_LOOK_MS = 2 * 60 * 1000
"""A phone's clock is worth a word from here: a walk's minutes are read from it. Our own proposal."""


def examine(folder: Path, catalogue: Catalogue, now_ms: int) -> list[Finding]:
    """
    Look at everything in a programme's folder: soundness of the files, the tray, the phones' clocks, the backups, the leads; and at the machine.

    Of a database that cannot be read, that is the one finding.

    Raises:
        NoProgramme: the folder holds none.
    """
    try:
        programme = open_programme(folder, catalogue, now_ms)
    except DatabaseDamaged as fault:
        return [Finding("unsound", False, fault.sentence)]
    try:
        return [
            *_soundness(programme, now_ms), *_tray(programme), *_incidents(programme, now_ms), *_clocks(programme),
            *_backups(programme, now_ms), *_replica(programme, now_ms), *_leads(programme), *look_at_machine(programme, now_ms),
        ]  # fmt: skip
    except sqlite3.DatabaseError as fault:
        return [Finding("unsound", False, f"SQLite cannot read the database: {fault}. {RESTORE}")]
    finally:
        programme.close()


def examine_backup(file: Path) -> list[Finding]:
    """Look at a backup file on whatever medium, as restoring it would."""
    try:
        with opened_backup(file, None) as opened:
            backup = opened.backup
    except BackupUnsound as fault:
        return [Finding("unsound", False, fault.sentence)]
    made = datetime.fromtimestamp(backup.made_at / 1000, UTC)
    made_at = f"{day_words(made, year=True)}, {made:%H:%M}"
    photos = _photos(backup.photos)
    lacking = [
        Finding(
            "photos-missing", False,
            f"The backup is missing {_photos(len(backup.missing))} whose files were gone or unreadable: {photos_named(backup.missing)}.",
        )
    ] if backup.missing else []  # fmt: skip
    return [
        Finding(
            "sound", True,
            f"The backup of {backup.programme} from {made_at} UTC holds {counted(backup.entries, 'entry', 'entries')}, {backup.held} held, and {photos}. Its database, chains and photos are intact.",
        ),
        *lacking,
    ]  # fmt: skip


def _photos(count: int) -> str:
    return counted(count, "photo")


def _soundness(programme: Programme, now_ms: int) -> Iterator[Finding]:
    db = programme.db()
    faults = faults_of(db, None)
    photos = dict(whole_photos(db, lambda sha256: (programme.photos_folder / sha256).open("rb")))
    missing = [sha256 for sha256, is_whole in photos.items() if not is_whole]
    if lost_photos(db) != set(missing):
        with write(db):
            set_lost(db, missing, now_ms)
    for fault in faults:
        yield Finding("unsound", False, f"{fault} {RESTORE}")
    if not faults:
        entries, lanes = (db.conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "lane"))
        yield Finding(
            "sound", True,
            f"The database, the chains of {counted(entries, 'entry', 'entries')} in {counted(lanes, 'lane')} and"
            f" {counted(len(photos) - len(missing), 'photo')} are intact.",
        )  # fmt: skip
    if missing:
        yield Finding(
            "photos-missing", False,
            f"Photos gone or unreadable in {programme.photos_folder}: {photos_named(missing)}. When the phone that took one syncs, it is asked for it. The next backup restores photos that an older backup or the replica still has. If a photo is nowhere, remove its record.",
        )  # fmt: skip
    coming = count_of_files_to_come(db)
    if coming:
        yield Finding("photos-coming", True, f"Photos that have not arrived yet: {coming}. They are on the phones that took them.")


def _tray(programme: Programme) -> Iterator[Finding]:
    db = programme.db()
    held = db.conn.execute("SELECT count(*) FROM tray WHERE resolved_by IS NULL").fetchone()[0]
    if held:
        yield Finding("held", False, f"Entries held back: {held}. A lead sees each one with its reason under Set-up.")
    else:
        yield Finding("held", True, "No entries are held back.")
    unjudged = count_of_rule(db, NOT_JUDGED)
    if unjudged:
        yield Finding("not-judged", False, f"Flag rules that failed on a record: {unjudged}. Each is a flag “could not be judged”; update the server.")
    unreadable = db.conn.execute("SELECT count(*) FROM photo_file WHERE fault IS NOT NULL").fetchone()[0]
    if unreadable:
        yield Finding("photos", False, f"Photos that cannot be shown: {unreadable}. Their files are kept as they arrived.")


def _incidents(programme: Programme, now_ms: int) -> Iterator[Finding]:
    rows = list_incidents(programme.db(), None)
    new = [row for row in rows if now_ms - row["last_at"] < INCIDENT_LOOK_MS]
    for row in new[:MOST_TOLD]:
        yield Finding("incident", False, f"{incident_sentence(row)} Ask who has it. A lead can end its access under Devices.")
    if len(new) > MOST_TOLD:
        yield Finding("incident", False, f"The lines above are the newest {MOST_TOLD} of {len(new)} in the last 30 days.")
    if not new:
        old = f" Older ones: {len(rows)}." if rows else ""
        yield Finding("incident", True, f"In the last 30 days no device used another device's name.{old}")


def _clocks(programme: Programme) -> Iterator[Finding]:
    rows = programme.db().conn.execute(
        "SELECT name, skew_ms FROM device WHERE revoked_at IS NULL AND abs(skew_ms) >= ? ORDER BY name", (SKEW_LOOK_MS,)
    )
    wrong = [Finding("clock", False, _clock_sentence(name, skew_ms)) for name, skew_ms in rows.fetchall()]
    yield from wrong or [Finding("clock", True, "Every phone's clock is within 2 min of the server's.")]


def _clock_sentence(name: str, skew_ms: int) -> str:
    minutes = round(abs(skew_ms) / 60_000)
    hours, rest = divmod(minutes, 60)
    length = f"{hours} h {rest} min" if hours else f"{rest} min"
    return f"The clock of {name} was {length} {'ahead' if skew_ms > 0 else 'behind'} at its last contact. Set it."


def _backups(programme: Programme, now_ms: int) -> Iterator[Finding]:
    age_h, gone = backup_age_h(programme.db(), now_ms), backup_gone(programme)
    if age_h is None:
        yield Finding("backup", False, "There is no backup yet, so phones keep everything. Make one: fieldlog backup FILE")
    elif age_h < -CLOCK_SLACK_H:
        yield Finding(
            "backup", False,
            f"The last backup is dated {rounded(-age_h, 0)} h in the future: this computer's clock was wrong then, or is now. Set it, then make a"
            " backup: fieldlog backup FILE",
        )  # fmt: skip
    elif age_h > BACKUP_OLD_H:
        yield Finding("backup", False, f"The last backup is {rounded(age_h, 0)} h old; a server makes one every night. See its output.")
    elif gone is not None and gone.parent == programme.backups_folder:
        yield Finding("backup", False, f"The last backup, {gone.name}, is gone from {gone.parent}. Make one: fieldlog backup FILE")
    else:
        age = "less than an hour ago" if age_h < 1 else f"{rounded(age_h, 0)} h ago"
        missing = photos_missing(programme.db())
        without = f", without {_photos(len(missing))} gone or unreadable then: {photos_named(missing)}" if missing else ""
        where = f" into {gone}, which is not here now" if gone is not None else ""
        yield Finding("backup", not missing, f"Backed up {age}{where}{without}.")


def _leads(programme: Programme) -> Iterator[Finding]:
    """A programme that one person alone can open to others ends with that person's phone."""
    leads = count_leads(programme.db(), None)
    if leads < LEADS_WANTED:
        so_far = "No lead has joined yet." if not leads else "Only one lead has joined. Without that person's device nobody can invite or end access."
        yield Finding("leads", False, f"{so_far} Invite {'two' if not leads else 'a second'}: fieldlog invite --role lead")
    else:
        yield Finding("leads", True, f"Leads that have joined: {leads}.")


def _replica(programme: Programme, now_ms: int) -> Iterator[Finding]:
    place = setting(programme.db(), SETTING)
    if not place:
        return
    state = read_state(programme.folder)
    if state is None or state.place != place or state.synced_at is None:
        why = f" {state.fault}" if state is not None and state.fault else " A running server starts it."
        yield Finding("replica", False, f"The replica {place} has not started, so phones keep everything.{why}")
        return
    lag_s = max(0, now_ms - state.synced_at) / 1000
    until = f"{rounded(lag_s, 0)} s" if lag_s < 120 else f"{rounded(lag_s / 60, 0)} min" if lag_s < 7200 else f"{rounded(lag_s / 3600, 0)} h"
    if state.fault:
        yield Finding("replica", False, f"The replica {place} is {until} behind. {state.fault}")
    elif lag_s > REPLICA_OLD_S:
        yield Finding("replica", False, f"The replica {place} is {until} behind. Is a server running?")
    elif state.photos_waiting:
        yield Finding("replica", False, f"Photos that are not in the replica {place} yet: {state.photos_waiting}.")
    else:
        yield Finding("replica", True, f"The replica {place} has everything received until {until} ago.")
