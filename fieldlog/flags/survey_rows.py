"""What the surveys say of one unit, as far as its flags hang on it: found by seeks, however many surveys there were."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.surveys import (
    first_sure_none,
    first_trusting,
    first_verdict,
    newest_doubting,
    newest_verdict,
)
from fieldlog.survey.verdict import ASK_P, Verdict

Row = dict[str, Any]
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
        newest = _sized(newest_verdict(db, of, verdict, since))
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
        return _sized(first_sure_none(db, of, said["at"], ASK_P, said["shift_m"]))
    later = [_sized(first_verdict(db, of, verdict, said["at"])) for verdict in ANSWERS]
    return min((row for row in later if row is not None), key=lambda row: str(row["at"]), default=None)


def _sized(row: Row | None) -> Row | None:
    """A verdict with how far the unit moved by it, metres."""
    return None if row is None else row | {"shift_m": (row["east_m"] ** 2 + row["north_m"] ** 2) ** 0.5}


def doubts_of_marks(db: Database, mark_ids: list[str]) -> dict[str, tuple[Row, Row | None]]:
    """Of each of these marks that a survey doubts: the newest such survey, and the first one after it that found the mark where it was."""
    found = {}
    for mark_id in mark_ids:
        doubted = newest_doubting(db, mark_id)
        if doubted is not None:
            found[mark_id] = doubted, first_trusting(db, mark_id, doubted["site_id"], doubted["ended_at"])
    return found
