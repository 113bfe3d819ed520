"""
What a calendar shows of an event that was told before and is told no more: cancelled in its title, the reason, no alarm.

A calendar program may ring the alarms of a cancelled event too: nothing in RFC 5545 says that it must not. So the event is told
without them (section 3.6.6: alarms are parts of their event; section 3.8.1.11: its STATUS).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from fieldlog.windows.access import Window
from fieldlog.windows.calendar import Event, escaped

SAME_S = 2 * 3600
"""A low that another tide or another level moves by up to this is still the same event. Our own proposal."""

GONE = "There is no longer a low tide predicted at this time."
_KEPT = ("DTSTART:", "DTEND:", "LOCATION:", "TRANSP:")


@dataclass(frozen=True)
class Stopped:
    """A low that is not one to use, and why, as one text."""

    low_at: datetime
    reason: str


@dataclass(frozen=True)
class Cancelling:
    """How a site's events are told when they are cancelled; `otherwise` is the reason where no low near says one."""

    site_name: str
    stopped: Sequence[Stopped]
    otherwise: str = GONE

    def of(self, event: Event) -> Event:
        """An event as it is told once it is cancelled; its sequence and time of change are the caller's."""
        said = f"Do not plan with this low tide. {self._reason(event)}"
        kept = [line for line in _properties(event.lines) if line.startswith(_KEPT)]
        told = (f"SUMMARY:{escaped(f'Canceled: low tide at {self.site_name}')}", f"DESCRIPTION:{escaped(said)}")
        return replace(event, lines=(*kept[:2], *told, *kept[2:]), is_cancelled=True)

    def _reason(self, event: Event) -> str:
        near = [one for one in self.stopped if _apart_s(one.low_at, event.low_at) <= SAME_S]
        return min(near, key=lambda one: _apart_s(one.low_at, event.low_at)).reason if near else self.otherwise


def stopped_lows(windows: Sequence[Window]) -> tuple[Stopped, ...]:
    """The lows that are not to be used, each with the sentences of all that stops it."""
    return tuple(
        Stopped(window.low_at, " ".join(one.sentence for one in window.cautions if one.stops))
        for window in windows
        if not window.safe
    )


def _properties(lines: Sequence[str]) -> Sequence[str]:
    """An event's own lines, which stand before those of its alarms."""
    return lines[: lines.index("BEGIN:VALARM")] if "BEGIN:VALARM" in lines else lines


def _apart_s(one: datetime, other: datetime) -> float:
    return abs((one - other).total_seconds())
