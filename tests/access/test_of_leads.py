"""Fields that only leads write: which they are, by hand, and that nobody else's entry with one of them is taken."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from access import rights_table as table
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.kind import Kind
from tests.access.test_rights import HERE, answered, fields_of, shore, value_of  # noqa: F401


def test_the_fields_of_leads_are_those_of_the_table() -> None:
    assert {kind.name: kind.of_leads for kind in CATALOGUE.kinds.values() if kind.of_leads} == table.OF_LEADS


def of_leads(kind: Kind) -> dict[str, Any]:
    """What only a lead writes of a kind."""
    return {name: value_of(kind.fields[name]) for name in table.OF_LEADS[kind.name]}


@pytest.mark.parametrize("role", ["lead", "lead-all", "crew", "crew-all", "desk", "reader"])
def test_nobody_but_a_lead_moves_a_record_to_another_visit_or_joins_two(shore, role) -> None:  # noqa: F811
    """Neither of a record that stands, nor while making one."""
    kinds = [CATALOGUE.kinds[name] for name in table.OF_LEADS]
    word = "taken" if role.startswith("lead") else "not-permitted"
    changes = {kind.name: (shore.records[kind.name, "own"], HERE, of_leads(kind)) for kind in kinds}
    assert answered(shore, role, changes) == dict.fromkeys(changes, word)
    made = {kind.name: (str(uuid.uuid4()), HERE, {**fields_of(kind), **of_leads(kind)}) for kind in kinds}
    assert answered(shore, role, made) == dict.fromkeys(made, word)
