"""What is still open at a site when its season is closed, as far as the server knows; each thing counted, also where it is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.access.devices import Device, list_devices
from fieldlog.access.held_lines import held_for
from fieldlog.days import day_words
from fieldlog.flags.reading import list_flags
from fieldlog.flags.signed_out import TURN, left_out
from fieldlog.plan.due import plots_due
from fieldlog.questions.visits import never_signed_out, without_end
from fieldlog.shown_names import counted, named


@dataclass(frozen=True)
class Matter:
    """
    One kind of thing that may be open.

    Attributes:
        word: which.
        count: of how many.
        sentence: the same for people, without anyone's name.
        details: what each one is, for leads; may name people.
    """

    word: str
    count: int
    sentence: str
    details: tuple[str, ...] = ()


def open_matters(db: Database, lead: Device, site_id: str, zone: str | None, now: datetime) -> list[Matter]:
    """
    Flags, held entries, devices with unsent entries, visits without an end, people not signed out, plots to measure.

    Args:
        lead: who asks; held entries and devices are told as far as this one may know them.
        zone: the site's, whose days are told.
        now: aware.
    """
    clock = ZoneInfo(zone or "UTC")
    return [
        _flags(db, site_id, now), _held(db, lead), _unsent(db, lead, site_id, clock), _visits(without_end(db, site_id), clock),
        _not_signed_out(db, site_id, now), _plots(db, site_id, now),
    ]  # fmt: skip


def _flags(db: Database, site_id: str, now: datetime) -> Matter:
    flags = [flag for flag in list_flags(db, site_id, now) if flag["rule"] != "not_signed_out"]
    act = sum(flag["severity"] == "act" for flag in flags)
    overdue = sum(flag["rule"] == "overdue" for flag in flags)
    if not flags:
        return Matter("flags", 0, "No flags are open.")
    return Matter("flags", len(flags), f"Open flags: {len(flags)}. To act on: {act}. Units overdue for a check: {overdue}.")


def _held(db: Database, lead: Device) -> Matter:
    held = list(held_for(db, lead))
    if not held:
        return Matter("held", 0, "No entries are held back.")
    return Matter("held", len(held), f"Entries held back until somebody fixes them: {len(held)}.", tuple(dict.fromkeys(row["sentence"] for row in held)))


def _unsent(db: Database, lead: Device, site_id: str, clock: ZoneInfo) -> Matter:
    waiting = [
        device for device in list_devices(db, lead)
        if device["unsent"] and device["state"] in ("joined", "unconfirmed") and (device["sites"] is None or site_id in device["sites"])
    ]  # fmt: skip
    if not waiting:
        return Matter("unsent", 0, "No device had unsent entries when it last had contact. What was written since is not known here.")

    def said(device: dict[str, object]) -> str:
        holder = named(str(device["person_name"] or ""), named(str(device["name"] or ""), "A phone"))
        return f"{holder}: {counted(int(str(device['unsent'])), 'entry', 'entries')} unsent on {_day(int(str(device['seen_at'])), clock)}"

    return Matter("unsent", len(waiting), f"Devices that had unsent entries at their last contact: {len(waiting)}.", tuple(map(said, waiting)))


def _visits(began: Sequence[str], clock: ZoneInfo) -> Matter:
    if not began:
        return Matter("visits", 0, "Every visit has an end.")
    days = (day_words(datetime.fromisoformat(at).astimezone(clock), weekday=True, year=True) for at in began)
    return Matter("visits", len(began), f"Visits without an end: {len(began)}.", tuple(days))


def _not_signed_out(db: Database, site_id: str, now: datetime) -> Matter:
    left, count = list(left_out(db, site_id, now)), len(never_signed_out(db, site_id))
    if not count:
        return Matter("people", 0, "Everyone is signed out.")
    lately = count - len(left)
    since = f" In within the last {TURN // timedelta(hours=1)} h: {lately}." if lately else ""
    return Matter("people", count, f"People not signed out: {count}.{since}", tuple(found.sentence for found in left))


def _plots(db: Database, site_id: str, now: datetime) -> Matter:
    due = plots_due(db, site_id, now)
    if not due:
        return Matter("plots", 0, "No plot is due for a reading.")
    tags = sorted((plot.tag for plot in due), key=lambda tag: (len(tag), tag))
    return Matter("plots", len(due), f"Plots due for a reading: {len(due)}.", (", ".join(tags),))


def _day(at_ms: int, clock: ZoneInfo) -> str:
    return day_words(datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(clock), year=True)
