"""The command that brings a logger's record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.printable import say
from fieldlog.commands.sites import chosen_sites
from fieldlog.errors import BadRecord, BadRequest
from fieldlog.gauge.kept import keep, seen, work_out
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme

READ = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("file", type=READ)
@click.option("--site", help="The site's name or id. Not needed if there is only one.")
@click.option("--barometer", type=READ, help="A second file, with air pressure.")
@click.option("--control", type=READ, help="What the reference port's gauge observed, above its chart datum.")
@click.option("--zone", help="Zone of the file's times: an IANA name, or an offset such as UTC-05:00.")
@click.option("--unit", help="Unit of the values: m, cm, mm, ft, in; kPa, hPa, mbar, bar, dbar, psi, inHg.")
@click.option("--column", "value", type=click.IntRange(1), help="Which column holds the values, counted from 1.")
@click.option("--salinity", type=float, help="Salinity of the water above a pressure logger, psu.")
@click.option("--temperature", type=float, help="Temperature of that water, °C.")
@click.option("--zero", type=float, help="The record's zero above the chart datum, meters, if it was leveled in.")
@click.option("--keep", "is_kept", is_flag=True, help="Store the record and work out its tide. Without it: only show how the file is read.")
@folder_option
@json_option
@pass_asked
def water_level(asked: Asked, /, file: Path, site: str | None, is_kept: bool, **said: Any) -> None:
    """Make a site's own tide from its logger's record.

    FILE is its CSV. Without --keep nothing is stored: check how it is read, then run this again with --keep. A lead then chooses under Set-up which tide the site
    uses.
    """
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    sites = chosen_sites(programme.db(), site)
    if len(sites) > 1:
        raise BadRequest(f"There are {len(sites)} sites. Say which: --site NAME.")
    request = _request(file, said)
    if not is_kept:
        found = seen(request, sites[0]["zone"] or "UTC")
        asked.show(found, _how_read(found))
        return
    water_id = keep(programme.db(), sites[0], file.name, request, asked.now_ms())
    result = work_out(programme.db(), water_id, lambda step: say(f"{step} ...", err=True))
    asked.show({"water_id": water_id, **result}, _found(result))


def _request(file: Path, said: dict[str, Any]) -> dict[str, Any]:
    columns = {"zone": said["zone"], "unit": said["unit"], "value": None if said["value"] is None else said["value"] - 1}
    request: dict[str, Any] = {
        "text": _text(file), "columns": columns, "salinity_psu": said["salinity"], "temperature_c": said["temperature"],
        "zero_above_chart_datum_m": said["zero"],
    }  # fmt: skip
    for name in ("barometer", "control"):
        if said[name] is not None:
            request[name] = {"text": _text(said[name])}
    return request


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig")
    except UnicodeDecodeError:
        raise BadRecord(f"{file.name} is not UTF-8 text. Save it as CSV in UTF-8.") from None


def _how_read(found: dict[str, Any]) -> list[str]:
    lines = []
    for name, file in (("The logger's file", found), *((f"The file of the {n}", found[n]) for n in ("barometer", "control") if n in found)):
        columns = file["columns"]
        lines += [
            f"{name} is read like this: time from {file['names'][columns['time']]!r} ({columns['time_form']}, {columns['zone']}), values from "
            f"{file['names'][columns['value']]!r} in {columns['unit']}. The first lines:",
            *("    " + "  ".join(row) for row in file["first_rows"]),
            *file["questions"],
        ]
    return [*lines, "Nothing was stored. If that is right, run this again with --keep."]


def _found(result: dict[str, Any]) -> list[str]:
    record, datums = result["record"], result["datums"]
    lines = [f"{record['levels']:,} levels from {record['from']} to {record['to']}, {counted(record['used_days'], 'day')} used."]
    lines += [record["air"]] if record["air"] else []
    lines += [f"{counted(record['unread'], 'line')} could not be read, the first: {record['unread_lines']}."] if record["unread"] else []
    lines += [fault["sentence"] for fault in result["faults"]]
    levels = ", ".join(f"{name} {rounded(level, 2)}" for name, level in datums["above_chart_datum_m"].items())
    lines.append(f"Datums, meters above {datums['chart_datum']}: {levels}. By {datums['method']}.")
    for one in result["candidates"]:
        mark = "*" if one["kind"] == result["proposed"] else " "
        spread = one["residuals"]
        said = f". {_allowance(spread)}" if spread else ""
        lines.append(f"{mark} {one['station_id']}: off by about {rounded(one['rms_m'] * 100, 1)} cm on {rounded(one['held_back_days'], 0)} held-back days{said}")
    return [*lines, *result["reasons"], "* is proposed. A lead chooses one under Set-up, The tide at this site.", *_details(result)]


def _details(result: dict[str, Any]) -> list[str]:
    """The statistics behind it, for whoever wants them."""
    within = ", ".join(f"{name} ± {rounded(2 * error_m, 2)} m" for name, error_m in result["datums"]["errors_m"].items())
    levels = ", ".join(f"{one['station_id']} {rounded(one['p95_m'] * 100, 1)} cm" for one in result["candidates"])
    return ["Details:", f"  95 % of such records stay within {within}.", f"  On the held-back days 95 % of levels were within: {levels}."]


def _allowance(spread: dict[str, Any]) -> str:
    if spread["allowance"] is None:
        return str(spread["asks"])
    parts = spread["allowance"]
    made = f"{rounded(parts['shown_m'], 2)} m shown in {counted(parts['days'], 'day')}, {rounded(parts['more_m'], 2)} m added for what they do not show"
    return f"Allowance {rounded(spread['allowance_m'], 2)} m ({made}), {spread['basis']}"
