"""
What each table of an export looks like, made from the declarations of the record kinds.

A kind's table begins with what every record has (its id, site, visit, and who observed it, by number), then has the kind's fields in the
order of their declaration, words beside ids and the site's clock beside UTC, then what was computed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date

from fieldlog.errors import BadRequest
from fieldlog.exports.columns import (
    CHOICE,
    ID,
    INSTANT,
    NUMBER,
    PERSON,
    TEXT,
    WHOLE,
    YES_NO,
    Column,
    Table,
    beside,
    column_of,
)
from fieldlog.exports.computed import COMPUTED
from fieldlog.exports.grading import SOURCES
from fieldlog.questions.names import NAME_COLUMNS
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind
from fieldlog.records.listed import PLACE, RECORD_ID, item_columns

NAMES = {("person", "display_name")}
"""Fields that say a person's name."""

CLASSES = {"lead": ("open", "crew"), "crew": ("open",), "desk": ("open",), "reader": ("open",)}
"""The classes that a role's export has; contacts come where a lead asks for them, medical notes never."""

PRIVATE = "leader"


@dataclass(frozen=True)
class Wanted:
    """
    What is asked for.

    Attributes:
        role: of who asks; the command line asks as a lead of all sites.
        sites: ids, None is all.
        from_day, to_day: days on each site's clock, both included; of a kind that says a time only.
        kinds: tables by their names, None is all.
        names, private, history: names of people; contacts; every value that was ever written.
    """

    role: str = "lead"
    sites: frozenset[str] | None = None
    from_day: date | None = None
    to_day: date | None = None
    kinds: tuple[str, ...] | None = None
    names: bool = False
    private: bool = False
    history: bool = False

    @property
    def classes(self) -> tuple[str, ...]:
        """The privacy classes that come."""
        return (*CLASSES[self.role], *((PRIVATE,) if self.private else ()))


FLAG_STATES = {"open": "Open", "settled": "Settled", "accepted": "Accepted as it is", "reopened": "Opened again"}
SEVERITIES = {"look": "Look when next there", "act": "Do something before the next season"}
MOVED = {"moved": "Has moved", "again": "May have moved: measure again", "none": "No movement found", "small": "Moved by less than matters"}

_SITE = Column("site_id", "Site", ID, refers_to="site")
_RECORD = Column(RECORD_ID, "Record", ID, required=True)
_PLACE = Column(PLACE, "Place in the list", WHOLE, least=1, required=True, description="Counted from 1")


def tables_of(catalogue: Catalogue, wanted: Wanted) -> list[Table]:
    """
    The tables of an export, kinds first, in the catalogue's order.

    Raises:
        BadRequest: a table was asked for that there is none of, or that this export may not have.
    """
    every = {table.name: table for kind in catalogue.kinds.values() for table in _tables_of_kind(kind, wanted)}
    every |= {table.name: table for table in _further(wanted)}
    may = {name: table for name, table in every.items() if table.privacy in wanted.classes or table.open_when}
    if wanted.kinds is None:
        return list(may.values())
    for name in wanted.kinds:
        if name not in may:
            why = "leave this program by this export" if name in every else "exist"
            raise BadRequest(f"A table {name!r} does not {why}. Offered: {', '.join(may)}.", {"kinds": name})
    return [table for table in may.values() if table.name in wanted.kinds or (table.list_of and table.kind in wanted.kinds)]


def _tables_of_kind(kind: Kind, wanted: Wanted) -> Iterator[Table]:
    yield Table(kind.name, kind.title, tuple(_columns_of_kind(kind, wanted)), kind.privacy, kind.name, open_when=kind.open_when)
    for name, listed in kind.lists.items():
        columns = (_RECORD, _PLACE, *(column_of(inner, declared) for inner, declared in item_columns(listed).items()))
        table = tuple(_all_with_beside(columns, wanted.names))
        yield Table(f"{kind.name}_{name}", f"{kind.title}: {listed.title}", table, kind.privacy, kind.name, list_of=name, open_when=kind.open_when)


def _columns_of_kind(kind: Kind, wanted: Wanted) -> Iterator[Column]:
    yield from (_RECORD,) if kind.name != PERSON else _of_person(wanted.names)
    # A site is of no other site, and a visit on no other visit.
    places = {"site": _SITE, "visit": Column("visit_id", "On visit", ID)}
    for column in (*(column for name, column in places.items() if name != kind.name), Column("observer_id", "Observer", ID, refers_to=PERSON)):
        yield from _with_beside(column, wanted.names)
    for name, declared in kind.fields.items():
        if name not in kind.lists and (wanted.names or (kind.name, name) not in NAMES):
            for column in _with_beside(column_of(name, declared), wanted.names, kind.fields):
                yield _graded(column)
    yield from COMPUTED.get(kind.name, ())


