"""Asking for something changes nothing of the programme."""

from __future__ import annotations

import pytest

from tests.service_document import service_document

OWN_NOTES = ("calendar_address",)
"""A device's own addresses are made when it first asks for them, and say whether they were ever fetched."""

READ = sorted(path for path, operations in service_document()["paths"].items() if "get" in operations)


def stored(db) -> dict[str, list]:
    tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")]
    return {name: db.execute(f'SELECT * FROM "{name}"').fetchall() for name in tables if name not in OWN_NOTES}


@pytest.mark.parametrize("role", ["lead", "reader"])
def test_reading_verbs_change_nothing_of_the_programme(client_of, programme, role) -> None:
    client = client_of(role)
    db = programme.db()
    before = stored(db)
    for path in READ:
        said = path
        for name in ("{sha256}", "{secret}.ics", "{secret}"):
            said = said.replace(name, "0" * 64)
        while "{" in said:
            said = said[: said.index("{")] + "none" + said[said.index("}") + 1 :]
        client.get(said)
        client.head(said)
        assert stored(db) == before, path
