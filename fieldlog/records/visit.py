"""A crew's time on the site, from the first step on the shore to the last off it."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Number, Ref, Text, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import level, level_datum
from fieldlog.records.times import time_known

PURPOSES = {
    "walk": "Walk",
    "deployment": "Deployment",
    "storm_check": "Storm check",
    "monitoring": "Monitoring",
}


class Visit(Record):
    purpose = Choice("Purpose", PURPOSES, required=True)
    window_id = Text("Low tide", 80)
    started_at = Instant("Started", required=True, merge="earliest")
    ended_at = Instant("Ended", merge="latest")
    leader_id = Ref("Leader", "person")
    conditions = Text("Conditions", 500, description="Wind, waves, rain, visibility")
    observed_level_m = level("Observed level")
    level_datum = level_datum()
    observed_at = Instant("Level observed at")
    walk_timed_min = Number(
        "Walk, as timed", unit="min", least=0, most=600, plausible=(1, 120), merge="higher",
        description="From the far row to firm ground, the slowest person",
    )  # fmt: skip
    briefing_done = YesNo("Briefing done", merge="either")
    time_known = time_known()
    joined_to = Ref("Same visit as", "visit", crew="leads", description="Its records count on that one. Empty: a visit of its own")


VISIT = Kind(
    "visit", "Visit", Visit, privacy="crew", writers={"crew", "lead"},
    by_number=(
        "purpose", "window_id", "started_at", "ended_at", "leader_id", "observed_level_m", "level_datum", "observed_at", "walk_timed_min",
        "briefing_done", "joined_to",
    ),
    rules=[
        {"rule": "not-before", "field": "ended_at", "other": "started_at"},
        {"rule": "together", "fields": ["observed_level_m", "observed_at"]},
    ],
)  # fmt: skip
