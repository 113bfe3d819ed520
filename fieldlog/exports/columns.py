"""What a column of an export is: its name, what people call it, its type, unit and limits, and whether it was computed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from fieldlog.records.fields import Choice, Date, Declared, Instant, Measured, Ref, Whole, YesNo

ID, TEXT, NUMBER, WHOLE, YES_NO, CHOICE, DATE = "id", "text", "number", "whole", "yesno", "choice", "date"
INSTANT, LOCAL = "instant", "local"
"""A moment in UTC, as rows have it; and the same on the site's clock, with its offset."""

TEXTS = frozenset({ID, TEXT, CHOICE})
"""Types whose cells are words that somebody may have typed."""

PERSON = "person"


@dataclass(frozen=True)
class Column:
    """
    A column.

    Attributes:
        name: the header for programs; the unit of a quantity is in it.
        title: what people call it.
        type: one of the words above.
        of: for words beside an id, a number of a person or a clock beside UTC: the column that they say again.
        choices: {value: label}, of choices and of grades.
        refers_to: the kind whose record an id names, or the column that names the kind.
        source: where limits of a grade come from.
        computed: whether it was worked out, not recorded.
        declared: whether it is a field of its kind, which an import writes.
    """

    name: str
    title: str
    type: str
    unit: str | None = None
    description: str | None = None
    least: float | None = None
    most: float | None = None
    plausible: tuple[float, float] | None = None
    choices: dict[str, str] = field(default_factory=dict)
    required: bool = False
    of: str | None = None
    refers_to: str | None = None
    source: str | None = None
    computed: bool = False
    declared: bool = False

    @property
    def header(self) -> str:
        """The header for people, such as Exposed height [mm]."""
        if self.type == INSTANT:
            return f"{self.title} [UTC]"
        if self.type == LOCAL:
            return f"{self.title} [site's clock]"
        return f"{self.title} [{self.unit}]" if self.unit else self.title


@dataclass(frozen=True)
class Table:
    """
    A table of an export.

    Attributes:
        name: of its file; a kind's own name where it is a kind's.
        title: what people call it.
        columns: in order.
        privacy: the class of its rows.
        kind: the kind whose records it has, if it is one's.
        computed: whether all of it was worked out.
        list_of: the field whose list it has, a row an item, if it is one's.
        open_when: of a class that is not open, the field that says yes where a record counts as open.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    privacy: str = "open"
    kind: str | None = None
    computed: bool = False
    list_of: str | None = None
    open_when: str | None = None


def type_of(declared: Declared) -> str:
    """The type of a field's column."""
    if isinstance(declared, Ref):
        return ID
    for word, classes in ((INSTANT, Instant), (DATE, Date), (CHOICE, Choice), (YES_NO, YesNo), (WHOLE, Whole), (NUMBER, Measured)):
        if isinstance(declared, classes):
            return word
    return TEXT


def column_of(name: str, declared: Declared) -> Column:
    """The column of a field, everything said by its declaration."""
    said = declared.metadata
    limits: dict[str, Any] = {}
    if isinstance(declared, Measured):
        limits = {"least": declared.least, "most": declared.most, "plausible": declared.plausible, "unit": declared.unit}
    return Column(
        name, declared.title, type_of(declared), description=said.get("description"), choices=dict(said.get("x-labels") or {}),
        required=declared.required, refers_to=said.get("x-ref"), declared=True, **limits,
    )  # fmt: skip


def stem_of(name: str) -> str:
    """An id's name without its end: unit_id is of the unit."""
    return name.removesuffix("_id")


def beside(column: Column, has_names: bool, is_of_a_kind_said: bool) -> Iterator[Column]:
    """
    A column and what stands beside it: words beside an id, the site's clock beside UTC; of people a number, and names where wanted.

    `is_of_a_kind_said`: another column says of which kind the id is, a unit perhaps.
    """
    stem, title = stem_of(column.name), column.title
    if column.type == INSTANT:
        yield column
        yield Column(f"{column.name}_local", title, LOCAL, of=column.name)
    elif column.refers_to == PERSON:
        number = Column(f"{stem}_number", f"{title}, number", WHOLE, of=column.name, description="The same number is the same record of a person in all of this export")
        yield from ((column, number, Column(f"{stem}_name", f"{title}, name", TEXT, of=column.name)) if has_names else (number,))
    elif column.refers_to == "unit":
        yield column
        yield Column(f"{stem}_tag", f"{title}, tag", TEXT, of=column.name)
        yield Column(f"{stem}_row", f"{title}, row", TEXT, of=column.name)
    elif column.refers_to is not None:
        yield column
        yield Column(f"{stem}_name", f"{title}, name", TEXT, of=column.name)
        if is_of_a_kind_said:
            yield Column(f"{stem}_row", f"{title}, row of the unit", TEXT, of=column.name)
    else:
        yield column


def computed(column: Column) -> Column:
    """A column as one that was worked out: its name and title say so."""
    return replace(column, name=f"computed_{column.name}", title=f"{column.title}, computed", computed=True)
