"""What only leads read of a person, asked for by name of the person and never part of a crew phone's pull."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device


def private_of(db: Database, lead: Device, person_id: str) -> dict[str, Any]:
    """
    A person's contact record and the medical notes of their sign-ins, on the lead's own sites.

    Returns:
        person_id; contact: the rows of `person_private`; sign_ins: the rows of `sign_in_private`.
    """
    here = "(:sites IS NULL OR site_id IS NULL OR site_id IN (SELECT value FROM json_each(:sites)))"
    asked = {"person": person_id, "sites": None if lead.sites is None else json.dumps(sorted(lead.sites))}
    contact = db.query(f"SELECT * FROM person_private WHERE deleted = 0 AND person_id = :person AND {here}", asked)
    sign_ins = db.query(
        f"""SELECT * FROM sign_in_private WHERE deleted = 0 AND {here}
            AND sign_in_id IN (SELECT record_id FROM sign_in WHERE person_id = :person)""",
        asked,
    )
    return {"person_id": person_id, "contact": list(contact), "sign_ins": list(sign_ins)}
