"""A rule that fails takes nothing with it: the entry is taken, and a flag says that it could not be judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from fieldlog.doctor import examine
from fieldlog.flags import verdicts
from fieldlog.flags.flag import Limits, Rules, about_of, read_rule, record_rule, unit_rule
from fieldlog.flags.reading import list_flags
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from tests.flags.shore import NOW, SITE, UNIT, Shore

JULY, AUGUST = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z"


class Breaking:
    """Puts a fault into a registered rule, and takes it out again."""

    def __init__(self) -> None:
        self._undo: list[tuple[Rules, int, Any]] = []

    def __call__(self, rules: Rules, name: str, **parts: Any) -> None:
        at = [rule.name for rule in rules.rules].index(name)
        self._undo.append((rules, at, rules.rules[at]))
        rules.rules[at] = replace(rules.rules[at], **parts)
        verdicts._judged.cache_clear()

    def mend(self) -> None:
        while self._undo:
            rules, at, rule = self._undo.pop()
            rules.rules[at] = rule
        verdicts._judged.cache_clear()


@pytest.fixture
def breaking() -> Iterator[Breaking]:
    made = Breaking()
    yield made
    made.mend()


def fails(*_given: Any) -> Any:
    raise ZeroDivisionError("Wren Saltmarsh, bee stings")


def fails_late(*_given: Any) -> Any:
    yield from ()
    raise KeyError("Wren Saltmarsh")


@pytest.mark.parametrize(("rules", "name", "parts", "of"), [
    (unit_rule, "leaning", {"find": fails}, "unit"),
    (unit_rule, "displaced", {"find": fails}, "unit"), (record_rule, "implausible", {"find": fails}, "unit_check"),
    (record_rule, "clock_off", {"find": fails_late}, "unit_check"),
])  # fmt: skip
def test_the_entry_is_taken_and_a_flag_stands_in_the_rules_place(
    shore: Shore, breaking: Breaking, rules: Rules, name: str, parts: dict[str, Any], of: str
) -> None:
    breaking(rules, name, **parts)
    shore.check(JULY, tilt_deg=40, lost_volume_pct=60)
    shore.typed("2026-06-02T10:00:00.000Z", 12, 15)
    shore.typed(JULY, 12, 15)
    assert shore.flag("damaged")["state"] == "open", "the other rules are asked as ever"
    (flag,) = [flag for flag in shore.flags("not_judged") if flag["subject"]["kind"] == of]
    assert name.replace("_", " ") in flag["sentence"]
    assert "could not be judged" in flag["sentence"]
    assert "Wren" not in str(shore.stored())
    assert flag["evidence"]["rule"] == name


def test_what_fails_on_one_check_is_told_of_its_unit(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldlog.flags.condition.stance_of", fails)
    verdicts._judged.cache_clear()
    shore.check(JULY, tilt_deg=40, lost_volume_pct=60)
    verdicts._judged.cache_clear()
    assert [flag["rule"] for flag in shore.flags()] == ["damaged", "not_judged"]
    assert shore.flag("not_judged")["evidence"] == {"rule": "leaning", "fault": "ZeroDivisionError"}


def test_a_mended_rule_takes_its_place_again(shore: Shore, breaking: Breaking) -> None:
    breaking(unit_rule, "leaning", find=fails)
    shore.check(JULY, tilt_deg=40)
    breaking.mend()
    shore.check(AUGUST, tilt_deg=40)
    assert [flag["rule"] for flag in shore.flags()] == ["leaning"]


def test_a_rule_that_is_reckoned_when_it_is_read_fails_alone_too(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldlog.flags.reading.overdue", fails)
    shore.check(JULY, tilt_deg=40)
    rules = sorted(flag["rule"] for flag in list_flags(shore.db, SITE, NOW) if flag["subject"]["id"] == UNIT)
    assert rules == ["leaning", "not_judged"]


def test_the_doctor_counts_them(programme: Programme, breaking: Breaking) -> None:
    shore = Shore(programme.db())
    shore.set_up()
    assert "not-judged" not in [finding.word for finding in examine(programme.folder, CATALOGUE, shore.lane.now_ms)]
    breaking(unit_rule, "leaning", find=fails)
    shore.check(JULY, tilt_deg=40)
    (finding,) = [one for one in examine(programme.folder, CATALOGUE, shore.lane.now_ms) if one.word == "not-judged"]
    assert not finding.ok
    assert "1" in finding.sentence


def test_every_rule_says_all_of_itself_in_its_one_place() -> None:
    rules = [*unit_rule.rules, *record_rule.rules, *read_rule.rules]
    assert len({rule.name for rule in rules}) == len(rules)
    for rule in rules:
        assert about_of(rule.name) is rule.about
        assert all((rule.about.title, rule.about.todo, rule.about.settles)), rule.name
        assert not rule.about.settles.endswith("."), "it stands after Settled by"
        assert rule.says is None or set(rule.about.reads) >= {name for name in rule.measures if name in CATALOGUE.kinds["unit_check"].fields}
    assert about_of("a rule of a newer version") is None


def test_a_verdict_hangs_on_no_column_that_its_rule_does_not_declare() -> None:
    class Row(dict[str, Any]):
        def __missing__(self, name: str) -> Any:
            raise AssertionError(f"{name} is not declared")

    for rule in verdicts.kept_rules():
        for found_state in ("seen", "not_found_dry"):
            row = Row(dict.fromkeys(rule.about.reads) | {"found_state": found_state})
            for name in rule.about.reads:
                if name != "found_state":
                    rule.verdicts(Row(row | {name: 1}), Limits(450, None))


def test_a_flag_carries_its_rules_words(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=40)
    flag = shore.flag("leaning")
    assert (flag["title"], flag["todo"]) == ("Leaning", "measure")
    assert "a later tilt under the limit" in flag["settles"]


def test_the_servers_log_says_where_a_rule_failed_and_none_of_its_values(
    shore: Shore, breaking: Breaking, caplog: pytest.LogCaptureFixture
) -> None:
    breaking(unit_rule, "leaning", find=fails)
    shore.check(JULY, tilt_deg=40)
    (said,) = {record.getMessage() for record in caplog.records if "leaning" in record.getMessage()}
    assert said == f"The flag rule leaning failed with ZeroDivisionError at {__file__}:{fails.__code__.co_firstlineno + 1}."


def test_what_a_rule_says_to_do_is_no_other_rules_name() -> None:
    rules = [rule for registered in (unit_rule, record_rule, read_rule) for rule in registered.rules]
    names = {rule.about.title.lower(): rule.name for rule in rules}
    assert [rule.name for rule in rules if names.get(rule.about.todo, rule.name) != rule.name] == []
