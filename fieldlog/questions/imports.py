"""Imports, and the records that they made and nobody has changed since."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids


def removed_imports(db: Database, ids: Iterable[str | None] | None = None) -> frozenset[str]:
    """Those of these imports that were removed, or of all."""
    if ids is None:
        return frozenset(row[0] for row in db.conn.execute('SELECT record_id FROM "import" WHERE deleted = 1').fetchall())
    named = sorted({one for one in ids if one is not None})
    return frozenset(row[0] for row in of_ids(db, 'SELECT record_id FROM "import" WHERE deleted = 1 AND record_id', named))


def rows_of_import(db: Database, kind: str, import_id: str, *, are_removed: bool, most: int) -> list[dict[str, Any]]:
    """Records of a kind that an import made and nobody changed since, as their table has them: those that are removed, or those that are not."""
    found = db.conn.execute(f'SELECT * FROM "{kind}" WHERE import_id = ? AND deleted = ? LIMIT ?', (import_id, int(are_removed), most))
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def unchanged_of_import(db: Database, kinds: Iterable[str], import_id: str) -> int:
    """How many of the records that an import made nobody has changed since."""
    return sum(db.conn.execute(f'SELECT count(*) FROM "{kind}" WHERE import_id = ?', (import_id,)).fetchone()[0] for kind in kinds)


def changed_since(db: Database, lane_id: str, most: int) -> tuple[list[tuple[str, str]], int]:
    """
    The records whose first entry an import wrote and that somebody changed since.

    Returns:
        The first `most` as kind and id, and how many there are.
    """
    # A record of an import has one entry of its lane; who changed it wrote another.
    select = """FROM log o WHERE o.lane_id = ? AND o.kind <> 'import'
                AND EXISTS (SELECT 1 FROM log l WHERE l.kind = o.kind AND l.record_id = o.record_id AND l.seq <> o.seq)"""
    rows = db.conn.execute(f"SELECT o.kind, o.record_id {select} ORDER BY o.seq LIMIT ?", (lane_id, most)).fetchall()
    (count,) = db.conn.execute(f"SELECT count(*) {select}", (lane_id,)).fetchone()
    return [(kind, record_id) for kind, record_id in rows], int(count)


def imports_of(db: Database, sites: str | None) -> list[dict[str, Any]]:
    """
    The imports of these sites, newest first, removed ones too: import_id, site_id, file_name, of_kind, records_made, imported_at, removed,
    and the lane that wrote them.

    Args:
        sites: ids as a JSON list, None for all.
    """
    found = db.conn.execute(
        """SELECT i.record_id AS import_id, i.site_id, i.file_name, i.of_kind, i.records_made, i.imported_at, i.deleted AS removed,
           (SELECT lane_id FROM log l WHERE l.kind = 'import' AND l.record_id = i.record_id ORDER BY seq LIMIT 1) AS lane_id
           FROM "import" i WHERE :sites IS NULL OR i.site_id IN (SELECT value FROM json_each(:sites)) ORDER BY i.imported_at DESC""",
        {"sites": sites},
    )
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
