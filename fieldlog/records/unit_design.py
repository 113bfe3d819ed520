"""What a kind of reef unit measures; one design serves every site of the programme."""

from __future__ import annotations

from fieldlog.records.fields import Number, Text
from fieldlog.records.kind import Kind, Record


class UnitDesign(Record):
    name = Text("Design", 80, required=True)
    height_mm = Number("Height", unit="mm", least=1, most=3000, plausible=(100, 1500), required=True)
    footprint_mm = Number(
        "Width of the footprint", unit="mm", least=1, most=10_000, plausible=(100, 3000), required=True
    )
    mass_kg = Number("Mass", unit="kg", least=0.1, most=20_000, plausible=(5, 3000))


UNIT_DESIGN = Kind("unit_design", "Unit design", UnitDesign, writers={"lead"}, site_bound=False, plural="designs")
