"""
The tables of a programme made anew in a process of its own, while its server goes on answering from the old ones.

The job is {"folder": path, "now_ms": milliseconds since 1970 UTC}, the result how many entries the log holds.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fieldlog.child import Tell, answer
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme


def work(job: dict[str, Any], _tell: Tell) -> int:
    """Open the programme as any command does: what an older version made is rebuilt in one transaction."""
    programme = open_programme(Path(job["folder"]), CATALOGUE, job["now_ms"])
    try:
        (entries,) = programme.db().conn.execute("SELECT count(*) FROM log").fetchone()
        return int(entries)
    finally:
        programme.close()


if __name__ == "__main__":
    answer(work)
