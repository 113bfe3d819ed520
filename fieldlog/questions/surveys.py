"""What surveys say: their own rows, and one of each unit that a survey compared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.survey.movement import STARTS_ANEW
from fieldlog.survey.verdict import Verdict

Row = dict[str, Any]

VERDICT = (
    "unit_id", "site_id", "survey", "at", "verdict", "east_m", "north_m", "p", "t2", "shows_m", "least_shift_m", "misread", "doubts", "by_marks",
    "method", "zero_method", "zero_at", "zero_id", "fixed_at", "fix_id",
)  # fmt: skip
SURVEY = (
    "site_id", "survey", "ended_at", "doubted_mark", "told_marks", "measured", "of_units", "is_over", "tape_factor", "tape_dof", "tapes",
)  # fmt: skip
"""The columns of the two tables."""

_TOLD = """SELECT said.*, survey.measured, survey.of_units, survey.is_over, survey.tape_factor, survey.tape_dof, survey.tapes
           FROM survey_verdict AS said JOIN survey USING (site_id, survey) WHERE unit_id = ? AND site_id = ?"""

Of = tuple[str, str | None]
"""A unit and its site."""


def newest_verdict(db: Database, of: Of, verdict: Verdict, since: str) -> Row | None:
    """The newest verdict of one sort on a unit since a time, with what its survey says of itself."""
    return _told(db, of, "verdict = ? AND at >= ? ORDER BY at DESC LIMIT 1", verdict.value, since)


def first_verdict(db: Database, of: Of, verdict: Verdict, after: str) -> Row | None:
    """The first verdict of one sort on a unit after a time."""
    return _told(db, of, "verdict = ? AND at > ? ORDER BY at LIMIT 1", verdict.value, after)


def first_sure_none(db: Database, of: Of, after: str, least_p: float, most_m: float) -> Row | None:
    """The first verdict after a time by which a unit did not move, as sure as `least_p`, without doubts, that would have shown `most_m` metres."""
    where = "verdict = ? AND at > ? AND p >= ? AND shows_m <= ? AND doubts = '[]' ORDER BY at LIMIT 1"
    return _told(db, of, where, Verdict.NONE.value, after, least_p, most_m)


def _told(db: Database, of: Of, where: str, *values: Any) -> Row | None:
    return next(_dicts(db, f"{_TOLD} AND {where}", *of, *values), None)


def newest_doubting(db: Database, mark_id: str) -> Row | None:
    """The newest survey that doubts a mark."""
    return next(_dicts(db, "SELECT * FROM survey WHERE doubted_mark = ? ORDER BY ended_at DESC LIMIT 1", mark_id), None)


def first_trusting(db: Database, mark_id: str, site_id: str, after: str) -> Row | None:
    """The first survey of a site after a time that found a mark where it was."""
    where = "site_id = ? AND ended_at > ? AND doubted_mark IS NOT ? AND EXISTS (SELECT 1 FROM json_each(told_marks) WHERE value = ?)"
    return next(_dicts(db, f"SELECT * FROM survey WHERE {where} ORDER BY ended_at LIMIT 1", site_id, after, mark_id, mark_id), None)


def _dicts(db: Database, select: str, *values: Any) -> Iterator[Row]:
    found = db.conn.execute(select, values)
    names = [column[0] for column in found.description]
    return (dict(zip(names, row, strict=True)) for row in found)


def surveys_since(db: Database, site_id: str, since: str) -> list[str]:
    """The surveys of a site that ended at a time or later."""
    return [row[0] for row in db.conn.execute("SELECT survey FROM survey WHERE site_id = ? AND ended_at >= ?", (site_id, since)).fetchall()]


def surveys_not_over(db: Database, site_id: str) -> list[str]:
    """The surveys of a site of which more may come."""
    return [row[0] for row in db.conn.execute("SELECT survey FROM survey WHERE site_id = ? AND is_over = 0", (site_id,)).fetchall()]


def survey_of(db: Database, site_id: str, survey: str) -> tuple[Any, ...] | None:
    """A survey's own row: the columns of `SURVEY`."""
    found: tuple[Any, ...] | None = db.conn.execute(f"SELECT {', '.join(SURVEY)} FROM survey WHERE site_id = ? AND survey = ?", (site_id, survey)).fetchone()
    return found


def verdicts_of(db: Database, site_id: str, survey: str) -> dict[str, tuple[Any, ...]]:
    """What a survey says of each unit, by unit: the columns of `VERDICT`."""
    rows = db.conn.execute(f"SELECT {', '.join(VERDICT)} FROM survey_verdict WHERE site_id = ? AND survey = ?", (site_id, survey))
    return {row[0]: row for row in rows.fetchall()}


_ENDS = ", ".join(f"'{event}'" for event in sorted({*STARTS_ANEW, "retired"}))


def small_moves(db: Database, site_id: str) -> list[tuple[str, float, float, float]]:
    """
    The units of a site whose newest survey says that they moved by less than matters, and that were not placed anew or retired since:
    unit, metres east and north, least shift that matters in metres.
    """
    return db.conn.execute(
        f"""SELECT said.unit_id, said.east_m, said.north_m, said.least_shift_m FROM survey_verdict AS said
            WHERE said.site_id = ? AND said.verdict = '{Verdict.SMALL.value}'
            AND NOT EXISTS (SELECT 1 FROM survey_verdict AS later WHERE later.unit_id = said.unit_id AND later.site_id = said.site_id AND later.at > said.at)
            AND NOT EXISTS (SELECT 1 FROM unit_event AS work WHERE work.unit_id = said.unit_id AND work.site_id = said.site_id AND work.deleted = 0
                AND work.event IN ({_ENDS}) AND work.event_at > said.at)
            ORDER BY said.unit_id, said.at""",
        (site_id,),
    ).fetchall()


def tapes_of_site(db: Database, site_id: str) -> tuple[str, float, int | None, int] | None:
    """How sure a site's tapes are by its newest readings: site, factor, degrees of freedom (None where the stated sigma stands), tapes."""
    found: tuple[str, float, int | None, int] | None = db.conn.execute("SELECT * FROM site_tapes WHERE site_id = ?", (site_id,)).fetchone()
    return found
