"""The water at a place: temperature, salinity, oxygen, turbidity, and the instrument that said so."""

from __future__ import annotations

from fieldlog.records.fields import Number, Ref
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known


class WaterReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    instrument_id = Ref("Instrument", "instrument")
    # Common practice, no source: coastal waters; the hard limits take in brine and ice.
    temperature_c = Number("Water temperature", unit="°C", least=-5, most=60, plausible=(-2, 35), last=True)
    salinity_psu = Number("Salinity", unit="PSU", least=0, most=300, plausible=(0, 42), last=True)
    oxygen_mg_l = Number("Oxygen", unit="mg/L", least=0, most=50, plausible=(0, 20), last=True)
    turbidity_ntu = Number("Turbidity", unit="NTU", least=0, most=10_000, plausible=(0, 1000), last=True)
    own_values = own_values()
    note = note()
    in_visit = in_visit()


WATER_READING = Kind(
    "water_reading", "Water reading", WaterReading, writers={"crew", "lead"},
    rules=[{"rule": "any-of", "fields": ["temperature_c", "salinity_psu", "oxygen_mg_l", "turbidity_ntu"]}],
)  # fmt: skip
