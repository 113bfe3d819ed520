"""Where another datum lies at a site, so that levels surveyed on it can be turned into levels above the chart datum."""

from __future__ import annotations

from fieldlog.records.fields import Number, Text
from fieldlog.records.kind import Kind, Record


class DatumOffset(Record):
    datum = Text("Datum", 40, least=1, required=True, description="Such as NAVD88, or the name of your own")
    above_chart_m = Number(
        "Zero of this datum, above chart datum", unit="m", least=-50, most=50, plausible=(-5, 10), required=True,
        description="Positive if its zero is higher",
    )  # fmt: skip
    epoch = Text("Epoch", 40, required=True, description="Tidal epoch of the chart datum, such as 1983-2001, or a survey's date")
    source = Text("Source", 200, required=True, description="Benchmark sheet, survey or this site's own comparison")


DATUM_OFFSET = Kind("datum_offset", "Datum", DatumOffset, writers={"lead"})
