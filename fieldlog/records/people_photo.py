"""
A photo on which people can be recognized, or of which nobody has answered whether they can: readers get neither it nor its bytes.

All else is as of any photo. A kind cannot change, so one that was marked wrongly is removed and recorded anew with the same file.
"""

from __future__ import annotations

from fieldlog.records.fields import LOWER, YesNo
from fieldlog.records.kind import Kind
from fieldlog.records.photo import PHOTO, Photo


class PeoplePhoto(Photo):
    recognizable = YesNo("People recognizable", description="Empty: nobody has answered yet")
    consent = YesNo(
        "Everyone shown agreed", crew="leads", merge=LOWER, description="Until a lead says so, it is in no open export and no report"
    )  # fmt: skip


PEOPLE_PHOTO = Kind(
    "people_photo", "Photo of people", PeoplePhoto, privacy="crew", writers=PHOTO.writers, rules=PHOTO.rules, open_when="consent"
)  # fmt: skip
PHOTO_KINDS = (PHOTO.name, PEOPLE_PHOTO.name)
"""The kinds whose records name a photo's file."""
