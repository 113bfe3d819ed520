"""Where copies of what a program holds lie that a purge cannot reach, or reaches later."""

from __future__ import annotations

import json
from typing import Any

from fieldlog.backup import KEPT, own_backups
from fieldlog.backup_file import LAST
from fieldlog.imports.kept import FOLDER
from fieldlog.replica.checking import SETTING
from fieldlog.shown_names import counted
from fieldlog.store import Programme, setting

Copy = dict[str, Any]
"""`what` it is, `where` it lies, and a sentence on what becomes of it."""

ELSEWHERE = (
    "Files that people exported, downloaded or printed, and mail: Fieldlog does not know where they are. Ask leads and the desk who has any, and delete them."
)


def copies_of(programme: Programme) -> list[Copy]:
    """The copies on this machine and in the replica, oldest kind first."""
    db, found = programme.db(), list[Copy]()
    own = own_backups(programme)
    for path in own:
        found.append(_copy("backup", path.name, f"Deleted by itself when there are newer ones from {counted(KEPT, 'day')}. To be rid of it sooner, delete the file."))
    last = setting(db, LAST)
    if last is not None and last not in {path.name for path in own}:
        found.append(_copy("backup", last, "Kept outside this folder: delete it by hand, and every other backup that somebody copied."))
    for folder in sorted(programme.folder.glob("before-restore-*")):
        found.append(_copy("set aside", folder.name, "What a restore set aside: delete the folder once nothing in it is needed."))
    uploads = len(list((programme.folder / FOLDER).glob("*/file*")))
    if uploads:
        found.append(_copy("upload", FOLDER, f"{counted(uploads, 'uploaded spreadsheet')}: each is deleted within a day."))
    place = setting(db, SETTING)
    if place:
        found.append(_copy("replica", place, "Starts over after a purge while the server runs; what it held before is then deleted. If a bucket keeps versions, delete those by hand."))
    return [*found, _copy("export", "", ELSEWHERE)]


def phones_of(programme: Programme, sites: set[str | None]) -> list[dict[str, Any]]:
    """The joined devices that may hold what is known of people of these sites, None among them for people of all: name, role, last contact, app."""
    rows = programme.db().conn.execute(
        """SELECT name, role, sites, seen_at, app FROM device WHERE revoked_at IS NULL AND token_sha256 NOT LIKE 'left %' AND role <> 'reader'
           ORDER BY seen_at, name"""
    ).fetchall()
    return [
        {"name": name, "role": role, "seen_at": seen_at, "app": app} for name, role, theirs, seen_at, app in rows
        if theirs is None or None in sites or not sites.isdisjoint(json.loads(theirs))
    ]  # fmt: skip


def _copy(what: str, where: str, sentence: str) -> Copy:
    return {"what": what, "where": where, "sentence": sentence}
