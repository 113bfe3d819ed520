"""What is on record about a person: who else they are, and which records of a kind are about them."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.records.catalogue import Kind

Row = dict[str, Any]


def same_people(db: Database, person_id: str) -> list[Row]:
    """The rows of a person and of all that leads called the same one, at whatever site, removed ones too; none where there is no such record."""
    return list(db.query(
        """WITH RECURSIVE them(id) AS (SELECT record_id FROM person WHERE record_id = ? UNION SELECT iif(p.record_id = them.id, p.same_as, p.record_id)
           FROM person p JOIN them ON p.record_id = them.id OR p.same_as = them.id WHERE p.same_as IS NOT NULL)
           SELECT person.* FROM person JOIN them ON record_id = id ORDER BY created_eff, record_id""",
        [person_id],
    ))  # fmt: skip


def people_called(db: Database, name: str) -> list[str]:
    """The ids of the people of a name, whatever its case, who were not removed."""
    rows = db.conn.execute("SELECT record_id, display_name FROM person WHERE deleted = 0 ORDER BY record_id").fetchall()
    return [record_id for record_id, called in rows if (called or "").casefold().split() == name.casefold().split()]


def records_about(db: Database, kind: Kind, by: str, people: Collection[str]) -> list[Row]:
    """The rows of a kind that are about these people, by the reference `by` to the person or to a sign-in of theirs; removed ones too."""
    target = kind.refs[by]
    is_theirs = f'"{by}" IN (SELECT value FROM json_each(?))'
    if target != "person":
        is_theirs = f'"{by}" IN (SELECT record_id FROM "{target}" WHERE person_id IN (SELECT value FROM json_each(?)))'
    return list(db.query(f'SELECT * FROM "{kind.name}" WHERE {is_theirs} ORDER BY created_eff', [json.dumps(sorted(people))]))


def all_about_somebody(db: Database, kind: Kind) -> Iterator[tuple[str, str | None, str, str | None]]:
    """
    Every record of a kind that is about a person: its id, the person's, its newest effective stamp, and when that person was last on the site by
    the sign-in that it is of, or by all of theirs; null where they never signed in.
    """
    by = str(kind.of_person)
    if kind.refs[by] == "person":
        select = f"""SELECT k.record_id, k."{by}", k.changed_eff, (SELECT max(coalesce(s.out_at, s.in_at)) FROM sign_in s WHERE s.person_id = k."{by}"
                     AND s.deleted = 0) FROM "{kind.name}" k"""
    else:
        select = f"""SELECT k.record_id, s.person_id, k.changed_eff, coalesce(s.out_at, s.in_at) FROM "{kind.name}" k
                     LEFT JOIN "{kind.refs[by]}" s ON s.record_id = k."{by}" """
    yield from db.conn.execute(f"{select} ORDER BY k.record_id").fetchall()


def values_of_records(db: Database, kind: str, column: str, ids: Collection[str]) -> dict[str, Any]:
    """One column of these records of a kind, removed ones too, by record id."""
    asked = json.dumps(sorted(ids))
    return dict(db.conn.execute(f'SELECT record_id, "{column}" FROM "{kind}" WHERE record_id IN (SELECT value FROM json_each(?))', [asked]).fetchall())


def written_by_people(db: Database, people: Collection[str]) -> list[tuple[str, int, str, str]]:
    """What these people wrote: kind, how many entries, and the first and last effective stamp."""
    asked = json.dumps(sorted(people))
    return db.conn.execute(
        "SELECT kind, count(*), min(eff), max(eff) FROM log WHERE made_by IN (SELECT value FROM json_each(?)) GROUP BY kind ORDER BY kind", [asked]
    ).fetchall()
