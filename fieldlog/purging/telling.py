"""What is held about a person as one document, the same for a lead's screen and the command line."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fieldlog.purging.copies import copies_of, phones_of
from fieldlog.purging.held import Held
from fieldlog.purging.naming import texts_naming
from fieldlog.records.catalogue import Catalogue
from fieldlog.shown_names import counted
from fieldlog.store import Programme

NO_UNDO = "This cannot be undone. A backup from before brings nothing back: the purge is carried out again when it is restored."


def told(programme: Programme, catalogue: Catalogue, held: Held) -> dict[str, Any]:
    """
    The report of one person.

    Returns:
        person_id, name, initials, is_forgotten, sites; holdings: the records by kind; named: texts that name the person, which stay; copies: what a
        purge cannot reach, or later; phones: devices that may hold it, each until its next sync; warnings; tag: what a purge is asked for with.
    """
    return {
        "person_id": held.people[0]["record_id"], "name": held.name, "initials": held.initials, "is_forgotten": held.is_forgotten,
        "sites": [{"site_id": site_id, "name": name} for site_id, name in held.sites.items()],
        "holdings": [asdict(one) for one in held.holdings],
        "named": texts_naming(programme.db(), catalogue, held.names, held.goes) if not held.is_forgotten else [],
        "copies": copies_of(programme), "phones": phones_of(programme, set(held.sites)), "warnings": warnings_of(held), "tag": held.tag,
    }  # fmt: skip


def warnings_of(held: Held) -> list[str]:
    """What a purge does not do, in sentences."""
    found = [NO_UNDO]
    if held.unsalted:
        found.append(
            f"{counted(held.unsalted, 'entry', 'entries')} with the name came from apps up to 0.3.0, which add nothing random. The text goes, but its fingerprint stays: whoever guesses all of such an entry, name included, can check the guess."
        )
    return found
