"""
What covers a marsh plot: what the pin touched at each point, or percent as judged, and the stems of one plant.

Zeros of what was looked for are written. Cover classes are derived, never typed; a class of an old sheet that was brought in keeps its
scheme and its bounds, and is no percent.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Ref, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known

SURFACES = {"bare": "Bare ground", "wrack": "Wrack", "shell": "Shell", "water": "Standing water"}
METHODS = {"points": "Points", "percent": "Percent, by eye", "classes": "Classes of an old sheet"}


class CoverReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    cover_method = Choice("How it was read", METHODS, required=True)
    points_read = Whole("Points read", least=1, most=1000, last=True)
    class_scheme = Text("Scheme of the classes", 60, description="Its name and where its classes begin")
    cover = Listed(
        "Cover",
        {
            "species_id": Ref("Species", "species"),
            "surface": Choice("Ground", SURFACES),
            "hits": Whole("Points hit", least=0, most=1000),
            "cover_pct": Number("Cover", unit="%", least=0, most=100),
            "class_from_pct": Number("Class from", unit="%", least=0, most=100),
            "class_to_pct": Number("Class to", unit="%", least=0, most=100),
        },
        most=200,
    )
    stems_species_id = Ref("Stems of", "species")
    stems = Whole("Stems", least=0, most=100_000, plausible=(0, 5000), last=True)
    stems_area_m2 = Number("Stems counted in", unit="m²", least=0.0001, most=100, plausible=(0.01, 4), last=True)
    tallest = Listed("Tallest", {"height_mm": Number("Height", unit="mm", least=0, most=10_000, plausible=(10, 4000))}, most=20)
    own_values = own_values()
    note = note()
    in_visit = in_visit()


COVER_READING = Kind(
    "cover_reading", "Marsh plot reading", CoverReading, writers={"crew", "lead"},
    rules=[
        {"rule": "needed-when", "field": "points_read", "other": "cover_method", "is": ["points"]},
        {"rule": "needed-when", "field": "class_scheme", "other": "cover_method", "is": ["classes"]},
        {"rule": "together", "fields": ["stems", "stems_area_m2"]},
    ],
)  # fmt: skip
