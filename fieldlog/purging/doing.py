"""A purge: log and tables first, in one transaction, then the file itself, which is written anew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.errors import AlreadyHere, ChangedSince, DiskFull
from fieldlog.purging.held import Held, held_about
from fieldlog.purging.initials import initials_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import DELETED
from fieldlog.replica.checking import renew_replica
from fieldlog.rewriting import REWRITE_DUE, rewrite_file
from fieldlog.store import Programme, set_setting, write
from fieldlog.sync import states
from fieldlog.sync.forgetting import Named, write_purge
from fieldlog.sync.own_lane import Own, write_own

STAYS = ("role", "minor", "same_as")
"""What of a forgotten person's record stays beside the initials: hours are told by role, and heads counted by age."""

CHANGED = "What is held about this person changed since it was shown. Nothing was deleted: look again."


def forget(programme: Programme, catalogue: Catalogue, person_id: str, tag: str, made_by: str | None, now: datetime) -> bool:
    """
    Forget a person at all sites: their names become initials, what only leads read goes, their hours stay.

    Args:
        tag: of what was shown to whoever decided.
        made_by: the person of the lead who did.

    Returns:
        Whether the file holds no trace of it either; else the next backup sees to it.

    Raises:
        NotHere: there is no such person.
        AlreadyHere: they were forgotten before.
        ChangedSince: what is held is not what was shown.
    """
    db = programme.db()
    now_ms = int(now.timestamp() * 1000)
    with write(db):
        held = held_about(db, catalogue, person_id, now.date())
        if held.is_forgotten:
            raise AlreadyHere(f"This person was forgotten before: {held.name} is all that is left of the name. Nothing was changed.")
        if held.tag != tag:
            raise ChangedSince(CHANGED)
        keeps = _as_initials(db, catalogue, held, made_by, now_ms)
        records: list[Named] = [(kind, record_id, keeps.get(record_id) if kind == "person" else None) for kind, record_id in held.goes]
        write_purge(db, catalogue, records, "person", made_by, now_ms)
        _leave_no_trace(db)
    return finish(programme)


def purge_aged(programme: Programme, catalogue: Catalogue, records: Sequence[tuple[str, str]], made_by: str | None, now: datetime) -> bool:
    """Purge records that were kept long enough, with all that was written of them until now. Returns the same as `forget`."""
    db = programme.db()
    with write(db):
        write_purge(db, catalogue, [(*key, None) for key in records], "age", made_by, int(now.timestamp() * 1000), is_for_ever=False)
        _leave_no_trace(db)
    return finish(programme)


def finish(programme: Programme) -> bool:
    """Write the file anew. Whether nothing is left in it of what was purged; what is left goes before the next nightly backup."""
    try:
        return rewrite_file(programme)
    except DiskFull:
        return False


def _leave_no_trace(db: Database) -> None:
    set_setting(db, REWRITE_DUE, "1")
    renew_replica(db)


def _as_initials(db: Database, catalogue: Catalogue, held: Held, made_by: str | None, now_ms: int) -> dict[str, str]:
    """Write what stays of a person's records into the log alone: {record id: the entry that says it}."""
    changes = []
    for row in held.people:
        state = states.state_of(db, ("person", row["record_id"]), [])
        fields: dict[str, Any] = {"display_name": initials_of(row["display_name"])}
        fields |= {name: bool(row[name]) if name == "minor" else row[name] for name in STAYS if row[name] is not None}
        if row["deleted"]:
            fields[DELETED] = True
        bases = {name: [head[0] for head in state["fields"][name]["heads"]][-64:] for name in fields if name in state["fields"]}
        changes.append(Own("person", row["record_id"], row["site_id"], fields, bases, made_by))
    names = write_own(db, catalogue, changes, now_ms)
    return {change.record_id: name for change, name in zip(changes, names, strict=True)}
