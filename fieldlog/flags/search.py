"""Not found: searched on dry ground. Water over the place, or nobody there, is no search; felt by the probe is found."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from fieldlog.flags.flag import ACT, LOOK, About, Found, Limits, read_rule, unit_rule
from fieldlog.flags.standing import is_after
from fieldlog.flags.unit_history import Row, UnitHistory
from fieldlog.instants import written
from fieldlog.records.names import same_low
from fieldlog.records.unit_check import FOUND, LOOKED, MISSED
from fieldlog.shown_names import counted

SEARCHES = 2
"""Dry searches on as many visits before a unit counts as missing: common practice, no source."""

NAMED_MOST = 6
"""The newest searches that a flag names; it goes to every phone, and a unit may be searched for years."""


def says_not_found(check: Row, _limits: Limits) -> bool | None:
    """True of a dry search, False of a find, None where nobody searched or no more is said than that it looks unchanged."""
    if check["found_state"] in FOUND:
        return None if check["looked_only"] else False
    return True if check["found_state"] == MISSED else None


NOT_FOUND = About(
    "Not found", "search", "a later check that finds it, or by a lead",
    bring="probe and the unit's distances from two marks", minutes=8.0, reads=("found_state", "looked_only"),
)  # fmt: skip
OVERDUE = About("Overdue", "check", "a check; a look alone does not count", reads=("found_state", "looked_only"))


@unit_rule("not_found", NOT_FOUND, says=says_not_found)
def not_found(history: UnitHistory) -> Found | None:
    """One dry search asks for another; two on two visits are a missing unit. A later find settles it."""
    dry: list[Row] = []
    found: Row | None = None
    for check in history.recent_checks:
        missed = says_not_found(check, history.limits)
        if missed:
            dry, found = ([check] if found else [*dry, check]), None
        elif missed is False and dry and found is None and is_after(check, dry[-1]):
            found = check
    if not dry:
        return None
    newest = dry[-1]
    visits = _visits(history, dry)
    day = history.day(newest["checked_at"])
    if visits >= SEARCHES:
        first = history.day(dry[0]["checked_at"])
        severity = ACT
        said = f"{history.tag}: missing. Searched on dry ground on {visits} visits since {first}, last {day}, and not found."
    else:
        severity = LOOK
        said = f"{history.tag}: not found on dry ground {day}. It may be buried: search once more, with the probe where it should be."
    evidence = {"searches": visits, "searches_needed": SEARCHES, "check_ids": [check["record_id"] for check in dry[-NAMED_MOST:]]}
    return Found(
        severity, said, evidence, newest["checked_at"], newest["record_id"],
        settled_by=found["record_id"] if found else None,
        settled_at=found["checked_at"] if found else None,
        settled_reason=f"Found again on {history.day(found['checked_at'])}." if found else None,
    )  # fmt: skip


def _visits(history: UnitHistory, dry: Sequence[Row]) -> int:
    """
    On how many visits these searches were: those of one low are one, under whichever names, as are joined ones and those of one day.

    A visit that lasts past midnight joins its two days.
    """
    def low_of(check: Row) -> str:
        return same_low(history.joined.get(check["visit_id"], check["visit_id"]))

    lows = {low_of(check): history.day(check["checked_at"]) for check in reversed(dry) if check["visit_id"]}
    joined: dict[str, str] = {}

    def first(day: str) -> str:
        while day in joined:
            day = joined[day]
        return day

    for check in dry:
        day = first(history.day(check["checked_at"]))
        of_low = first(lows[low_of(check)]) if check["visit_id"] else day
        if day != of_low:
            joined[day] = of_low
    return len({first(history.day(check["checked_at"])) for check in dry})


@read_rule("overdue", OVERDUE)
def overdue(history: UnitHistory, now: datetime, until: datetime) -> Found | None:
    """
    Nobody checked for longer than the site asks. It depends on today, so it is computed when it is read and never stored.

    A check under water or one that did not reach the unit does not count, and nor does a mere look: the interval is one for
    measurements, so a phone does not offer "Looks unchanged" either once it has passed since the last one. What becomes overdue
    between `now` and `until` is found too, raised at that moment and told as of it.
    """
    every = history.site["check_every_days"]
    looks = [check for check in history.checks if check["found_state"] in LOOKED]
    checks = [check for check in looks if not check["looked_only"]]
    begun = checks[-1]["checked_at"] if checks else history.epoch["event_at"] if history.epoch else None
    if every is None or begun is None or history.is_retired:
        return None
    due = datetime.fromisoformat(begun) + timedelta(days=every)
    if until < due:
        return None
    days = (max(now, due) - datetime.fromisoformat(begun)).days
    what = f"last checked {history.day(begun)}" if checks else f"never checked since it was placed {history.day(begun)}"
    said = f"{history.tag}: {what}, {counted(days, 'day')} ago; this site asks for a check every {'day' if every == 1 else f'{every:g} days'}."
    if looks and looks[-1]["looked_only"]:
        said += f" Looked at on {history.day(looks[-1]['checked_at'])}, but not measured."
    evidence = {"days": days, "check_every_days": every}
    return Found(LOOK, said, evidence, written(due), str(checks[-1]["record_id"] if checks else history.unit["record_id"]))
