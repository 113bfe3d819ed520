"""README says from which versions on browsers run the app; the code, and who has what since when, say the same."""

from __future__ import annotations

import json
import re

import pytest

from tests.phone.least_versions import (
    BROWSERS,
    DOES_WITHOUT,
    KEPT,
    OWN,
    STATIC,
    USED,
    WHOLE,
    extract,
    least_of,
    names_in,
    script,
)

README = " ".join((STATIC.parent / "README.md").read_text("utf-8").split())
TABLE = extract() if WHOLE.is_file() else json.loads(KEPT.read_text("utf-8"))


def test_what_is_kept_of_the_table_is_what_the_table_says() -> None:
    """Without Node only what is kept is here; it then says of all that is used since when."""
    kept = json.loads(KEPT.read_text("utf-8"))
    assert kept == TABLE, "run `python -m tests.phone.least_versions`"
    assert set(kept["since"]) == set(USED)


@pytest.mark.parametrize("path", USED)
def test_a_feature_that_decides_the_versions_is_used(path: str) -> None:
    code = (STATIC / "style.css").read_text("utf-8") if path.startswith("css.") else script()
    assert re.search(USED[path], code)


def test_nothing_younger_is_used_but_what_the_app_does_without() -> None:
    younger = set(TABLE["younger"].split()) & names_in(script()) - OWN
    assert younger == set(DOES_WITHOUT), "use what these versions have, or ask whether it is there and say what happens without it"


def test_the_readme_says_the_least_versions() -> None:
    least = least_of(TABLE["since"])
    assert (least["chrome_android"], least["safari_ios"]) == (least["chrome"], least["safari"])
    said = re.search(r"Chrome and Edge (\S+), Firefox (\S+), Safari (\S+) \(iPhone and iPad: iOS (\S+)\)", README)
    assert said is not None
    assert said.groups() == (least["chrome"], least["firefox"], least["safari"], least["safari_ios"])
    assert len(BROWSERS) == 5
