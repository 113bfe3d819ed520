"""Opening a programme: migrations, record tables after the catalogue, another try for what is held."""

from __future__ import annotations

from pathlib import Path

from fieldlog.access.calendar_rights import end_addresses
from fieldlog.pack.marks import lay_marks
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, existing_programme, setting, write
from fieldlog.sync import tables
from fieldlog.sync.apply import release_for
from fieldlog.sync.release import FOR_A_NEWER_SERVER
from fieldlog.sync.replay import replay


def open_programme(folder: Path, catalogue: Catalogue, now_ms: int) -> Programme:
    """
    Open the programme in `folder` for reading and writing.

    Tables that an older version made otherwise are rebuilt from the log. Where the catalogue differs from the one it was last
    opened with, what an older server could not read moves from the tray to the log.

    Raises:
        NoProgramme: the folder holds none.
    """
    programme = existing_programme(folder)
    db = programme.db()
    with write(db):
        if setting(db, "tables") != tables.MADE_AS:
            replay(db, catalogue)
        differs = tables.follow(db, catalogue)
        lay_marks(db)
        if differs:
            release_for(db, catalogue, now_ms, FOR_A_NEWER_SERVER)
        end_addresses(db, now_ms)
    return programme
