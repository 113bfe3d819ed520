"""
Which hours are counted to an award: those of a visit, of a person, of a task, or of days; where several are said, of all of them together.

One that names a single record of hours decides where others contradict each other.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Ref
from fieldlog.records.kind import Kind, Record
from fieldlog.records.sign_in import TASKS

HOURS_OF = {"sign_in": "A sign-in", "preparation": "Preparation hours", "mileage": "Miles driven"}


class AwardHours(Record):
    award_id = Ref("Award", "award", required=True)
    of_visit_id = Ref("Visit", "visit", description="Empty: of any visit")
    person_id = Ref("Person", "person", description="Empty: of anybody")
    task = Choice("Task", TASKS)
    from_day = Date("First day", description="Empty: from the beginning")
    to_day = Date("Last day", description="Empty: until further notice")
    of_kind = Choice("Only one record", HOURS_OF)
    of_id = Ref("Which one", "of_kind")


AWARD_HOURS = Kind(
    "award_hours", "Hours on an award", AwardHours, privacy="crew", writers={"lead"}, plural="award_hours",
    rules=[
        {"rule": "not-before", "field": "to_day", "other": "from_day"},
        {"rule": "any-of", "fields": ["of_visit_id", "person_id", "task", "from_day", "to_day", "of_id"]},
        {"rule": "together", "fields": ["of_kind", "of_id"]},
    ],
)  # fmt: skip
