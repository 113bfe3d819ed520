"""What a device asks for when it asks for data, judged before any of it is read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from fieldlog.access.devices import Device
from fieldlog.errors import BadRequest, NotAllowed
from fieldlog.exports.formats import FORMATS, check_installed
from fieldlog.exports.tables import Wanted, tables_of
from fieldlog.records.catalogue import Catalogue

FOR_LEADS = {"names": "Names of people", "private": "Contacts"}


@dataclass(frozen=True)
class AskedExport:
    """A form by its name, and what is asked for in it."""

    form: str
    wanted: Wanted


def asked_export(said: dict[str, Any], device: Device, catalogue: Catalogue) -> AskedExport:
    """
    What a device asks for, cut to what it may have.

    Args:
        said: the body of its request: as, site_id, from_day, to_day, kinds, names, private, history.

    Raises:
        BadRequest: it cannot be read; the field is named.
        WorkFailed: the form cannot be written on this server.
        NotAllowed: names and contacts for another than a lead. Whether a site may be seen is the guard's matter.
    """
    form = said.get("as")
    if not isinstance(form, str) or form not in FORMATS:
        raise BadRequest(f"as is {form!r}; give one of: {', '.join(FORMATS)}.", {"as": "no form"})
    check_installed(form)
    for name, what in FOR_LEADS.items():
        if _yes(said, name) and device.role != "lead":
            raise NotAllowed(f"{what} are for leads. Ask a lead, or take the data without.")
    wanted = Wanted(
        device.role, _sites(said, device), _day(said, "from_day"), _day(said, "to_day"), _kinds(said), _yes(said, "names"), _yes(said, "private"),
        _yes(said, "history"),
    )  # fmt: skip
    check_days(wanted)
    tables_of(catalogue, wanted)
    return AskedExport(form, wanted)


def check_days(wanted: Wanted) -> None:
    """
    Look whether the days that are asked for are in order.

    Raises:
        BadRequest: the last is before the first.
    """
    if wanted.from_day and wanted.to_day and wanted.from_day > wanted.to_day:
        raise BadRequest(f"The last day, {wanted.to_day}, is before the first, {wanted.from_day}. Change one of the two.", {"to_day": "before from_day"})


def _sites(said: dict[str, Any], device: Device) -> frozenset[str] | None:
    site_id = said.get("site_id")
    if site_id is None:
        return device.sites
    if not isinstance(site_id, str):
        raise BadRequest(f"site_id is {site_id!r}; give a site's id, or null for all.", {"site_id": "no text"})
    return frozenset([site_id])


def _day(said: dict[str, Any], name: str) -> date | None:
    text = said.get(name)
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except (TypeError, ValueError):
        raise BadRequest(f"{name} is {text!r}; write a day as 2026-06-14.", {name: "no day"}) from None


def _kinds(said: dict[str, Any]) -> tuple[str, ...] | None:
    kinds = said.get("kinds")
    if kinds is None:
        return None
    if not isinstance(kinds, list) or not kinds or not all(isinstance(kind, str) for kind in kinds):
        raise BadRequest(f"kinds is {kinds!r}; give a list of tables, or null for all.", {"kinds": "no list"})
    return tuple(kinds)


def _yes(said: dict[str, Any], name: str) -> bool:
    value = said.get(name, False)
    if not isinstance(value, bool):
        raise BadRequest(f"{name} is {value!r}; give true or false.", {name: "not true or false"})
    return value
