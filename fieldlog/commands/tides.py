"""Commands about tide stations; they need no programme."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import click

from fieldlog.commands.asking import Asked, Moment, json_option, pass_asked
from fieldlog.rounding import rounded
from fieldlog.stations import extreme_rows, find, level_rows, nearest_rows, place_of

UNITS_S = {"s": 1, "m": 60, "h": 3600}
MOST_LEVELS = 1_000_000
"""Rows one call prints at most: about two years a minute."""

CAUTION = "Predicted, above chart datum; wind, pressure and rain move the water. Not for navigation."


class Step(click.ParamType[timedelta]):
    """A length of time: a whole number and s, m or h."""

    name = "STEP"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> timedelta:
        """The length as a timedelta."""
        parts = re.fullmatch(r"([1-9][0-9]{0,5})([smh])", str(value))
        if parts is None:
            self.fail(f"{value} is not a step; write 6m, 30s or 1h.", param, ctx)
        return timedelta(seconds=int(parts[1]) * UNITS_S[parts[2]])


@click.command()
@click.option("--near", metavar="LAT,LON", required=True, help="Where: latitude and longitude in degrees.")
@click.option("--count", type=click.IntRange(1, 1000), default=5, show_default=True, help="How many.")
@json_option
@pass_asked
def stations(asked: Asked, near: str, count: int) -> None:
    """List tide stations near a place."""
    rows = nearest_rows(*place_of(near), count)
    asked.show(
        rows, (f"{rounded(row['distance_km'], 1):>8} km  {row['id']:<22} {row['name']} ({row['kind']})" for row in rows)
    )


@click.command()
@click.argument("station")
@click.option("--from", "start", type=Moment(), required=True, help="First instant, ISO 8601 with a zone.")
@click.option("--to", "end", type=Moment(), required=True, help="Last instant, included.")
@click.option("--extremes", is_flag=True, help="Highs and lows.")
@click.option("--step", type=Step(), help="The level every STEP, such as 6m.")
@json_option
@pass_asked
def tide(
    asked: Asked, station: str, start: datetime, end: datetime, extremes: bool, step: timedelta | None
) -> None:  # fmt: skip
    """Predict a station's highs and lows, or its level in steps.

    STATION is an id of the station file (noaa/8443970) or a name that only one station has.
    """
    if extremes == (step is not None):
        raise click.UsageError("Say either --extremes or --step, such as --step 6m.")
    if end < start:
        raise click.UsageError(f"--to {end:%Y-%m-%dT%H:%MZ} is before --from {start:%Y-%m-%dT%H:%MZ}.")
    found = find(station)
    if step is None:
        rows = extreme_rows(found, start, end)
        lines = [f"{row['at']}  {rounded(row['level_m'], 2):>6} m  {row['kind']}" for row in rows]
    else:
        if (end - start) / step >= MOST_LEVELS:
            raise click.UsageError(f"That is more than {MOST_LEVELS:,} levels. Choose a longer step or a shorter span.")
        rows = level_rows(found, start, end, step)
        lines = [f"{row['at']}  {rounded(row['level_m'], 2):>6} m" for row in rows]
    asked.show(rows, [f"{found.name} ({found.chart_datum}). {CAUTION}", *lines])
