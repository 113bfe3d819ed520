"""What has settled on a unit: counts within a frame on a named face, with zeros, heights of shells, and cover by points."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Ref, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, read_at
from fieldlog.records.times import time_known

FACES = {"seaward": "Seaward", "landward": "Landward", "top": "Top", "inside": "Inside"}


class SettlementCount(Record):
    unit_id = Ref("Unit", "unit", required=True)
    read_at = read_at()
    time_known = time_known()
    face = Choice("Face", FACES, required=True)
    frame_cm2 = Number("Frame", unit="cm²", least=1, most=100_000, plausible=(25, 2500), required=True, last=True)
    counted_from = Choice("Counted", {"shore": "On the shore", "photo": "From the photo"})
    counted_photo_id = Ref("Photo", "photo")
    counts = Listed(
        "Counts",
        {"species_id": Ref("Species", "species", required=True), "count": Whole("Count", least=0, most=100_000, plausible=(0, 2000), required=True)},
        most=100,
    )
    heights_species_id = Ref("Heights of", "species")
    shell_heights = Listed("Shell heights", {"height_mm": Number("Shell height", unit="mm", least=0, most=500, plausible=(1, 200))}, most=500)
    points_read = Whole("Points read", least=1, most=1000)
    points_hit = Listed("Points hit", {"species_id": Ref("Species", "species", required=True), "hits": Whole("Points hit", least=0, most=1000, required=True)}, most=100)
    own_values = own_values()
    note = note()
    in_visit = in_visit()


SETTLEMENT_COUNT = Kind("settlement_count", "Settlement count", SettlementCount, writers={"crew", "lead"})
