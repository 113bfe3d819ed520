"""Doubts about one record: two phones disagree, its parent is not here, a value is unlikely, a rule is broken, a clock is off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any, NamedTuple

from fieldlog.flags.flag import LOOK, About, Found, instant_of, moment_of, record_rule
from fieldlog.flags.values import NAMELESS, moment_words, value_words
from fieldlog.records.catalogue import Fault, Kind
from fieldlog.records.fields import Declared
from fieldlog.shown_names import named

CLOCK_AHEAD = timedelta(minutes=10)
"""An observation may lie this far after the entry that tells it; more, and the phone's clock was wrong."""


VALUES_TOLD, LETTERS_TOLD = 6, 200
"""A flag travels to every phone of its site, so it tells so many values and so much of each; the record has all of them."""

OWN_NAMES = {"unit": ("", "tag"), "control_mark": ("Mark ", "label"), "row": ("Row ", "name"), "plot": ("Plot ", "label")}
"""Kinds that people know by name: the word before it, and the column that has it."""

LETTERS_TWICE = 40
"""A longer value is not said a second time in its sentence."""


@dataclass(frozen=True)
class Disagreement:
    """A field's values from phones that did not know of each other, the one that stands first; those past `VALUES_TOLD` are not told."""

    field: str
    values: Sequence[Any]


class RecordSeen(NamedTuple):
    """One merged record, its open disagreements, and its references to records that are not here. A replay makes a million of them."""

    kind: Kind
    row: Mapping[str, Any]
    disagreements: Sequence[Disagreement]
    missing_parents: Mapping[str, tuple[str, str]]
    """{field: (kind, record id)}"""
    doubted: tuple[Mapping[str, Any], Mapping[str, Any] | None] | None = None
    """Of a control mark: the newest survey that doubts it, and the first one after it that found it where it was."""

    unit: Mapping[str, Any] | None = None
    """The unit that it tells of, where that is on record: its row's tag."""

    stamps: Mapping[str, str] = MappingProxyType({})
    """Of each observed time the effective stamp of the entry that told it, where that is not the record's newest."""

    zone: str | None = None
    """Its site's time zone, where that is on record."""

    @property
    def called(self) -> str:
        """What a flag of it begins with: the unit that it tells of, else the name that people know it by, else its kind."""
        if self.unit is not None:
            return named(self.unit["tag"], "A unit without a tag")
        before, column = OWN_NAMES.get(self.kind.name, ("", None))
        name = "" if column is None else named(self.row[column], "")
        return f"{before}{name}" if name else self.kind.title

    def stamp_of(self, name: str) -> str:
        """The effective stamp of the entry that told this field."""
        return self.stamps.get(name, str(self.row["changed_eff"]))

    def local(self, at: datetime) -> str:
        """A moment as the site's own clock has it, in words."""
        return moment_words(at, self.zone)

    def found(self, sentence: str, evidence: dict[str, Any], part: str = "", stamp: str | None = None) -> Found:
        """A finding that asks for a look, since the entry with this stamp; without one, since the newest."""
        at = moment_of(stamp or self.row["changed_eff"])
        return Found(LOOK, f"{self.called}: {sentence}", evidence, at, str(self.row["record_id"]), part=part)


@record_rule("disagreement", About("Two values", "choose one", "a value that someone chooses, or by a lead"))
def disagreement(seen: RecordSeen) -> list[Found]:
    """One flag a field. Values are told of records that everyone may read; of others only that they differ."""
    found = []
    for open_field in seen.disagreements:
        declared = seen.kind.fields.get(open_field.field)
        title = "removed or not" if declared is None else declared.title
        evidence: dict[str, Any] = {"field": open_field.field}
        if seen.kind.privacy == "open" and not isinstance(declared, NAMELESS):
            told = [shortened(value, declared, seen.zone) for value in open_field.values[:VALUES_TOLD]]
            others = ["others"] if len(open_field.values) > VALUES_TOLD else []
            said = [value_words(declared, value, seen.zone) for value in told]
            sentence = both_sides([*said, *others], said[0], title)
            evidence["values"] = told
        else:
            who = "two phones" if len(open_field.values) == 2 else "phones"
            sentence = f"{who} wrote different values for {title}. See both under Flags, and keep one."
        found.append(seen.found(sentence, evidence, part=open_field.field))
    return found


