"""A photo of something recorded; its bytes travel apart, named by their SHA-256."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Ref, Sha256, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.places import latitude, longitude, radius

OF_KINDS = {
    "unit_check": "Unit check", "sighting": "Sighting", "visit": "Visit", "unit": "Unit",
    "position_fix": "Position", "plot": "Plot",
}  # fmt: skip
MEDIA_TYPES = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WebP", "image/heic": "HEIC"}


class Photo(Record):
    of_kind = Choice("Photo of", OF_KINDS, required=True)
    of_id = Ref("Which one", "of_kind", required=True)
    sha256 = Sha256("Name of the file", required=True, settled=True)
    bytes = Whole("Size", unit="bytes", least=1, most=8_388_608)
    media_type = Choice("Format", MEDIA_TYPES)
    width_px = Whole("Width", unit="px", least=1, most=100_000)
    height_px = Whole("Height", unit="px", least=1, most=100_000)
    shows = Text("What it shows", 200)
    taken_at = Instant("Taken at", required=True)
    lat_deg = latitude()
    lon_deg = longitude()
    accuracy_m = radius("Accuracy", description="How far off it may be, from the phone")
    in_visit = in_visit()


PHOTO = Kind(
    "photo",
    "Photo",
    Photo,
    writers={"crew", "lead"},
    rules=[{"rule": "together", "fields": ["lat_deg", "lon_deg"]}],
)