def _of_person(has_names: bool) -> Iterator[Column]:
    """A person's own record is named by its number; by its id only where names are wanted."""
    if has_names:
        yield Column("record_id", "Record", ID, required=True)
    yield Column("person_number", "Person, number", WHOLE, of="record_id", required=True)


def _with_beside(column: Column, has_names: bool, fields: Collection[str] = ()) -> Iterator[Column]:
    """What has a name by which people know it is named beside its id; `fields` may say of which kind it is."""
    kind = column.refers_to
    if kind is None or kind == PERSON or kind in NAME_COLUMNS or kind in fields:
        yield from beside(column, has_names, kind in fields)
    else:
        yield column


def _graded(column: Column) -> Column:
    axis = column.name.removesuffix("_grade")
    return Column(**{**column.__dict__, "source": SOURCES[axis]}) if column.name.endswith("_grade") and axis in SOURCES else column


def _further(wanted: Wanted) -> Iterator[Table]:
    """The tables that are no kind's."""
    yield Table("flag", "Flags", tuple(_flag_columns()), computed=True)
    yield Table("disagreement", "Disagreements", tuple(_disagreement_columns(wanted.names)))
    yield Table("unit_movement", "Movements by survey", tuple(_movement_columns()), computed=True)
    if wanted.history:
        yield Table("history", "Every value ever written", tuple(_history_columns(wanted.names)))


def _all_with_beside(columns: tuple[Column, ...], has_names: bool = False) -> Iterator[Column]:
    for column in columns:
        yield from _with_beside(column, has_names)


def _flag_columns() -> Iterator[Column]:
    yield from _all_with_beside((
        Column("flag_id", "Flag", ID, required=True), _SITE,
        Column("rule", "Rule", TEXT), Column("rule_title", "What the flag is called", TEXT),
        Column("severity", "Severity", CHOICE, choices=SEVERITIES), Column("state", "State", CHOICE, choices=FLAG_STATES),
        Column("subject_kind", "About a", TEXT), Column("subject_id", "About which record", ID), Column("subject_name", "About which record, name", TEXT, of="subject_id"),
        Column("sentence", "What it says", TEXT), Column("evidence", "Values and limits", TEXT, description="JSON"),
        Column("raised_at", "Raised at", INSTANT), Column("raised_by_record", "Raised by record", ID),
        Column("settled_at", "Settled at", INSTANT), Column("settled_by", "Settled by record", ID), Column("settled_reason", "Why settled", TEXT),
    ))  # fmt: skip


_VALUE_OF = (
    Column("kind", "Kind of record", TEXT, required=True), Column("record_id", "Record", ID, required=True), _SITE,
    Column("field", "Field", TEXT, required=True), Column("field_title", "Field, title", TEXT, of="field"),
)  # fmt: skip

_WRITTEN = (
    Column("value", "Value", TEXT, description="Texts as they were written, anything else as JSON; empty: the field was cleared"),
    Column("observer_id", "Written by", ID, refers_to=PERSON), Column("written_at", "Written at", INSTANT), Column("entry_id", "Entry", ID, required=True),
)  # fmt: skip


def _disagreement_columns(has_names: bool) -> Iterator[Column]:
    yield from _all_with_beside(
        (*_VALUE_OF, Column("stands", "Is used until someone decides", YES_NO), *_WRITTEN), has_names,
    )  # fmt: skip


def _history_columns(has_names: bool) -> Iterator[Column]:
    stands = Column("stands", "Is used now", YES_NO, description="No: it was written over, or another value is used instead")
    yield from _all_with_beside((*_VALUE_OF, stands, *_WRITTEN), has_names)


def _movement_columns() -> Iterator[Column]:
    """What `survey_verdict` keeps, by the same names (stream.py reads it so)."""
    yield from _all_with_beside((
        Column("unit_id", "Unit", ID, refers_to="unit"), _SITE, Column("survey", "Survey", TEXT, description="A visit, or a day"),
        Column("at", "Time of the survey", INSTANT), Column("verdict", "What it says", CHOICE, choices=MOVED),
        Column("east_m", "Shift, east", NUMBER, unit="m"), Column("north_m", "Shift, north", NUMBER, unit="m"),
        Column("moved_m", "Shift", NUMBER, unit="m"), Column("p", "Probability of so much by chance", NUMBER), Column("t2", "Test statistic of the shift", NUMBER),
        Column("shows_m", "Smallest movement it could show", NUMBER, unit="m"), Column("least_shift_m", "Smallest shift that matters", NUMBER, unit="m"),
        Column("misread", "Tape that may be misread", TEXT), Column("doubts", "Doubts", TEXT), Column("by_marks", "By tapes from marks", YES_NO),
        Column("method", "Method", TEXT), Column("zero_method", "Method of the first reading", TEXT),
        Column("zero_at", "First reading at", INSTANT), Column("zero_id", "First reading", ID),
        Column("fixed_at", "This reading at", INSTANT), Column("fix_id", "This reading", ID),
    ))  # fmt: skip
