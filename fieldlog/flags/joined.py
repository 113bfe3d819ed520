"""Visits that were joined into one: which visit stands for a visit, and which visits stand behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from sqlite_utils import Database

from fieldlog.questions.visits import Row, joined_to, visits_joined_to


def root_of(db: Database, visit_id: str, site_id: str | None) -> str:
    """The visit of its site that a visit was joined to, itself where it was joined to none; of a ring the least."""
    return last_joined(visit_id, lambda at: joined_to(db, at, site_id))


def last_joined(visit_id: str, next_of: Callable[[str], str | None]) -> str:
    """The same, where `next_of` says of a visit to which other it was joined, None where to none."""
    seen, at = [visit_id], visit_id
    while (to := next_of(at)) is not None and to not in seen:
        seen.append(to)
        at = to
    return at if to is None else min(seen[seen.index(to) :])


def roots_of(db: Database, visits: Iterable[tuple[str, str | None]]) -> dict[str, str]:
    """Of each of these visits, (id, site), that was joined to another: that one."""
    found = {visit_id: root_of(db, visit_id, site_id) for visit_id, site_id in set(visits)}
    return {visit_id: root for visit_id, root in found.items() if root != visit_id}


def visits_of(db: Database, root: str) -> list[str]:
    """A visit and all that were joined to it."""
    found, new = [root], [root]
    while new:
        new = [visit_id for visit_id in visits_joined_to(db, new) if visit_id not in found]
        found += new
    return found


def shown_visits(begun: Sequence[Row]) -> dict[str, Row]:
    """
    The visits that are shown, each by the name that stands for it and all that were joined with it.

    Args:
        begun: a site's visits that nobody removed, each with record_id, started_at and joined_to.

    Returns:
        {root: visit}: the root itself; where that was removed or is not known, the first begun of those joined to it. static/records/joined.js
        shows the same.
    """
    to = {visit["record_id"]: visit["joined_to"] for visit in begun}
    shown: dict[str, Row] = {}
    for visit in sorted(begun, key=lambda visit: (visit["started_at"] or "9", visit["record_id"])):
        root = last_joined(visit["record_id"], lambda at: to.get(at) or None)
        if root not in shown or visit["record_id"] == root:
            shown[root] = visit
    return shown
