"""What only leads read of a person, asked for by name of the person and never part of a crew phone's pull."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device


def private_of(db: Database, lead: Device, person_id: str) -> dict[str, Any]:
    """
    A person's contact record and the medical notes of their sign-ins, on the lead's own sites.

    What another site's records say of a person is not theirs: a note belongs to a sign-in of its own site, a sign-in and
    a contact record to a person of their site or of the whole programme. A contact record without a site, such as the app
    wrote up to 0.2.0, is for leads of the whole programme only.

    Returns:
        person_id; contact: the rows of `person_private`; sign_ins: the rows of `sign_in_private`.
    """
    here = "(:sites IS NULL OR one.site_id IN (SELECT value FROM json_each(:sites)))"
    theirs = "EXISTS (SELECT 1 FROM person p WHERE p.record_id = :person AND (p.site_id IS NULL OR p.site_id = {0}.site_id))"
    asked = {"person": person_id, "sites": None if lead.sites is None else json.dumps(sorted(lead.sites))}
    contact = db.query(
        f"""SELECT one.* FROM person_private one WHERE one.deleted = 0 AND one.person_id = :person AND {here}
            AND (one.site_id IS NULL OR {theirs.format("one")})""",
        asked,
    )
    sign_ins = db.query(
        f"""SELECT one.* FROM sign_in_private one JOIN sign_in s ON s.record_id = one.sign_in_id AND s.site_id = one.site_id
            WHERE one.deleted = 0 AND s.person_id = :person AND {here} AND {theirs.format("s")}""",
        asked,
    )
    return {"person_id": person_id, "contact": list(contact), "sign_ins": list(sign_ins)}
