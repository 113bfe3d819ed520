"""How much of a stake stands out of the bed: less of it showing means that the bed rose."""

from __future__ import annotations

from fieldlog.records.fields import Number, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known


class StakeReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    # Common practice, no source: a stake longer than 3 m stands on no shore that is walked.
    exposed_mm = Number("Showing", unit="mm", least=0, most=3000, plausible=(10, 1500), required=True, last=True, description="Always on the same side")
    scour_ring = YesNo("Scour ring", description="Water has dug round the stake itself")
    own_values = own_values()
    note = note()
    in_visit = in_visit()


STAKE_READING = Kind("stake_reading", "Stake reading", StakeReading, writers={"crew", "lead"})
