"""
A server's backup, in a process of its own: of a large programme it takes minutes, and the server answers meanwhile.

The job is {"folder": path, "now_ms": milliseconds since 1970 UTC}, the result {"entries": how many it holds, "missing": SHA-256 of
the photos that it lacks}.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from fieldlog.backup import nightly_backup
from fieldlog.child import Tell, answer
from fieldlog.rewriting import REWRITE_DUE, rewrite_file
from fieldlog.store import existing_programme, setting

BEHIND_THE_SERVER = 10
"""Steps of niceness: phones go first."""

PATIENCE_MS = 60_000
"""How long it waits to write what it made: another process has no place in the server's line, and SQLite's own lock is not fair."""


def work(job: dict[str, Any], _tell: Tell) -> dict[str, Any]:
    """Make the backup and let go of the oldest."""
    os.nice(BEHIND_THE_SERVER)
    programme = existing_programme(Path(job["folder"]))
    try:
        programme.db().conn.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
        if setting(programme.db(), REWRITE_DUE):
            # A phone brought what was purged, or there was no room: no backup is to hold it.
            rewrite_file(programme)
        made = nightly_backup(programme, job["now_ms"])
        return {"entries": made.entries, "missing": list(made.missing)}
    finally:
        programme.close()


if __name__ == "__main__":
    answer(work)
