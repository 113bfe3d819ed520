"""What only leads read of a person, asked for by name of the person and never part of a crew phone's pull."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.questions.people import contacts_of, medical_notes_of


def private_of(db: Database, lead: Device, person_id: str) -> dict[str, Any]:
    """
    A person's contact record and the medical notes of their sign-ins, on the lead's own sites.

    What another site's records say of a person is not theirs: a note belongs to a sign-in of its own site, a sign-in and
    a contact record to a person of their site or of the whole programme. A contact record without a site, such as the app
    wrote up to 0.2.0, is for leads of the whole programme only.

    Returns:
        person_id; contact: the rows of `person_private`; sign_ins: the rows of `sign_in_private`.
    """
    return {"person_id": person_id, "contact": contacts_of(db, person_id, lead.sites), "sign_ins": medical_notes_of(db, person_id, lead.sites)}
