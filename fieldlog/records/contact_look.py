"""That somebody opened a person's contacts on a phone: who and when, never what they read."""

from __future__ import annotations

from fieldlog.records.fields import Instant, Ref
from fieldlog.records.kind import Kind, Record


class ContactLook(Record):
    person_id = Ref("Whose contacts", "person", required=True, settled=True)
    looked_at = Instant("Opened at", required=True)


CONTACT_LOOK = Kind("contact_look", "Contacts opened", ContactLook, privacy="leader", writers={"lead", "desk"}, own=True)
