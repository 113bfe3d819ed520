"""What holds for every declared kind."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from fieldlog.records import catalogue as catalogue_module
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.fields import Choice, Instant, Measured, Patterned, Ref, Text, Whole, YesNo
from fieldlog.records.forms import form_of, forms
from fieldlog.records.kind import Kind, Record
from fieldlog.sync.log import MAX_FIELDS
from tests.records.made_up import BARREL

KINDS = list(CATALOGUE.kinds.values())
EACH_FIELD = [
    pytest.param(kind, name, field, id=f"{kind.name}.{name}")
    for kind in KINDS
    for name, field in kind.fields.items()
] + [
    pytest.param(kind, name, field, id=f"{kind.name}.{of}.{name}")
    for kind in KINDS
    for of, listed in kind.lists.items()
    for name, field in listed.inner.items()
]
"""Those within lists too."""
READINGS = {
    "stake_reading", "table_reading", "horizon_reading", "level_run", "rod_profile", "cover_reading", "edge_reading", "settlement_count", "water_reading",
}  # fmt: skip
UNIT_ENDINGS = {
    "_mm": "mm", "_m": "m", "_deg": "°", "_min": "min", "_pct": "%", "_kg": "kg", "_days": "d", "_px": "px", "_h": "h", "_mi": "mi",
    "_m2": "m²", "_cm2": "cm²", "_c": "°C", "_psu": "PSU", "_mg_l": "mg/L", "_ntu": "NTU",
}  # fmt: skip


def test_each_kind_has_a_file_of_its_name() -> None:
    folder = Path(catalogue_module.__file__).parent
    other = {"import": "importing"}  # the kind's name is a word of the language
    assert all((folder / f"{other.get(name, name)}.py").is_file() for name in CATALOGUE.kinds)


@pytest.mark.parametrize(("kind", "name", "field"), EACH_FIELD)
def test_the_unit_is_half_of_the_name(kind: Kind, name: str, field: object) -> None:
    told = [unit for ending, unit in UNIT_ENDINGS.items() if name.endswith(ending)]
    if isinstance(field, Measured) and field.unit not in (None, "bytes"):
        assert told == [field.unit]
    elif not isinstance(field, Measured):
        assert told == []


@pytest.mark.parametrize(("kind", "name", "field"), EACH_FIELD)
def test_an_instant_is_known_by_its_name(kind: Kind, name: str, field: object) -> None:
    assert isinstance(field, Instant) == name.endswith("_at")


@pytest.mark.parametrize(("kind", "name", "field"), EACH_FIELD)
def test_limits_are_sensible(kind: Kind, name: str, field: object) -> None:
    if isinstance(field, Measured):
        least, most = field.plausible or (field.least, field.most)
        assert field.least <= least < most <= field.most
        default = field.metadata.get("default")
        assert default is None or least <= default <= most
    if isinstance(field, Whole) and "x-labels" in field.metadata:
        assert list(field.metadata["x-labels"]) == [
            str(n) for n in range(int(field.least), int(field.most) + 1)
        ]
    if isinstance(field, Text):
        assert 0 <= field.least <= field.most <= (30_000 if kind.name == "visit_plan" else 2000)


@pytest.mark.parametrize(("kind", "name", "field"), EACH_FIELD)
def test_a_reference_says_which_kind_it_is_to(kind: Kind, name: str, field: object) -> None:
    assert not name.endswith("_id") or isinstance(field, Ref) or name in ("window_id", "taxon_id", "flag_id")
    if isinstance(field, Ref):
        to = field.metadata["x-ref"]
        named_by = {**{inner: one for listed in kind.lists.values() for inner, one in listed.inner.items()}, **kind.fields}.get(to)
        kinds = list(named_by.labels) if isinstance(named_by, Choice) else [to]
        assert set(kinds) <= set(CATALOGUE.kinds)


@pytest.mark.parametrize(("kind", "name", "field"), EACH_FIELD)
def test_patterns_mean_the_same_in_python_and_in_javascript(kind: Kind, name: str, field: object) -> None:
    if isinstance(field, Patterned):
        assert not re.search(r"\\[A-Za-z]|\(\?[^:]|\(\?:.*\?<", field.pattern)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_rules_name_fields_and_choices_that_exist(kind: Kind) -> None:
    for rule in kind.rules:
        names = [*rule.get("fields", []), *(rule[key] for key in ("field", "other") if key in rule)]
        assert set(names) <= set(kind.fields)
        if "is" in rule:
            assert set(rule["is"]) <= set(kind.fields[rule["other"]].metadata["x-labels"])


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_whole_record_fits_in_one_entry_and_its_sentences_name_fields_apart(kind: Kind) -> None:
    assert len(kind.fields) < MAX_FIELDS
    titles = [field.title for field in kind.fields.values()]
    assert len(set(titles)) == len(titles)


def test_who_may_write_and_who_reads_is_as_agreed() -> None:
    by_privacy = {
        privacy: {k.name for k in KINDS if k.privacy == privacy} for privacy in ("crew", "leader", "medical")
    }
    assert by_privacy == {
        "crew": {
            "person", "people_photo", "visit", "visit_part", "sign_in", "preparation", "mileage", "award", "award_hours", "rate", "hours_signed",
            "season_closing", "waiver", "head_count",
        },
        "leader": {"person_private", "waiver_signed", "contact_look"}, "medical": {"sign_in_private"},
    }  # fmt: skip
    desk = {kind.name for kind in KINDS if "desk" in kind.writers}
    assert desk == {
        "person", "person_private", "sign_in", "sign_in_private", "preparation", "mileage", "waiver_signed", "contact_look", "head_count",
    }  # fmt: skip
    assert all("lead" in kind.writers and "reader" not in kind.writers for kind in KINDS)
    crew = {kind.name for kind in KINDS if "crew" in kind.writers}
    assert crew == {
        "person",
        "visit",
        "visit_part",
        "sign_in",
        "unit_check",
        "position_fix",
        "unit_event",
        "sighting",
        "photo",
        "people_photo",
        "plot_event",
        *READINGS,
        "preparation",
        "mileage",
        "head_count",
    }


def test_while_phones_disagree_on_a_safety_figure_the_careful_one_is_known() -> None:
    assert CATALOGUE.kinds["site"].merges == {
        "work_level_m": "lower", "route_low_level_m": "lower", "allowance_m": "higher", "walk_out_min": "higher",
        "muster_min": "higher", "latest_after_low_min": "lower", "people_per_leader": "lower", "least_leaders": "higher",
    }  # fmt: skip
    assert CATALOGUE.kinds["row"].merges == {"bed_level_m": "lower"}
    assert CATALOGUE.kinds["person"].merges == {"minor": "higher", "waiver_valid": "lower"}


def test_two_starts_of_a_visit_and_two_sign_ins_of_a_person_ask_nobody() -> None:
    assert CATALOGUE.kinds["visit"].merges == {
        "started_at": "earliest", "ended_at": "latest", "walk_timed_min": "higher", "briefing_done": "either",
    }  # fmt: skip
    assert CATALOGUE.kinds["sign_in"].merges == {"briefing_heard": "either", "in_at": "earliest", "out_at": "latest"}


@pytest.mark.parametrize(("make", "merge"), [(lambda merge: Text("Note", 9, merge=merge), "earliest"), (lambda merge: Instant("In", merge=merge), "either"), (lambda merge: YesNo("Heard", merge=merge), "first")], ids=["a text", "a time", "an unknown word"])
def test_a_way_to_merge_that_a_field_does_not_have_is_refused_where_it_is_declared(make: Callable[[str], object], merge: str) -> None:
    with pytest.raises(ValueError, match=f"cannot merge as '{merge}'"):
        make(merge)


def test_apps_of_before_read_the_careful_values_where_they_look_for_them() -> None:
    said = CATALOGUE.kinds["site"].fields["work_level_m"].metadata
    assert (said["x-merge"], said["x-cautious"]) == ("lower", "lower")
    assert "x-cautious" not in CATALOGUE.kinds["visit"].fields["started_at"].metadata


def test_a_record_is_complete_with_what_it_requires() -> None:
    check = {"unit_id": "u", "checked_at": "2026-11-25T06:12:00Z", "found_state": "seen"}
    assert CATALOGUE.kinds["unit_check"].complete(check) == []
    sighting = {"found": "looked_for_none", "seen_at": "2026-11-25T06:12:00Z", "taxon": "Eelgrass"}
    assert CATALOGUE.kinds["sighting"].complete(sighting) == []
    assert [f.word for f in CATALOGUE.kinds["sighting"].complete({**sighting, "count": 0})] == [
        "not-together"
    ]


def test_the_hash_follows_verdicts_and_the_version_follows_words_too() -> None:
    class Reworded(Record):
        label = Text("Name", 10)

    class Original(Record):
        label = Text("Label", 10)

    class Longer(Record):
        label = Text("Label", 11)

    original, reworded, longer = (
        Catalogue([Kind("jar", "Jar", schema, writers={"lead"})]) for schema in (Original, Reworded, Longer)
    )
    assert original.hash == reworded.hash != longer.hash
    assert len({original.version, reworded.version, longer.version}) == 3


def test_the_order_of_kinds_changes_nothing() -> None:
    assert Catalogue(KINDS[::-1]).hash == CATALOGUE.hash


def test_all_forms_are_plain_json_with_what_a_phone_needs() -> None:
    told = forms(CATALOGUE)
    assert told["version"] == CATALOGUE.version
    assert list(told["kinds"]) == list(CATALOGUE.kinds)
    check = told["kinds"]["unit_check"]
    assert check["x-privacy"] == "open" and check["x-writers"] == ["crew", "lead"]
    assert check["properties"]["found_state"]["x-labels"]["probed"] == "Felt with the probe"
    assert form_of(BARREL)["x-rules"] == BARREL.rules


@pytest.mark.browser
def test_the_phone_describes_an_input_for_every_field_that_is_typed(page) -> None:
    found = page.evaluate(
        """async (kinds) => {
            const { describe } = await import('/records/form.js');
            return Object.fromEntries(Object.entries(kinds).map(([name, form]) => [name, describe(form)]));
        }""",
        forms(CATALOGUE)["kinds"],
    )
    for kind in KINDS:
        names = [name for name in kind.fields if name not in ("sha256", "flag_id")]
        assert [one["name"] for one in found[kind.name]] == names
        assert all(one["control"] for one in found[kind.name])
    grade = next(one for one in found["unit_check"] if one["name"] == "body_grade")
    assert grade["control"] == "choices" and grade["choices"][0] == {"value": 0, "label": "As cast"}
    allowance = next(one for one in found["site"] if one["name"] == "allowance_m")
    assert allowance["initial"] == 0.2
