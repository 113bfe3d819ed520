"""How to reach a person, and whom to call for them: written at the desk, read by leads."""

from __future__ import annotations

from fieldlog.records.fields import Ref, Text
from fieldlog.records.kind import Kind, Record


class PersonPrivate(Record):
    person_id = Ref("Person", "person", required=True)
    phone = Text("Phone", 40)
    email = Text("Email", 120)
    emergency_name = Text("Emergency contact", 80)
    emergency_phone = Text("Emergency contact's phone", 40)
    guardian_name = Text("Guardian", 80)
    guardian_phone = Text("Guardian's phone", 40)


PERSON_PRIVATE = Kind("person_private", "Contacts", PersonPrivate, privacy="leader", writers={"lead", "desk"}, of_person="person_id")
