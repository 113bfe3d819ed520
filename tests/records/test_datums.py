"""A level never without its datum: held on the server, told on the phone, the same words on both sides."""

from __future__ import annotations

import json
from typing import Any

import pytest

from a_phone import Phone
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.forms import forms

LEVELS = [("site", "work_level_m"), ("site", "route_low_level_m"), ("row", "bed_level_m"), ("unit", "bed_level_m"), ("control_mark", "level_m"), ("visit", "observed_level_m"),
          *((kind, f"{end}_level_m") for kind in ("level_run", "rod_profile") for end in ("start", "end"))]  # fmt: skip
CREST = ("unit_check", "crest_level_mm")
"""A rod's reading above a mark of its own, which it names in `crest_datum`."""
BOTH_SIDES = """async ([kinds, cases]) => {
  const { check } = await import('/records/validate.js');
  return cases.map(([kind, fields]) => check(kinds[kind], fields).map(({ field, word, sentence, hard }) => [field, word, sentence, hard]));
}"""


def test_every_level_there_is_asks_for_its_datum() -> None:
    found = {(name, field) for name, kind in CATALOGUE.kinds.items() for field, declared in kind.fields.items() if "x-datum" in declared.metadata}
    assert found == {*LEVELS, CREST}
    named = {(name, field) for name, kind in CATALOGUE.kinds.items() for field in kind.fields if field.endswith("level_m")}
    assert named == set(LEVELS), "a new level must be declared by places.level"


@pytest.mark.parametrize(("kind", "field"), LEVELS)
def test_a_level_without_a_datum_is_a_hard_fault_and_with_one_is_none(kind: str, field: str) -> None:
    (fault,) = CATALOGUE.kinds[kind].check({field: 0.5})
    assert (fault.field, fault.word, fault.hard) == (field, "no-datum", True)
    assert "Add in the same entry what it is above" in fault.sentence
    assert CATALOGUE.kinds[kind].check({field: 0.5, "level_datum": "NAVD88"}) == []
    assert CATALOGUE.kinds[kind].check({field: None}) == [], "emptying a level needs no datum"
    assert [one.word for one in CATALOGUE.kinds[kind].check({field: 0.5, "level_datum": ""})][-1:] != []


def test_a_crest_level_says_which_mark_it_is_above() -> None:
    check = CATALOGUE.kinds["unit_check"].check
    assert [(fault.word, fault.hard) for fault in check({"crest_level_mm": 1200})] == [("no-datum", True)]
    assert check({"crest_level_mm": 1200, "crest_datum": "mark M2"}) == []


@pytest.mark.browser
def test_the_phone_says_the_same(modules_page: Any) -> None:
    cases: list[list[Any]] = [[kind, fields] for kind, field in LEVELS for fields in ({field: 0.5}, {field: 0.5, "level_datum": "MLLW"}, {field: None}, {field: 99}, {field: 99, "level_datum": "MLLW"})]
    theirs = modules_page.evaluate(BOTH_SIDES, [json.loads(json.dumps(forms(CATALOGUE)["kinds"])), cases])
    ours = [[[f.field, f.word, f.sentence, f.hard] for f in CATALOGUE.kinds[kind].check(fields)] for kind, fields in cases]
    assert theirs == ours


def test_the_server_holds_it_with_its_sentence(client_of: Any, now: Any, programme: Any) -> None:
    site_id = "5d1f4f3e-4c57-4b8e-9f5e-6b7c2f6f1a11"
    lead = Phone(client_of("lead"), int(now().timestamp() * 1000))
    lead.write("site", site_id, {"name": "Alder Spit", "work_level_m": 0.5}, g=site_id)
    acks = lead.sync().json["acks"]
    assert acks[0][2] == "q", "held, with its reason in the tray"
    assert list(programme.db().query("SELECT * FROM site")) == []
    assert "without its datum" in programme.db().execute("SELECT sentence FROM tray").fetchone()[0]
