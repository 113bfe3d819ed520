"""Which sites there are, and what belongs to one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids, query

Row = dict[str, Any]


def sites(db: Database) -> list[Row]:
    """Every site that was not removed, by name."""
    return list(db.query("SELECT * FROM site WHERE deleted = 0 ORDER BY name, record_id"))


def site_ids(db: Database) -> list[str]:
    """The ids of the same, in their order."""
    return [row[0] for row in db.conn.execute("SELECT record_id FROM site WHERE deleted = 0 ORDER BY record_id").fetchall()]


def site_of(db: Database, site_id: str) -> Row | None:
    """A site that was not removed."""
    return next(iter(sites_of(db, [site_id])), None)


def sites_of(db: Database, ids: Iterable[str]) -> list[Row]:
    """Those of these sites that were not removed."""
    return query(db, "SELECT * FROM site WHERE deleted = 0 AND record_id", sorted(ids))


def sites_and_removed(db: Database, ids: Iterable[str]) -> list[Row]:
    """Those of these sites that are on record, removed or not."""
    return query(db, "SELECT * FROM site WHERE record_id", sorted(ids))


def zones_of(db: Database, ids: Iterable[str]) -> dict[str, str | None]:
    """The time zones of these sites, removed or not."""
    return dict(of_ids(db, "SELECT record_id, zone FROM site WHERE record_id", sorted(ids)))


def of_site(db: Database, kind: str, site_id: str, order: str) -> list[Row]:
    """A site's records of a kind that were not removed, by a column and then by id."""
    return list(db.query(f'SELECT * FROM "{kind}" WHERE site_id = ? AND deleted = 0 ORDER BY {order}, record_id', [site_id]))


def of_site_and_removed(db: Database, kind: str, site_id: str) -> dict[str, Row]:
    """A site's records of a kind, removed ones too, by id."""
    return {row["record_id"]: row for row in db.query(f'SELECT * FROM "{kind}" WHERE site_id = ?', [site_id])}
