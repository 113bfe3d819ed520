"""Who reads a held line, and settles it: its text may be private, and says itself of which site it is."""

from __future__ import annotations

from fieldlog.access.devices import Device, may_lead
from fieldlog.json_text import read


def may_lead_line(lead: Device, sites: frozenset[str] | None, line: bytes) -> bool:
    """
    Whether a lead reads a held line of a device, and hides it by an entry that mends it.

    A lead of the whole programme reads each; one of some sites those of a device on these that name one of them: a device may be
    moved, and what it wrote stays at the site where it was. A line that names no site, or one that its device is not of, is for the whole
    programme's leads.

    Args:
        sites: the device's sites now; None is all.
    """
    if lead.sites is None:
        return True
    return may_lead(lead, sites) and sites is not None and _site_of(line) in sites


def _site_of(line: bytes) -> object:
    """What a line says its site is; None where it says nothing that can be read."""
    try:
        said = read(line)
    except (ValueError, RecursionError):
        return None
    site_id = said.get("g") if isinstance(said, dict) else None
    return site_id if isinstance(site_id, str) else None
