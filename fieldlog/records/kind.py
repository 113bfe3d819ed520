"""A kind of record: its declaration, and what the store, the form and the judge ask of it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, cast

from marshmallow import RAISE, Schema

from fieldlog.records import sentences
from fieldlog.records.empty import is_empty
from fieldlog.records.fields import ASK, Declared, Instant, Measured, Ref, Tag, YesNo
from fieldlog.records.listed import Listed, opened
from fieldlog.records.rules import broken_rules

DELETED = "_deleted"
PRIVATE = ("leader", "medical")
"""The classes of privacy that leads alone read."""

ENVELOPE = {
    "record_id": "TEXT NOT NULL", "site_id": "TEXT", "visit_id": "TEXT", "deleted": "INTEGER NOT NULL DEFAULT 0",
    "created_by": "TEXT", "created_eff": "TEXT", "changed_by": "TEXT", "changed_eff": "TEXT", "import_id": "TEXT",
}  # fmt: skip
"""The columns every record table has beside its kind's own: {name: SQLite type}."""

TOLD_IN_WORDS = {"title", "description", "x-labels", "x-last", "default"}
"""What a field says to people only: changing it changes no table and no verdict."""


def _without_words(said: Mapping[str, Any]) -> dict[str, Any]:
    """What is said of a field but for its words; so of the fields within a list."""
    kept = {key: value for key, value in said.items() if key not in TOLD_IN_WORDS}
    if "items" in kept:
        items = _without_words(kept["items"])
        if "properties" in items:
            items["properties"] = {name: _without_words(inner) for name, inner in items["properties"].items()}
        kept["items"] = items
    return kept


