"""A lead's word that a reading of lower water may lengthen the running visit, and by how much."""

from __future__ import annotations

from fieldlog.records.fields import Instant, Number, Ref, Text
from fieldlog.records.kind import Kind, Record


class LevelWord(Record):
    of_visit_id = Ref("Visit", "visit", required=True)
    allows_m = Number(
        "Lower water allowed", unit="m", least=0, most=2, plausible=(0, 0.3), required=True, merge="lower",
        description="At most this much below the prediction",
    )  # fmt: skip
    said_at = Instant("Said at", required=True)
    reason = Text("Why", 200, least=3, required=True)


LEVEL_WORD = Kind("level_word", "Lead's decision on lower water", LevelWord, writers={"lead"})
