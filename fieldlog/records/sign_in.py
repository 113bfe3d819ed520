"""One person's turn on the site: in, and out again."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Ref, Text, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.person import PERSON_ROLES
from fieldlog.records.times import time_known

TASKS = {
    "casting": "Casting", "carrying": "Carrying", "placing": "Placing", "checking": "Checking",
    "monitoring": "Monitoring", "other": "Other",
}  # fmt: skip


MISTAKEN = "Signed in by mistake"
"""The reason by which a sign-in counts nowhere (static/records/mistaken.js)."""


class SignIn(Record):
    person_id = Ref("Person", "person", required=True)
    sign_in_role = Choice("Role today", PERSON_ROLES)
    briefing_heard = YesNo("Briefing heard", merge="either")
    waiver_version = Text("Waiver version", 40)
    in_at = Instant("In", required=True, merge="earliest")
    out_at = Instant("Out", merge="latest", since="in_at")
    no_out_reason = Text("Why no sign-out time", 200, since="in_at")
    time_known = time_known()
    task = Choice("Task", TASKS)
    adult_id = Ref("Adult with this minor", "person", description="Who is on site and looks after them today")
    in_visit = in_visit()


SIGN_IN = Kind(
    "sign_in", "Sign-in", SignIn, privacy="crew", writers={"crew", "desk", "lead"},
    by_number=("person_id", "sign_in_role", "briefing_heard", "in_at", "out_at", "task"),
    rules=[{"rule": "not-before", "field": "out_at", "other": "in_at"}],
)  # fmt: skip
