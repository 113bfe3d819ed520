"""
A water-level record worked out, from the file's text to the ways to predict the site's tide; run as a child process.

It loads UTide and what UTide needs, about 150 MB, which the server never does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

import numpy as np

from fieldlog.child import Tell, answer
from fieldlog.errors import BadRecord, RecordTooShort
from fieldlog.gauge.allowances import allowance_parts, asks_for, record_basis
from fieldlog.gauge.sentences import fault_sentence, moment
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.tides.allowance import allowance_of
from fieldlog.tides.beside_tide import examine
from fieldlog.tides.curve import Curve
from fieldlog.tides.evenly import interval_s
from fieldlog.tides.logger import Columns, Readings, read
from fieldlog.tides.parting import record_needed
from fieldlog.tides.pressure import STANDARD_AIR_KPA, air_at, depth_m, seawater_density_kg_m3
from fieldlog.tides.proposal import Candidate, Proposal, propose
from fieldlog.tides.record import LEAST_DAYS, Fault, Levels, in_order
from fieldlog.tides.residuals import Residuals, at_lows
from fieldlog.tides.station import Station, station_from, station_values
from fieldlog.tides.yearly import has_season

_EDGE_S = 4 * 86_400

MOST_INTERVAL_S = 7500.0
"""A tide of four hours cannot be told any more, and a low is missed by a decimetre; our own choice."""

CONTROL_OFF_M = 0.5
"""Weather does not hold a month's middle level farther from the prediction; another datum or unit does. Our own choice."""


