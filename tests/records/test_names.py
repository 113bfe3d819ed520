"""A record's name says of which site it is; the two forms of a visit's name are one low."""

from __future__ import annotations

import json
import uuid
from pathlib import Path

import pytest

from fieldlog.records.names import name_fits, same_low

NAMED = json.loads((Path(__file__).parents[1] / "vectors" / "sync_ids.json").read_text())["names_of_sites"]


@pytest.mark.parametrize(("older", "site", "name"), NAMED)
def test_a_name_of_a_site_fits_that_site_alone_and_an_older_one_any(older: str, site: str | None, name: str) -> None:
    assert uuid.UUID(name).version == 8 and uuid.UUID(name).variant == uuid.RFC_4122
    assert name_fits(name, site)
    assert not name_fits(name, "another site")
    assert not name_fits(name, "" if site else NAMED[0][1])
    assert name_fits(older, site) and name_fits(older, "another site")


@pytest.mark.parametrize(("older", "site", "name"), NAMED)
def test_both_forms_of_a_visits_name_are_one_low(older: str, site: str | None, name: str) -> None:
    assert same_low(older) == same_low(name)
    assert len({same_low(other) for other, *_ in NAMED}) == len({other for other, *_ in NAMED})


def test_visits_that_no_window_named_are_each_their_own() -> None:
    one, other = "0192f0c4-0000-7000-8000-000000000001", "0192f0c4-0000-7000-8000-000000000002"
    assert (same_low(one), same_low(other), same_low("v1")) == (one, other, "v1")
