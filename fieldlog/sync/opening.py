"""Opening a programme: migrations, record tables after the catalogue, another try for what is held."""

from __future__ import annotations

import logging
from pathlib import Path

from fieldlog.access.calendar_rights import end_addresses
from fieldlog.pack.marks import lay_marks
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, existing_programme, setting, write
from fieldlog.sync import tables
from fieldlog.sync.apply import release_for
from fieldlog.sync.release import FOR_A_NEWER_SERVER
from fieldlog.sync.replay import replay

log = logging.getLogger("fieldlog")


def open_to_serve(folder: Path, catalogue: Catalogue, now_ms: int) -> Programme:
    """
    Open the programme in `folder` for a server, which starts at once: tables that an older version made, and that this one can read,
    are left for `rebuilding.py`. Those that it cannot read are rebuilt first.

    Raises:
        NoProgramme: the folder holds none.
    """
    programme = existing_programme(folder)
    lacking = tables.lacking(programme.db(), catalogue)
    if must_be_rebuilt(programme) and not lacking:
        return programme
    if must_be_rebuilt(programme) and programme.db().conn.execute("SELECT 1 FROM log").fetchone():
        log.warning("The tables of an older version lack %s, so they are rebuilt before the first answer.", ", ".join(lacking))
    programme.close()
    return open_programme(folder, catalogue, now_ms)


def must_be_rebuilt(programme: Programme) -> bool:
    """Whether an older version made the tables otherwise."""
    return setting(programme.db(), "tables") != tables.MADE_AS


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
        if must_be_rebuilt(programme):
            replay(db, catalogue)
        differs = tables.follow(db, catalogue)
        lay_marks(db)
        if differs:
            release_for(db, catalogue, now_ms, FOR_A_NEWER_SERVER)
        end_addresses(db, now_ms)
    return programme
