"""The institution's own waiver, as its lead brought it in: one record a version and language, whose text never changes again."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Instant, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed

LANGUAGES = {"en": "English", "es": "Spanish"}


class Waiver(Record):
    version = Text("Version", 40, required=True, settled=True, description="As the institution calls it, such as 2026-03")
    language = Choice("Language", LANGUAGES, required=True, settled=True)
    paragraphs = Listed(
        "Text", {"paragraph": Text("Paragraph", 2000, least=1)}, most=40, least=1, required=True, settled=True,
        description="Your institution\u2019s own words. Once saved they stay as they are: another text is another version",
    )  # fmt: skip
    used_from_at = Instant("In use since", required=True)
    keep_until = Date(
        "Keep signed ones until", required=True, description="Signed waivers and consents of this version are deleted only after this day",
    )


WAIVER = Kind("waiver", "Waiver", Waiver, privacy="crew", writers={"lead"})
