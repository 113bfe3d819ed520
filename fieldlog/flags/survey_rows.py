"""What the surveys say of one unit, as far as its flags hang on it: found by seeks, however many surveys there were."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.survey.verdict import ASK_P, Verdict

Row = dict[str, Any]
TOLD = """SELECT said.*, survey.measured, survey.of_units, survey.is_over, survey.tape_factor, survey.tape_dof, survey.tapes
          FROM survey_verdict AS said JOIN survey USING (site_id, survey) WHERE unit_id = ? AND site_id = ?"""
ANSWERS = (Verdict.NONE, Verdict.MOVED, Verdict.SMALL)
"""What a survey may say that leaves nothing to measure again."""


def rows_of(db: Database, unit_id: str, site_id: str | None, since: str) -> list[Row]:
    """
    The verdicts on a unit since it was last placed that its flags hang on, in time order.

    Of "moved", and of "measure again": the newest, and the first one after it that settles it.
    """
    found: dict[str, Row] = {}
    for row in _rows_of(db, (unit_id, site_id), since):
        found[row["survey"]] = found.get(row["survey"], {}) | row
    return sorted(found.values(), key=lambda row: (row["at"], row["survey"]))


def _rows_of(db: Database, of: tuple[str, str | None], since: str) -> Iterator[Row]:
    for verdict in (Verdict.MOVED, Verdict.AGAIN):
        newest = _row(db, "verdict = ? AND at >= ? ORDER BY at DESC LIMIT 1", *of, verdict.value, since)
        if newest is None:
            continue
        after = _settling(db, of, newest)
        yield newest | {"settled_by": after and after["survey"]}
        if after is not None:
            yield after


def _settling(db: Database, of: tuple[str, str | None], said: Row) -> Row | None:
    """
    The first verdict after one that settles it.

    "Moved" claims a size: only what would have shown that much takes it back, and not from a mark that may have moved itself. "Measure
    again" claims none, and any later verdict answers it.
    """
    if said["verdict"] == Verdict.MOVED.value:
        where = "verdict = ? AND at > ? AND p >= ? AND shows_m <= ? AND doubts = '[]' ORDER BY at LIMIT 1"
        return _row(db, where, *of, Verdict.NONE.value, said["at"], ASK_P, said["shift_m"])
    later = [_row(db, "verdict = ? AND at > ? ORDER BY at LIMIT 1", *of, verdict.value, said["at"]) for verdict in ANSWERS]
    return min((row for row in later if row is not None), key=lambda row: str(row["at"]), default=None)


def _row(db: Database, where: str, *values: Any) -> Row | None:
    found = db.conn.execute(f"{TOLD} AND {where}", values)
    row = found.fetchone()
    if row is None:
        return None
    told = dict(zip([column[0] for column in found.description], row, strict=True))
    told["shift_m"] = (told["east_m"] ** 2 + told["north_m"] ** 2) ** 0.5
    return told


def doubts_of_marks(db: Database, mark_ids: list[str]) -> dict[str, tuple[Row, Row | None]]:
    """Of each of these marks that a survey doubts: the newest such survey, and the first one after it that found the mark where it was."""
    found = {}
    for mark_id in mark_ids:
        doubted = _surveys(db, "doubted_mark = ? ORDER BY ended_at DESC LIMIT 1", mark_id)
        if doubted:
            later = "site_id = ? AND ended_at > ? AND doubted_mark IS NOT ? AND EXISTS (SELECT 1 FROM json_each(told_marks) WHERE value = ?)"
            after = _surveys(db, f"{later} ORDER BY ended_at LIMIT 1", doubted[0]["site_id"], doubted[0]["ended_at"], mark_id, mark_id)
            found[mark_id] = doubted[0], after[0] if after else None
    return found


def _surveys(db: Database, where: str, *values: str) -> list[Row]:
    found = db.conn.execute(f"SELECT * FROM survey WHERE {where}", values)
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
