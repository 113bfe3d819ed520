"""A child that writes an export to its standard output, and how many rows are written to standard error."""

from __future__ import annotations

import sys
import time
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fieldlog.child import Tell, stream
from fieldlog.exports.formats import FORMATS
from fieldlog.exports.opening import open_export
from fieldlog.exports.tables import Wanted
from fieldlog.records.catalogue import CATALOGUE

TELL_EVERY_S = 0.2


def work(job: dict[str, Any], tell: Tell) -> None:
    """Write the export that a job names (`job_of` makes one)."""
    said = job["wanted"]
    days = {name: None if said[name] is None else date.fromisoformat(said[name]) for name in ("from_day", "to_day")}
    lists = {"sites": None if said["sites"] is None else frozenset(said["sites"]), "kinds": None if said["kinds"] is None else tuple(said["kinds"])}
    rows, told_s = 0, 0.0

    def count(more: int) -> None:
        nonlocal rows, told_s
        rows += more
        if time.monotonic() - told_s >= TELL_EVERY_S:
            told_s = time.monotonic()
            tell(str(rows))

    with open_export(Path(job["path"]), CATALOGUE, Wanted(**(said | days | lists)), datetime.fromisoformat(job["now"])) as export:
        FORMATS[job["form"]].write(export, sys.stdout.buffer, count)
    tell(str(rows))


def job_of(path: Path, form: str, wanted: Wanted, now: datetime) -> dict[str, Any]:
    """The job of an export, as JSON can say it."""
    said = {
        **wanted.__dict__, "sites": None if wanted.sites is None else sorted(wanted.sites),
        "from_day": wanted.from_day and wanted.from_day.isoformat(), "to_day": wanted.to_day and wanted.to_day.isoformat(),
    }  # fmt: skip
    return {"path": str(path), "form": form, "wanted": said, "now": now.isoformat()}


if __name__ == "__main__":
    stream(work)
