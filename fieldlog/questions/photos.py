"""The records that name a photo's file, of whichever kind: everybody's, and those of people."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import NamedTuple

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids
from fieldlog.records.people_photo import PEOPLE_PHOTO, PHOTO_KINDS
from fieldlog.records.photo import PHOTO


class Naming(NamedTuple):
    """A record that names a photo's file; `begun` is the number of its first entry in the log."""

    kind: str
    record_id: str
    site_id: str | None
    deleted: int
    begun: int


def photo_tables(db: Database) -> list[str]:
    """The tables of photos that a file has: one that an older version wrote lacks those that came since."""
    have = {name for (name,) in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()}
    return [name for name in PHOTO_KINDS if name in have]


def of_tables(db: Database, select: str, joined: str = " UNION ALL ") -> str:
    """A statement about each table of photos, where `{photo}` stands for its name, as one; of no table an empty one."""
    return joined.join(select.replace("{photo}", name) for name in photo_tables(db)) or "SELECT NULL WHERE 0"


def naming(db: Database, sha256: str) -> list[Naming]:
    """The records that name a file, removed ones too, in the order in which they were begun."""
    select = """SELECT '{photo}', record_id, site_id, deleted,
        (SELECT min(seq) FROM log WHERE kind = '{photo}' AND record_id = "{photo}".record_id) FROM "{photo}" WHERE sha256 = :sha256"""
    rows = [Naming(*row) for row in db.conn.execute(of_tables(db, select), {"sha256": sha256})]
    return sorted(rows, key=lambda row: row.begun)


def standing_names(db: Database, among: Iterable[str]) -> set[str]:
    """Those of some SHA-256 that a record which stands names."""
    names = sorted(set(among))
    return {row[0] for table in photo_tables(db) for row in of_ids(db, f'SELECT sha256 FROM "{table}" WHERE deleted = 0 AND sha256', names)}


def photos_of_checks(db: Database, check_ids: list[str]) -> list[tuple[str, str | None]]:
    """
    The photos that count for these checks, as what everybody may know of: each the check and the photo's own site.

    One of people counts when a lead has said that those it shows agreed.
    """
    if not check_ids:
        return []
    select = "SELECT of_id, site_id FROM {} WHERE {} AND deleted = 0 AND of_kind = 'unit_check' AND of_id IN (SELECT value FROM json_each(?1))"
    both = " UNION ALL ".join(select.format(kind.name, kind.told_where) for kind in (PHOTO, PEOPLE_PHOTO))
    return db.conn.execute(both, (json.dumps(check_ids),)).fetchall()


def count_of_files_to_come(db: Database) -> int:
    """How many files records that stand name that have not arrived whole."""
    found = db.conn.execute(
        f"""SELECT count(DISTINCT sha256) FROM ({of_tables(db, 'SELECT sha256 FROM "{photo}" WHERE deleted = 0')}) AS photo WHERE NOT EXISTS
            (SELECT 1 FROM photo_file f WHERE f.sha256 = photo.sha256 AND f.complete_at IS NOT NULL)"""
    )
    return int(found.fetchone()[0])


def unit_of(db: Database, of_kind: str, of_id: str) -> str | None:
    """The unit that a photo is of: the unit itself, or that of its check, position or sighting."""
    if of_kind == "unit":
        return of_id
    column = {"unit_check": "unit_id", "sighting": "near_unit_id", "position_fix": "CASE of_kind WHEN 'unit' THEN of_id END"}.get(of_kind)
    if column is None:
        return None
    row = db.conn.execute(f'SELECT {column} FROM "{of_kind}" WHERE record_id = ?', (of_id,)).fetchone()
    return None if row is None else row[0]


def has_consent(db: Database, record_id: str) -> bool:
    """Whether a lead has said of a photo of people that those it shows agreed."""
    return db.conn.execute(f'SELECT 1 FROM "{PEOPLE_PHOTO.name}" WHERE record_id = ? AND {PEOPLE_PHOTO.told_where}', (record_id,)).fetchone() is not None


def is_served(db: Database, sha256: str) -> bool:
    """Whether a photo's bytes came and could be read, so that its copy without metadata is made, or was."""
    row = db.conn.execute("SELECT served_at IS NOT NULL AND fault IS NULL FROM photo_file WHERE sha256 = ?", (sha256,)).fetchone()
    return bool(row and row[0])
