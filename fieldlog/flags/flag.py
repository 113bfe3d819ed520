"""
What a flag is, and the register of the rules that raise them.

A rule is a pure function of one subject. It returns what it finds, or None. Severity has two words of ours: "look"
(someone should look when next there) and "act" (something should be done before the next season's work). Burial has
no rule: sediment that builds is what the work is for.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from fieldlog.instants import written

LOOK, ACT = "look", "act"


@dataclass(frozen=True)
class Found:
    """
    What a rule finds.

    Attributes:
        sentence: for the crew: what, the value with its unit, when.
        evidence: values, limits, record ids.
        raised_at: the time of the newest observation that says so (UTC text), from the record.
        record_id: the record of that observation.
        settled_by: the record of a later observation that says otherwise, or None.
        settled_at: its time.
        settled_reason: what it says.
    """

    severity: str
    sentence: str
    evidence: dict[str, Any]
    raised_at: str
    record_id: str
    settled_by: str | None = None
    settled_at: str | None = None
    settled_reason: str | None = None
    part: str = ""
    """Tells two flags of one rule and subject apart: the field that two phones disagree about."""


Verdict = bool | None
"""Of one check, or of one of its measures: raises (True), was looked at and does not (False), says nothing (None)."""

Says = Callable[[Mapping[str, Any], "Limits"], Any]
"""What one check says to a rule: a verdict, or of a rule with measures a verdict of each, by name."""


@dataclass(frozen=True)
class Limits:
    """What a unit's checks are held against: the height of its design, and the lean from which its site wants a look."""

    height_mm: float | None
    lean_look_deg: float | None


@dataclass(frozen=True)
class About:
    """
    What people are told of a rule, and what its flag takes: everything that screens, plans and commands say of it.

    Attributes:
        title: what the flag is called.
        todo: a word or two: what to do about it at the next visit.
        settles: what settles it, after "Settled by".
        bring: the tools to bring for it, where it takes any.
        minutes: at the unit, beside a plain check; our own proposal.
        reads: the columns of a check that a verdict of it hangs on.
    """

    title: str
    todo: str
    settles: str
    bring: str | None = None
    minutes: float = 0.0
    reads: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rule:
    """
    A registered rule.

    Attributes:
        about: what people are told of it.
        find: returns what it finds in its subject, or None.
        says: of a rule about units: what a single check says to it. It is kept beside the check, so that the rule is given the
            few checks that count and not all years.
        reads_checks: whether a rule about units looks at checks at all.
        measures: what of a check may raise the rule, each settled by its own later value; without them the check speaks as one.
        whole: the measure that speaks for all of them: where it does not raise, none stands any more.
    """

    name: str
    about: About
    find: Callable[..., Any]
    says: Says | None = None
    reads_checks: bool = True
    measures: tuple[str, ...] = ()
    whole: str | None = None

    def verdicts(self, check: Mapping[str, Any], limits: Limits) -> tuple[Verdict, ...]:
        """What one check says to a rule whose verdicts are kept: of each of its measures, or as one."""
        assert self.says is not None, "a rule whose verdicts are kept says what a check says"
        said = self.says(check, limits)
        return tuple(said[measure] for measure in self.measures) if self.measures else (said,)


@dataclass
class Rules:
    """The rules of one kind of subject, in the order of registration."""

    rules: list[Rule] = field(default_factory=list)

    def __call__(
        self, name: str, about: About, *, says: Says | None = None, reads_checks: bool = True, measures: tuple[str, ...] = (), whole: str | None = None
    ) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
        """Register a rule under its name; the decorated function stays as it is."""

        def registered(find: Callable[..., Any]) -> Callable[..., Any]:
            self.rules.append(Rule(name, about, find, says, reads_checks, measures, whole))
            return find

        return registered


unit_rule = Rules()
"""`@unit_rule("damaged", About(...))`: a function of a `UnitHistory`, returning Found or None."""

record_rule = Rules()
"""`@record_rule("implausible", About(...))`: a function of a `RecordSeen`, returning Found or None."""

read_rule = Rules()
"""What is found when flags are read, and never stored."""


def about_of(name: str) -> About | None:
    """What people are told of the rule of that name; None where this version has none, as of a flag of a newer one."""
    return next((rule.about for rules in (unit_rule, record_rule, read_rule) for rule in rules.rules if rule.name == name), None)


def instant_of(eff: str) -> datetime:
    """When an entry was written by the server's reckoning, out of its effective stamp."""
    return datetime.fromtimestamp(int(eff[:12], 16) / 1000, UTC)


def moment_of(eff: str) -> str:
    """The same as UTC text."""
    return written(instant_of(eff))


def flag_id(rule: str, subject_kind: str, subject_id: str, since: str) -> str:
    """The id of a flag: the same for the same rule, subject and zero epoch (or part), whoever computes it."""
    return hashlib.sha256(f"{rule}|{subject_kind}|{subject_id}|{since}".encode()).hexdigest()[:32]
