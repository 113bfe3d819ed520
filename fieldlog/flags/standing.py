"""
Which measures of a unit stand against it: each raised by a check, and settled by its own later value alone.

A check settles only what it looked at. Of each measure the newest check that raises counts, and the first one after it that does
not; so few checks say what a whole history says (`verdicts.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldlog.flags.flag import Found, Says
from fieldlog.flags.unit_history import Row, UnitHistory
from fieldlog.instants import half_a_day_after, latest_of
from fieldlog.shown_names import counted


@dataclass(frozen=True)
class Standing:
    """
    The measures that a flag names, each with the newest check that raised it, the order of the rule's; and what settled the last.

    Where some stand, `settled` is None. Where none stands any more, they are those that stood when the newest was raised.
    """

    raised: Mapping[str, Row]
    settled: Row | None

    @property
    def newest(self) -> Row:
        """The newest check that raised one of them."""
        return max(self.raised.values(), key=_when)

    def by_check(self) -> list[tuple[Row, list[str]]]:
        """The same measures by the check that raised them, the earlier first."""
        checks = {check["record_id"]: check for check in self.raised.values()}
        return [
            (check, [measure for measure, by in self.raised.items() if by["record_id"] == check["record_id"]])
            for check in sorted(checks.values(), key=_when)
        ]


def standing(history: UnitHistory, says: Says, measures: tuple[str, ...], whole: str | None) -> Standing | None:
    """What the checks since the epoch say to a rule with these measures; None where none ever raised it."""
    newest: dict[str, Row] = {}
    quiet: dict[str, Row] = {}
    for check in history.recent_checks:
        said = says(check, history.limits)
        for measure in measures:
            if said[measure]:
                newest[measure] = max(newest.get(measure, check), check, key=_latest)
                quiet.pop(measure, None)
            elif said[measure] is False:
                for settled in newest if measure == whole else [measure] if measure in newest else []:
                    if is_after(check, newest[settled]):
                        quiet.setdefault(settled, check)
    open_now = {measure: newest[measure] for measure in measures if measure in newest and measure not in quiet}
    if open_now or not newest:
        return Standing(open_now, None) if open_now else None
    last = max(map(_when, newest.values()))
    stood = {measure: newest[measure] for measure in measures if measure in newest and _when(quiet[measure]) > last}
    return Standing(stood, max((quiet[measure] for measure in stood), key=_when))


def found_standing(history: UnitHistory, now: Standing, severity: str, parts: Mapping[str, str], evidence: dict[str, Any], better: str) -> Found:
    """
    A finding that names what stands, each day with its own.

    Args:
        parts: what each check (by its id) says, in words.
        better: what the check that settled it says of what it looked at, in words.
    """
    photos = {check["record_id"]: history.photos.get(check["record_id"], 0) for check, _ in now.by_check()}
    said = "; ".join(f"{parts[check['record_id']]}, {_seen(history, check, photos[check['record_id']])}" for check, _ in now.by_check())
    newest, settled = now.newest, now.settled
    return Found(
        severity, f"{history.tag}: {said}.", evidence | {"check_id": newest["record_id"], "photos": sum(photos.values())},
        newest["checked_at"], newest["record_id"],
        settled_by=settled["record_id"] if settled else None,
        settled_at=settled["checked_at"] if settled else None,
        settled_reason=f"Looked at again {history.day(settled['checked_at'])}: {better}." if settled else None,
    )  # fmt: skip


def settled_words(now: Standing, measures: tuple[str, ...], said: Callable[[Row, str], str]) -> str:
    """
    What the check that settled the last says of the measures named, and by eye: of what it did not look at it says nothing.

    Args:
        measures: the rule's, the observer's own grade last.
        said: one measure of a check in words.
    """
    check = now.settled
    if check is None:
        return ""
    looked = [name for name in measures if check[name] is not None]
    named = [name for name in looked if name in now.raised or name == measures[-1]]
    return ", ".join(dict.fromkeys(said(check, name) for name in named or looked))


def _seen(history: UnitHistory, check: Row, photos: int) -> str:
    return f"seen {history.day(check['checked_at'])}" + (f", on {counted(photos, 'photo')}" if photos else "")


def _when(check: Row) -> tuple[str, str]:
    return check["checked_at"] or "", check["record_id"]


def _latest(check: Row) -> tuple[str, str]:
    return latest_of(check["checked_at"], check["time_known"] != 0), check["record_id"]


def is_after(check: Row, other: Row) -> bool:
    """Whether a check was certainly later than another: within one day only where the time of both is known."""
    latest = _latest(other)
    return _when(check) > latest if check["time_known"] != 0 else check["checked_at"] > half_a_day_after(latest[0])