def both_sides(said: Sequence[str], used: str, title: str) -> str:
    """
    Which values phones wrote, and which of them is used.

    Args:
        said: the values in words, the one that is used first, each with what is known beside it.
        used: the first value alone.
    """
    who = "two phones" if len(said) == 2 else "phones"
    used = used if len(used) <= LETTERS_TWICE else "The first"
    return f"{who} wrote {', '.join(said[:-1])} and {said[-1]} for {title}. {used} is used until someone decides."


def shortened(value: Any, declared: Declared | None, zone: str | None) -> Any:
    """A value with as much of a text as a flag tells; a list in words, as much of them."""
    if isinstance(value, list):
        value = value_words(declared, value, zone)
    return f"{value[:LETTERS_TOLD]}…" if isinstance(value, str) and len(value) > LETTERS_TOLD else value


@record_rule("orphan", About("Not here yet", "sync that phone", "the record that is missing here, or by a lead"))
def orphan(seen: RecordSeen) -> list[Found]:
    """A reference to a record that has not come: it may still be on another phone."""
    return [
        seen.found(
            f"{seen.kind.fields[name].title} is not here yet. It may still be on another phone: sync that one.",
            {"field": name, "parent_kind": kind, "parent_id": record_id},
            part=name,
        )
        for name, (kind, record_id) in seen.missing_parents.items()
    ]


@record_rule("implausible", About("Unlikely value", "look again", "a corrected value, or by a lead"))
def implausible(seen: RecordSeen) -> list[Found]:
    """A value that is possible and unlikely."""
    row = seen.kind.opened(seen.row)
    values = {name: row[name] for name in seen.kind.doubted if row[name] is not None}
    faults = [fault for fault in seen.kind.check(values) if fault.word == "implausible"]
    fields = seen.kind.fields
    return [
        seen.found(fault.sentence, {fault.field: shortened(values[fault.field], fields[fault.field], seen.zone)}, part=fault.field)
        for fault in faults
    ]  # fmt: skip


@record_rule("incomplete", About("Incomplete", "fill in", "what is missing, or by a lead"))
def incomplete(seen: RecordSeen) -> list[Found]:
    """Something required is missing, or two fields do not go together after the merge; one flag a field, however many faults it has."""
    faults: dict[str, list[Fault]] = {}
    for fault in seen.kind.complete(seen.row):
        faults.setdefault(fault.field, []).append(fault)
    return [
        seen.found(" ".join(fault.sentence for fault in of_field), {"field": name, "what": of_field[0].word}, part=name)
        for name, of_field in faults.items()
    ]


@record_rule("clock_off", About("Clock ahead", "correct the time", "a corrected time, or by a lead"))
def clock_off(seen: RecordSeen) -> list[Found]:
    """An observation that lies after the moment at which the server says it was told."""
    found = []
    for name in seen.kind.observed:
        value = seen.row[name]
        if value is None:
            continue
        at, stamp = datetime.fromisoformat(value), seen.stamp_of(name)
        ahead = at - instant_of(stamp)
        if ahead > CLOCK_AHEAD:
            sentence = (
                f"{seen.kind.fields[name].title} says {seen.local(at)}, {_span(ahead)} after it was written down."
                " That phone's clock was ahead, or the time was typed wrong: set the clock, then correct the time."
            )
            evidence = {name: value, "ahead_min": round(ahead.total_seconds() / 60)}
            found.append(seen.found(sentence, evidence, part=name, stamp=stamp))
    return found


def _span(ahead: timedelta) -> str:
    minutes = round(ahead.total_seconds() / 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min" if minutes < 2880 else f"{minutes // 1440} days"
