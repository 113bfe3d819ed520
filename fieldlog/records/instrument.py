"""What water is measured with: a reading past its calibration is doubted."""

from __future__ import annotations

from fieldlog.records.fields import Date, Text, Whole
from fieldlog.records.kind import Kind, Record


class Instrument(Record):
    name = Text("Instrument", 120, required=True)
    serial = Text("Serial number", 60)
    calibrated_on = Date("Calibrated on")
    calibration_days = Whole("Calibration holds for", unit="d", least=1, most=3650, description="By its maker, or by your own rule")


INSTRUMENT = Kind("instrument", "Instrument", Instrument, writers={"lead"})
