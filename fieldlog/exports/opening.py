"""An export of a programme's folder as it stands now."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from fieldlog.exports.stream import Export, MadeBy
from fieldlog.exports.tables import Wanted
from fieldlog.instants import written
from fieldlog.questions.whole_tables import one_state
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import setting
from fieldlog.sync.tables import MADE_AS


@contextmanager
def open_export(path: Path, catalogue: Catalogue, wanted: Wanted, now: datetime) -> Iterator[Export]:
    """
    An export of one state of a database file, whatever is written meanwhile.

    Raises:
        BadRequest: a table was asked for that there is none of, or that this export may not have.
    """
    with one_state(path) as db:
        made_by = MadeBy(setting(db, "programme_name") or "Fieldlog", version("fieldlog"), MADE_AS, written(now))
        yield Export(db, catalogue, wanted, made_by)
