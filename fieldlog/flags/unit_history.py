"""Everything on record about one unit, as plain rows in time order: what the rules about units look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.flags.flag import Limits
from fieldlog.records.unit_check import FOUND
from fieldlog.shown_names import named
from fieldlog.survey.grades import Damage, Grade, body_grade, stance_grade, toe_grade
from fieldlog.survey.movement import STARTS_ANEW

Row = Mapping[str, Any]


def tells_measures(check: Row) -> bool:
    """Whether a check's measures and grades say anything: the unit was found, and more was done than to look at it."""
    return check["found_state"] in FOUND and not check["looked_only"]


@dataclass(frozen=True)
class UnitHistory:
    """
    One unit. Checks and events are in time order (their own instant, then record id), none deleted.

    `photos` counts the photos of each check; `surveys` are what the surveys say of it, as far as its flags hang on it;
    `joined` are visits of its dry searches that were joined to another, each with that one.
    """

    unit: Row
    site: Row
    design: Row
    checks: Sequence[Row]
    events: Sequence[Row]
    photos: Mapping[str, int]
    surveys: Sequence[Row] = ()
    joined: Mapping[str, str] = field(default_factory=dict)

    @property
    def limits(self) -> Limits:
        """What its checks are held against."""
        return Limits(self.design.get("height_mm"), self.site["lean_look_deg"])

    @cached_property
    def epoch(self) -> Row | None:
        """The newest event that makes its place and state count anew, or None."""
        return next((event for event in reversed(self.events) if event["event"] in STARTS_ANEW), None)

    @cached_property
    def since(self) -> str:
        """The id of that event; empty before the first."""
        return str(self.epoch["record_id"]) if self.epoch else ""

    @cached_property
    def recent_checks(self) -> list[Row]:
        """The checks at or after the epoch."""
        start = self.epoch["event_at"] if self.epoch else ""
        return [check for check in self.checks if check["checked_at"] >= start]

    @property
    def is_retired(self) -> bool:
        """Whether the newest event but a cleaning took it out of use."""
        lasting = [event["event"] for event in self.events if event["event"] != "cleaned"]
        return bool(lasting) and lasting[-1] == "retired"

    @property
    def tag(self) -> str:
        """What the crew calls it."""
        return named(self.unit["tag"], "A unit without a tag")

    def day(self, instant: str) -> str:
        """A UTC instant as a day at the site, such as Nov 11, 2026."""
        return day_words(datetime.fromisoformat(instant).astimezone(ZoneInfo(self.site["zone"] or "UTC")), year=True)


def worse(computed: Grade, given: int | None) -> int | None:
    """The higher of the computed grade and the one the observer gave; None where there is neither."""
    known = [grade for grade in (computed.value, given) if grade is not None]
    return max(known, default=None)


def body_of(check: Row) -> tuple[int | None, Grade]:
    """The grade of a check's body that counts, and the computed one with its reason."""
    computed = body_grade(Damage(*(check[name] for name in Damage.__dataclass_fields__)))
    return worse(computed, check["body_grade"]), computed


def stance_of(check: Row) -> tuple[int | None, Grade]:
    """The grade of a check's stance that counts, and the computed one."""
    computed = stance_grade(check["tilt_deg"])
    return worse(computed, check["stance_grade"]), computed


def toe_of(check: Row, height_mm: float | None) -> tuple[int | None, Grade]:
    """The grade of a check's toe that counts, and the computed one."""
    rocking = None if check["rocking"] is None else bool(check["rocking"])
    computed = toe_grade(check["scour_depth_mm"], height_mm, rocking)
    return worse(computed, check["toe_grade"]), computed