def work(job: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """
    Work a record out.

    Args:
        job: `text`, `columns` of the logger's file; `barometer`, `control`: None or the same of a second and third file;
            `salinity_psu`, `temperature_c`; `zero_above_chart_datum_m` or None; `site` with `name`, `lat_deg`, `lon_deg`,
            `zone`; `station`, the reference port's values; `station_id`, what the ids of the made stations begin with.

    Returns:
        What a lead is shown and chooses from: `record`, `faults`, `datums`, `candidates`, `proposed`, `reasons`.
    """
    reference, site = station_from(job["station"]), job["site"]
    tell("reading the file")
    levels, faults, told = _levels(job)
    step_s = interval_s(levels.t_s)
    if step_s > MOST_INTERVAL_S:
        raise BadRecord(f"Its levels are {rounded(step_s / 60, 0)} min apart; a tide needs them an hour apart, or two at most. Set the logger to that.")
    tell(f"looking for faults in {len(levels.t_s):,} levels")
    curve = Curve.for_station(reference, _at(levels.t_s[0] - _EDGE_S), _at(levels.t_s[-1] + _EDGE_S))
    clear, found = examine(levels, curve.levels_at_s)
    faults += found
    _refuse(faults, site["zone"])
    used = _longest_part(clear, faults)
    if used.days < LEAST_DAYS:
        raise RecordTooShort(
            f"The usable part of the record is {rounded(used.days, 1)} days long, fewer than {rounded(LEAST_DAYS, 0)}. Found: "
            + " ".join(fault_sentence(fault, site["zone"]) for fault in _shown(faults))
        )
    control = None if job.get("control") is None else _control(job["control"], reference)
    place = (site["lat_deg"], site["lon_deg"])
    proposal = propose(used, reference, place, control, job.get("zero_above_chart_datum_m"), tell)
    tell("residuals")
    return {
        "record": {
            "from": moment(levels.t_s[0], site["zone"]), "to": moment(levels.t_s[-1], site["zone"]), "levels": len(levels.t_s),
            "days": round(levels.days, 2), "used_days": round(used.days, 2), "interval_min": round(step_s / 60, 2), **told,
        },
        "faults": [{"word": fault.word, "sentence": fault_sentence(fault, site["zone"])} for fault in _shown(faults)],
        "datums": _datums(proposal, reference),
        "candidates": [_candidate(one, used, reference, job["station_id"], site) for one in proposal.candidates],
        "proposed": proposal.proposed,
        "reasons": list(proposal.reasons),
    }  # fmt: skip


def _levels(job: dict[str, Any]) -> tuple[Levels, list[Fault], dict[str, Any]]:
    columns = Columns(**job["columns"])
    readings = read(job["text"], columns)
    told: dict[str, Any] = {"unread": readings.unread, "unread_lines": list(readings.unread_lines), "air": None}
    values = readings.value
    if columns.is_pressure:
        density = seawater_density_kg_m3(job["salinity_psu"], job["temperature_c"])
        air, told["air"] = _air(job.get("barometer"), readings)
        told["density_kg_m3"] = round(density, 2)
        values = depth_m(values, air, density)
    good = np.isfinite(values)
    if good.sum() < 10:
        raise BadRecord("The barometer's file does not cover the logger's days. Are its time zone and its dates right?")
    levels, faults = in_order(readings.t_s[good], values[good])
    if not good.all():
        told["air"] += f" {counted(int((~good).sum()), 'level has', 'levels have')} no matching air pressure and {'is' if (~good).sum() == 1 else 'are'} left out."
    return levels, faults, told


def _air(barometer: dict[str, Any] | None, readings: Readings) -> tuple[np.ndarray | float, str]:
    """Air pressure at the readings' times, and where it comes from."""
    if barometer is None:
        return STANDARD_AIR_KPA, (
            f"No barometer file was given, so the air counts as {STANDARD_AIR_KPA} kPa throughout. Each hPa of weather then counts as 1 cm of water."
        )
    columns = Columns(**barometer["columns"])
    if not columns.is_pressure:
        raise BadRecord(f"The barometer's file is read in {columns.unit}, which is not a unit of pressure. Give kPa, hPa, mbar or inHg.")
    air = read(barometer["text"], columns)
    order = np.argsort(air.t_s, kind="stable")
    return air_at(readings.t_s, air.t_s[order], air.value[order]), f"Air pressure is from the barometer: {len(air.t_s):,} readings."


def _control(control: dict[str, Any], reference: Station) -> Levels:
    columns = Columns(**control["columns"])
    if columns.is_pressure:
        raise BadRecord("The control station's file holds pressures; it must hold levels above the station's chart datum.")
    readings = read(control["text"], columns)
    levels, _ = in_order(readings.t_s, readings.value)
    port = reference.harmonic
    curve = Curve.for_station(port, _at(levels.t_s[0] - _EDGE_S), _at(levels.t_s[-1] + _EDGE_S))
    off_m = float(np.median(levels.level_m - curve.levels_at_s(levels.t_s)))
    if abs(off_m) > CONTROL_OFF_M:
        raise BadRecord(
            f"The control station's levels are {rounded(off_m, 2, signed=True)} m off its own prediction on half of the days. They must be above its chart datum, {port.chart_datum}, in the unit and time zone given. Download them that way."
        )
    return levels


def _longest_part(levels: Levels, faults: list[Fault]) -> Levels:
    """The longest part between two moves of the logger, or jumps of its clock."""
    cuts = sorted((fault.from_s + fault.to_s) / 2 for fault in faults if fault.word in ("moved", "clock-jump"))
    edges = [-np.inf, *cuts, np.inf]
    parts = [levels.only((levels.t_s > start) & (levels.t_s <= end)) for start, end in pairwise(edges)]
    return max(parts, key=lambda part: part.days)


def _refuse(faults: list[Fault], zone: str) -> None:
    """Nothing may be proposed from what is no water level of this shore."""
    for fault in faults:
        if fault.word in ("upside-down", "not-the-tide", "too-large"):
            raise BadRecord(fault_sentence(fault, zone))


def _shown(faults: list[Fault], most_gaps: int = 8) -> list[Fault]:
    """All of them, the smallest gaps of many as one."""
    holes = sorted((fault for fault in faults if fault.word == "gap"), key=lambda fault: -fault.size)
    large, small = sorted(holes[:most_gaps], key=lambda fault: fault.from_s), holes[most_gaps:]
    others = [fault for fault in faults if fault.word != "gap"]
    if not small:
        return [*large, *others]
    first, last = min(fault.from_s for fault in small), max(fault.to_s for fault in small)
    return [*large, Fault("more-gaps", len(small), first, last, sum(fault.size for fault in small)), *others]


def _datums(proposal: Proposal, reference: Station) -> dict[str, Any]:
    found = proposal.datums
    return {
        "chart_datum": reference.chart_datum,
        "method": found.method,
        "errors_m": {name: round(error, 3) for name, error in found.errors_m.items()},
        "days": round(found.days, 1),
        "chart_datum_above_zero_m": round(proposal.chart_datum_m, 3),
        "above_chart_datum_m": {name: round(level - proposal.chart_datum_m, 3) for name, level in found.above_zero_m.items()},
    }


def _candidate(one: Candidate, used: Levels, reference: Station, prefix: str, site: Mapping[str, Any]) -> dict[str, Any]:
    station_id = one.station.station_id if one.kind == "station" else f"{prefix}/{one.kind}"
    name = one.station.name if one.kind == "station" else f"{named(site['name'])}, own {one.kind}"
    station = replace(one.station, station_id=station_id, name=name)
    residuals = _residuals(one, used, site["lat_deg"])
    shown: dict[str, Any] = {
        "kind": one.kind, "station_id": station_id, "name": name, "rms_m": round(one.tried.rms_m, 3),
        "p95_m": round(one.tried.p95_m, 3), "held_back_days": round(one.tried.days, 1), "residuals": _spreads(residuals, used.days, has_season(reference)),
        "station": None if one.kind == "station" else station_values(station),
    }  # fmt: skip
    if one.offsets is not None:
        o = one.offsets.offsets
        shown["offsets"] = {
            "minutes_high": round(o.minutes_high, 1), "minutes_low": round(o.minutes_low, 1), "times": round(o.times_high, 4),
            "plus_high_m": round(o.plus_high_m, 3), "plus_low_m": round(o.plus_low_m, 3), "events": one.offsets.events,
        }  # fmt: skip
    if one.constants is not None:
        ordered = sorted(one.constants.constituents, key=lambda c: -c.amplitude_m)
        shown["constants"] = [
            {
                "name": c.name, "amplitude_m": round(c.amplitude_m, 4), "phase_deg": round(c.phase_deg, 1),
                "amplitude_ci_m": round(c.amplitude_ci_m, 4), "phase_ci_deg": round(min(c.phase_ci_deg, 180.0), 1),
                "needs_days": round(record_needed(c.name, [larger.name for larger in ordered[:n]])[0], 1),
                "inferred_from": c.inferred_from, "is_lost": c.is_lost,
            }
            for n, c in enumerate(ordered)
        ]  # fmt: skip
        shown["not_parted"] = [
            {"name": n.name, "beside": n.beside, "needs_days": round(n.needs_days, 1)} for n in one.constants.not_parted
        ]
    return shown


def _residuals(one: Candidate, used: Levels, lat_deg: float) -> Residuals | None:
    curve = Curve.for_station(one.station, _at(used.t_s[0] - 7200), _at(used.t_s[-1] + 7200))
    lows = [low.at_utc.timestamp() for low in curve.extremes() if low.kind == "low"]
    return at_lows(used.t_s, one.left_m, lows, lat_deg)


def _spreads(residuals: Residuals | None, days: float, is_season_known: bool) -> dict[str, Any] | None:
    if residuals is None:
        return None
    allowance = allowance_of(residuals.left_m, days, is_season_known)

    def rounded(metres: dict[int, float]) -> dict[str, float]:
        return {f"p{p}": round(value, 3) for p, value in metres.items()}

    return {
        "lows": residuals.whole.count, **rounded(residuals.whole.metres), "allowance_m": None if allowance is None else allowance.metres,
        "allowance": None if allowance is None else allowance_parts(allowance, days), "asks": None if allowance else asks_for(days, is_season_known),
        "basis": None if allowance is None else record_basis(allowance, residuals, days),
        "seasons": {name: {"lows": part.count, **rounded(part.metres)} for name, part in residuals.seasons.items()},
    }  # fmt: skip


def _at(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), UTC)


if __name__ == "__main__":
    answer(work)