class Record(Schema):
    """What every kind of record has: it can be removed. A subclass declares the kind's fields, one a line."""

    class Meta:
        unknown = RAISE

    _deleted = YesNo("Removed")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one field. `hard`: the entry is held; else it is taken and someone should look."""

    field: str
    word: str
    sentence: str
    hard: bool


class Kind:
    """
    A kind of record, declared once.

    Args:
        name: the table's name and the line's `t`.
        title: what people call it.
        schema: the marshmallow schema with its fields.
        privacy: the class of all its fields: open, crew, leader or medical.
        writers: the roles that may write it.
        site_bound: whether each of its entries must name a site.
        own: whether only leads change what another device made.
        rules: cross-field rules (`records/rules.py`).
        plural: what its table is called where people ask and in files for them; else the name with an s.
        by_number: of a kind that is not open, the fields that may leave with the open ones, people as numbers.
        open_when: of a kind that is not open, the field that says yes where a record counts as open for what leaves the program.
        salted: whether its lines carry random bits although it is not private, since what they say could be guessed from their names.
        of_person: the reference that leads to the person a record is about; it goes when they are forgotten, or with age.
        kept_until: of such a kind, the reference and that record's field with the day until which a record stays whatever happens.
    """

    def __init__(
        self, name: str, title: str, schema: type[Record], *, writers: Iterable[str], privacy: str = "open",
        site_bound: bool = True, own: bool = False, rules: Iterable[dict[str, Any]] = (), plural: str | None = None, by_number: Iterable[str] = (),
        open_when: str | None = None, salted: bool = False, of_person: str | None = None, kept_until: tuple[str, str] | None = None,
    ) -> None:  # fmt: skip
        self.name = name
        self.title = title
        self.schema = schema
        self.privacy = privacy
        self.writers = frozenset(writers)
        self.site_bound = site_bound
        self.own = own
        self.rules = list(rules)
        self.plural, self.by_number, self.open_when = plural or f"{name}s", tuple(by_number), open_when
        self.salted = salted or privacy in PRIVATE
        """Whether a line carries random bits (`k`), so that nobody guesses what it says from its name."""
        self.of_person, self.kept_until = of_person, kept_until
        self._all = cast("dict[str, Declared]", dict(schema().fields))
        self.fields = {field: declared for field, declared in self._all.items() if field != DELETED}
        self._judges = {field: declared.judge for field, declared in self._all.items()}
        self._titles = {field: declared.title for field, declared in self.fields.items()}
        self.merges = {field: declared.merge for field, declared in self.fields.items() if declared.merge != ASK}
        """Fields whose values merge in another way than by the latest, and how."""
        self.since = {field: declared.since for field, declared in self.fields.items() if declared.since is not None}
        """Fields that end what another begins: {field: that other}."""
        self.required = [field for field, declared in self.fields.items() if declared.required]
        self._crew = {field: declared.metadata["x-crew"] for field, declared in self.fields.items() if "x-crew" in declared.metadata}
        self.settled = [name for name, declared in self.fields.items() if "x-settled" in declared.metadata]
        """Fields that keep their first value."""
        self.made_here = {
            name: str(declared.metadata["x-made-here"]) for name, declared in self.fields.items() if "x-made-here" in declared.metadata
        }
        """Tags that are doubted only where another field says that they are ours: {tag: that field}."""
        self.lists = {name: declared for name, declared in self.fields.items() if isinstance(declared, Listed)}
        """Fields of repeated values; their columns hold JSON text."""
        self._datums = {
            name: str(declared.metadata["x-datum"]) for name, declared in self.fields.items() if "x-datum" in declared.metadata
        }
        self.observed = [
            name for name, declared in self.fields.items() if isinstance(declared, Instant) and not declared.may_lie_ahead
        ]  # fmt: skip
        """Instants at which something happened, so that none lies after its entry was written."""
        self.refs = {
            name: str(declared.metadata["x-ref"]) for name, declared in self.fields.items() if isinstance(declared, Ref)
        }
        """References: {field: the kind it belongs to, or the field that names the kind}."""
        self.across = [name for name in self.refs if self.fields[name].metadata.get("x-across")]
        """References that may name a record of another site."""

    def columns(self) -> dict[str, str]:
        """The table's own columns in the order of declaration: {field: SQLite type}."""
        return {field: declared.sqlite_type for field, declared in self.fields.items()}

    def opened(self, row: Mapping[str, Any]) -> Mapping[str, Any]:
        """A row of the kind's table, its lists as lists."""
        return {**row, **{name: opened(row[name]) for name in self.lists if name in row}} if self.lists else row

    @cached_property
    def doubted(self) -> list[str]:
        """Fields with values that are possible and unlikely, and those that say whether a doubt counts."""
        unlikely = [
            name for name, declared in self.fields.items()
            if isinstance(declared, Tag) or (isinstance(declared, Measured) and declared.plausible is not None)
            or (isinstance(declared, Listed) and declared.may_be_unlikely)
        ]  # fmt: skip
        return [*unlikely, *self.made_here.values()]

    @cached_property
    def of_leads(self) -> list[str]:
        """Fields that nobody but a lead writes, whoever makes the record."""
        return [field for field, said in self._crew.items() if said == "leads"]

    @property
    def told_where(self) -> str:
        """What is true in SQL of the records that may be told openly; of a kind that is neither open nor ever counts as that, of none."""
        return "1" if self.privacy == "open" else f"{self.open_when} = 1" if self.open_when else "0"

    def guarded(self, role: str, fields: Mapping[str, Any]) -> list[str]:
        """The fields by which a role that writes this kind says what it may not of a record that stands."""
        if role != "crew":
            return []
        return [name for name, value in fields.items() if name in self._crew and not (self._crew[name] == "on" and value is True)]

    def check(self, fields: Mapping[str, Any]) -> list[Fault]:
        """
        Judge the fields of one entry, which need not be all. Null empties a field and is always allowed.

        Returns:
            Every fault, hard ones (unknown-field, bad-type, beyond-limit, missing, no-datum) and soft ones (implausible).
        """
        faults = []
        for name, value in fields.items():
            judge = self._judges.get(name)
            if judge is None:
                said = sentences.no_such_field(self.title, name)
                faults.append(Fault(name, "unknown-field", said, hard=True))
            elif value is not None and (verdict := judge(value)) is not None:
                if verdict.hard or name not in self.made_here or fields.get(self.made_here[name]):
                    faults.append(Fault(name, *verdict))
            elif value is not None and name in self._datums and not fields.get(self._datums[name]):
                # A level means nothing without its datum, and a later change of the record's datum must not move it.
                faults.append(Fault(name, "no-datum", sentences.no_datum(self._titles[name]), hard=True))
        return faults

    def complete(self, row: Mapping[str, Any]) -> list[Fault]:
        """
        Judge a merged record: what is required and missing, and the rules between fields. All of these are
        soft.

        Args:
            row: {field: value or null}, lists as lists or as their column has them; other keys are ignored.
        """
        row = self.opened(row)
        missing = [
            Fault(name, "missing", sentences.missing(self._titles[name]), hard=False) for name in self.required if is_empty(row.get(name))
        ]
        return missing + [
            Fault(*broken, hard=False) for broken in broken_rules(self.rules, row, self._titles)
        ]

    def declaration(self, *, with_words: bool) -> str:
        """
        Everything declared as one text; without the words for people it is what storage and verdicts hang on.
        """
        fields = {
            name: {
                "required": declared.required,
                **(declared.metadata if with_words else _without_words(declared.metadata)),
            }
            for name, declared in self.fields.items()
        }
        whole = {
            "name": self.name, "privacy": self.privacy, "writers": sorted(self.writers),
            "site_bound": self.site_bound, **({"own": True} if self.own else {}),
            "rules": self.rules, "fields": list(fields.items()), "title": self.title if with_words else None,
            **({"salted": True} if with_words and self.salted and self.privacy not in PRIVATE else {}),
        }  # fmt: skip
        return json.dumps(whole, ensure_ascii=False)
