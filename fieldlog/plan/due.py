"""What is due at a site: flags to act on or look at, checks that are overdue or soon will be, plots to sample."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.flag import about_of
from fieldlog.flags.histories import last_looks
from fieldlog.flags.reading import list_flags
from fieldlog.flags.remarks import remarks_of
from fieldlog.plan.minutes import SAMPLE_MIN, Learned
from fieldlog.questions.readings import last_events, last_read
from fieldlog.questions.sites import of_site
from fieldlog.shown_names import named

WEIGHTS = {"act": 8, "overdue": 5, "look": 4, "sample": 3, "check": 1}
"""How much a stop matters beside a plain check; our own proposal."""

SOON_PART = 0.75
"""A unit is taken along once this part of the time between checks has passed."""

SAMPLE_BRING = {
    "stake": "folding rule for the stakes", "rod_table": "table arm and pins", "horizon": "corer and knife", "quadrat": "frame, pin and ruler",
    "transect": "tape, rod and level", "photo_point": "compass, and the pole for the camera", "water_point": "water instrument",
}  # fmt: skip
"""What a reading of each type of plot needs beside a phone; common practice, no source."""

NO_LONGER_READ = ("lost", "retired")
"""Plots that one of these was the last to happen to."""

ALWAYS = ("phone, charged, with this plan on it", "water, warm dry clothes, first aid kit, throw line", "whistle", "folding rule")


@dataclass(frozen=True)
class Due:
    """One stop that is due: the unit or plot, why in words, how much it matters, minutes, what to bring for it, and what else is known of it."""

    stop_id: str
    tag: str
    kind: str
    reasons: tuple[str, ...]
    weight: int
    minutes: float
    bring: tuple[str, ...]
    remarks: tuple[str, ...] = ()


def what_is_due(
    db: Database, site_id: str, now: datetime, learned: Learned, *, samples: bool, everything: bool, begun: datetime | None = None
) -> list[Due]:
    """
    The stops of a next visit.

    Args:
        samples: plots too, whose days between readings have nearly passed or that have none.
        everything: every unit, due or not.
        begun: when the visit that is planned began or will; what was checked since is done.
    """
    flags: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for flag in list_flags(db, site_id, now):
        if flag["subject"]["kind"] == "unit":
            flags[flag["subject"]["id"]].append(flag)
    found = []
    for history in last_looks(db, site_id):
        unit_id = history.unit["record_id"]
        raised = flags.get(unit_id, [])
        is_overdue = any(flag["rule"] == "overdue" for flag in raised)
        if history.is_retired or (begun is not None and _was_checked(history.checks, begun, is_overdue)):
            continue
        if raised:
            found.append(_flagged(unit_id, history.tag, raised, learned))
        elif everything or _is_soon(history.checks, history.site["check_every_days"], now):
            found.append(Due(unit_id, history.tag, "unit", ("check",), WEIGHTS["check"], learned.minutes, ()))
    remarks = remarks_of(db, site_id, [one.stop_id for one in found])
    found = [replace(one, remarks=tuple(remark.sentence for remark in remarks.get(one.stop_id, []) if remark.matters)) for one in found]
    if samples:
        found += _plots(db, site_id, now, everything=everything, begun=begun)
    return found


def is_plot_due(newest: datetime | None, every_days: float | None, last_event: str | None, now: datetime) -> bool:
    """
    Whether a plot is to be read: its interval has nearly passed, it has none, or it was never read, and it is still there.

    Args:
        newest: when it was last read, None where it never was.
        every_days: days between readings, None where nobody set them.
        last_event: what last happened to it, None where nothing did.
    """
    if last_event in NO_LONGER_READ:
        return False
    return newest is None or every_days is None or now - newest >= timedelta(days=SOON_PART * every_days)


def _plots(db: Database, site_id: str, now: datetime, *, everything: bool, begun: datetime | None) -> list[Due]:
    """The plots to read: those whose interval has nearly passed, or that have none; not what was read on the visit that is planned."""
    read_at, events = last_read(db, site_id), last_events(db, site_id)
    found = []
    for plot in of_site(db, "plot", site_id, "label"):
        newest = datetime.fromisoformat(read_at[plot["record_id"]]) if plot["record_id"] in read_at else None
        last_event = events.get(plot["record_id"])
        wanted = last_event not in NO_LONGER_READ if everything else is_plot_due(newest, plot["read_every_days"], last_event, now)
        was_read = begun is not None and newest is not None and newest >= begun
        if was_read or not wanted:
            continue
        bring = tuple(thing for thing in (SAMPLE_BRING.get(plot["plot_type"]),) if thing is not None)
        found.append(Due(plot["record_id"], named(plot["label"], "a plot"), "plot", ("sample",), WEIGHTS["sample"], SAMPLE_MIN, bring))
    return found


def plots_due(db: Database, site_id: str, now: datetime) -> list[Due]:
    """The plots of a site whose days between readings have nearly passed or that have none, and those that were never read."""
    return _plots(db, site_id, now, everything=False, begun=None)


def _flagged(unit_id: str, tag: str, raised: list[dict[str, Any]], learned: Learned) -> Due:
    rules = [flag["rule"] for flag in raised]
    weight = max(WEIGHTS["overdue"] if flag["rule"] == "overdue" else WEIGHTS[flag["severity"]] for flag in raised)
    abouts = [about for rule in dict.fromkeys(rules) if (about := about_of(rule)) is not None]
    minutes = learned.minutes + sum(about.minutes for about in abouts)
    bring = tuple(dict.fromkeys(about.bring for about in abouts if about.bring is not None))
    return Due(unit_id, tag, "unit", tuple(flag["sentence"] for flag in raised), weight, minutes, bring)


def _is_soon(checks: Iterable[Any], every_days: float | None, now: datetime) -> bool:
    newest = max((check["checked_at"] for check in checks if not check["looked_only"]), default=None)
    if newest is None or every_days is None:
        return True
    return now - datetime.fromisoformat(newest) >= timedelta(days=SOON_PART * every_days)


def _was_checked(checks: Iterable[Any], since: datetime, is_overdue: bool) -> bool:
    """A look does for a unit that was measured lately enough."""
    return any(datetime.fromisoformat(check["checked_at"]) >= since and not (is_overdue and check["looked_only"]) for check in checks)


def to_bring(due: Iterable[Due]) -> list[str]:
    """What to bring for these stops, each thing once."""
    return list(dict.fromkeys([*ALWAYS, *(thing for one in due for thing in one.bring)]))
