"""
What is worth knowing of a unit though it raises no flag: a movement too small to matter, how far its first position lies from the
planned one, and what its newest heights say. They are worked out when they are read and never stored.

Heights are remarks and no flags because two rod readings differ by more than they repeat once in twenty times: over a season of 48
units that would be an alarm a fortnight. Of a site's remarks a phone is given the small movements, which hang on a whole survey;
the others it works out of its own rows, by the same rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.readings import Measured, least_shift_m
from fieldlog.flags.survey_reading import ANY_TIME, SiteReadings, planned_of
from fieldlog.questions.checks import newest_heights
from fieldlog.questions.sites import sites_of
from fieldlog.questions.surveys import small_moves, tapes_of_site
from fieldlog.survey.burial import REPEAT_MM, Heights, newest_burial
from fieldlog.survey.remarks import Remark, off_plan, small_movement


def remarks_of(db: Database, site_id: str, unit_ids: Iterable[str]) -> dict[str, list[Remark]]:
    """The remarks on these units of a site, each with those that it has; units without any are left out."""
    found: dict[str, list[Remark]] = {}
    for site in sites_of(db, [site_id]):
        readings, small = SiteReadings(db, site), small_movements(db, site)
        units = readings.units(sorted(unit_ids))
        zeros = readings.zeros([(unit, ANY_TIME) for unit in units.values()])
        for unit_id, unit in units.items():
            own = [*([small[unit_id]] if unit_id in small else []), *_of_plan(readings, unit, zeros), *_of_heights(readings, unit_id)]
            if own:
                found[unit_id] = own
    return found


def _of_plan(readings: SiteReadings, unit: Mapping[str, Any], zeros: Mapping[str, Measured]) -> Sequence[Remark]:
    planned, zero = planned_of(unit), zeros.get(unit["record_id"])
    if planned is None or zero is None:
        return ()
    site = readings.site
    off = zero.epoch.east_m - planned[0], zero.epoch.north_m - planned[1]
    return (off_plan(*off, site["grid_azimuth_deg"] or 0.0, least_shift_m(site, unit["footprint_mm"])),)


def _of_heights(readings: SiteReadings, unit_id: str) -> Sequence[Remark]:
    """What changed between the newest two checks since the unit was placed that read its height or its crest."""
    rows = newest_heights(readings.db, unit_id, readings.site_id, readings.placed_at(unit_id))
    repeat_mm: float | None = readings.site["reading_repeat_mm"]
    changed = newest_burial([Heights(*row) for row in rows], REPEAT_MM if repeat_mm is None else repeat_mm)
    return (Remark(f"{changed.what} {changed.means}"),) if changed is not None and changed.is_change else ()


def small_movements(db: Database, site: Mapping[str, Any]) -> dict[str, Remark]:
    """Of each unit whose newest survey says that it moved by less than matters, and that was not placed anew or retired since: that."""
    azimuth_deg: float = site["grid_azimuth_deg"] or 0.0
    return {unit_id: small_movement(east_m, north_m, azimuth_deg, least_m) for unit_id, east_m, north_m, least_m in small_moves(db, site["record_id"])}


def packed_remarks(db: Database, site_id: str) -> dict[str, Any]:
    """
    What surveys tell a phone beside flags.

    Returns:
        {"remarks", "tape_scale"}: `remarks` the sentence of each unit that moved by less than matters, by its id; `tape_scale`
        {"factor", "dof", "tapes"} of how sure the site's tapes are by its newest readings, None where the stated sigma stands.
    """
    tapes = tapes_of_site(db, site_id)
    scale = None if tapes is None or tapes[2] is None else dict(zip(("factor", "dof", "tapes"), tapes[1:], strict=True))
    remarks = {unit_id: remark.sentence for site in sites_of(db, [site_id]) for unit_id, remark in small_movements(db, site).items()}
    return {"remarks": remarks, "tape_scale": scale}
