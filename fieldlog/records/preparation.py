"""Hours for the site that no sign-in has: getting ready, training, mending tools, typing in sheets. Typed by the person or a lead."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Number, Ref, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.person import PERSON_ROLES
from fieldlog.records.sign_in import TASKS


class Preparation(Record):
    person_id = Ref("Person", "person", required=True)
    worked_on = Date("Day", required=True)
    spent_h = Number("Hours", unit="h", least=0, most=24, plausible=(0.1, 14), required=True, description="Decimal: 1.5 is an hour and a half")
    preparation_role = Choice("Role that day", PERSON_ROLES)
    task = Choice("Task", TASKS)
    what = Text("What was done", 200)


PREPARATION = Kind(
    "preparation", "Preparation hours", Preparation, privacy="crew", writers={"crew", "desk", "lead"}, own=True, plural="preparations",
    by_number=("person_id", "worked_on", "spent_h", "preparation_role", "task"),
)  # fmt: skip
