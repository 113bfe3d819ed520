"""Whether a programme is sound and looked after, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fieldlog.backup import backup_age_h
from fieldlog.soundness import faults_of
from fieldlog.store import Programme

BACKUP_OLD_H = 36
"""A night and half a day: one nightly backup was missed. Our own proposal."""

SKEW_LOOK_MS = 2 * 60 * 1000
"""A phone's clock is worth a word from here: a walk's minutes are read from it. Our own proposal."""


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at; `ok` False asks someone to act."""

    word: str
    ok: bool
    sentence: str


def examine(programme: Programme, now_ms: int) -> list[Finding]:
    """Look at everything: soundness of the files, the tray, the phones' clocks, the backups."""
    return [*_soundness(programme), *_tray(programme), *_clocks(programme), *_backups(programme, now_ms)]


def _soundness(programme: Programme) -> Iterator[Finding]:
    db = programme.db()
    faults = faults_of(db, lambda sha256: (programme.photos_folder / sha256).open("rb"))
    for fault in faults:
        yield Finding("unsound", False, f"{fault} Restore the newest backup: fieldlog restore FILE")
    if not faults:
        entries, lanes, photos = (
            db.conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "lane", "photo_file")
        )
        yield Finding(
            "sound", True,
            f"The database, the chains of {entries} entries in {lanes} lanes and {photos} photos are what was written.",
        )  # fmt: skip


def _tray(programme: Programme) -> Iterator[Finding]:
    db = programme.db()
    held = db.conn.execute("SELECT count(*) FROM tray WHERE resolved_by IS NULL").fetchone()[0]
    if held:
        yield Finding("held", False, f"Entries held in the tray: {held}. A lead sees each with its reason under Set-up.")
    else:
        yield Finding("held", True, "No entry is held in the tray.")
    unreadable = db.conn.execute("SELECT count(*) FROM photo_file WHERE fault IS NOT NULL").fetchone()[0]
    if unreadable:
        yield Finding("photos", False, f"Photos that cannot be shown: {unreadable}. Their bytes are kept as they came.")


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
    age_h = backup_age_h(programme.db(), now_ms)
    if age_h is None:
        yield Finding("backup", False, "There is no backup yet, so phones let go of nothing. Make one: fieldlog backup FILE")
    elif age_h > BACKUP_OLD_H:
        yield Finding("backup", False, f"The last backup is {age_h:.0f} h old; a server makes one every night. See its output.")
    else:
        yield Finding("backup", True, f"The last backup is {age_h:.0f} h old.")
