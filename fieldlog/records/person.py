"""Someone of the crew, as the crew knows them. Contacts and medical notes are kinds of their own."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Ref, Text, YesNo
from fieldlog.records.kind import Kind, Record

PERSON_ROLES = {
    "leader": "Leader", "student": "Student", "volunteer": "Volunteer", "staff": "Staff",
    "visitor": "Visitor",
}  # fmt: skip


class Person(Record):
    display_name = Text("Name", 80, required=True, description="As the crew calls them")
    role = Choice("Role", PERSON_ROLES)
    minor = YesNo("Under 18", crew="on", merge="higher", description="Not known counts as under 18")
    waiver_valid = YesNo("Waiver valid", crew="never", merge="lower")
    waiver_version = Text("Version of the waiver", 40, crew="never", description="Which one they signed, on paper or at the desk")
    same_as = Ref("Same person as", "person", across=True, description="The record of this person at another site")
    left_on = Date("Left on", crew="leads", description="No longer with the program; what they wrote stays")


PERSON = Kind("person", "Person", Person, privacy="crew", writers={"lead", "desk", "crew"}, site_bound=False, salted=True)
