"""
What a sheet's headers say: which line they stand in, which kind of record the rows are, which column is which field.

Pure. A guess is shown and changed by a person; where two columns claim the same field, none is chosen for them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from fieldlog.imports.cells import Cell, Row, text_of
from fieldlog.imports.mapping import ENVELOPE, OBSERVER, RECORD, SITE
from fieldlog.imports.values import orders_of, unit_named
from fieldlog.records.fields import Choice, Date, Instant, Ref, Sha256
from fieldlog.records.kind import Kind

LOOKED_THROUGH = 20
"""Lines from the top among which the headers are looked for."""

_NAMES = json.loads(Path(__file__).with_name("column_names.json").read_text("utf-8"))
"""What people call columns beside the fields' own titles; a word more is a word in that file."""

FIELD_WORDS: dict[str, list[str]] = _NAMES["fields"]
ENVELOPE_WORDS: dict[str, list[str]] = _NAMES["beside the fields"]
TIME_WORDS: list[str] = _NAMES["any moment"]

OBSERVER_NAME = "observer_name"
"""The column of an export that names who observed; one called as the envelope's has their number in that export."""

SKIPPED = ("computed", "deleted", "created", "changed")
"""How headers of columns begin that an export adds and no import reads."""

_BRACKETS = re.compile(r"[\[(]([^\])]*)[\])]")
_ZONE = re.compile(r"Z|(?:UTC|GMT)(?:\s*([+-])([0-9]{1,2})(?::?00)?)?")
_MARKS = re.compile(r"[^a-z0-9%°]+")


@dataclass(frozen=True, slots=True)
class Header:
    """A column's name as it is shown, plain words of it, the unit that it names, and the zone in which it says that its times are."""

    text: str
    words: str
    unit: str | None
    zone: str | None = None


@dataclass(frozen=True, slots=True)
class Headers:
    """The line in which the headers stand, from 0, how many lines they take, and what they are."""

    row: int
    lines: int
    columns: tuple[Header, ...]


def plain(text: str) -> str:
    """A name as small words: “Exposed height [mm]” and “exposed_height_mm” alike, without marks."""
    return " ".join(_MARKS.sub(" ", text.lower().replace("_", " ")).split())


def zone_in(text: str) -> str | None:
    """The zone that “UTC” or “UTC-04:00” names; None for other texts, and for offsets of part of an hour, which have no zone's name."""
    said = _ZONE.fullmatch(text.strip().upper())
    if said is None or (said[2] and int(said[2]) > 12):
        return None
    # Names of this form count hours behind UTC, so their sign is the other one (IANA time zone database, "etcetera").
    return f"Etc/GMT{'-' if said[1] == '+' else '+'}{int(said[2])}" if said[2] and int(said[2]) else "UTC"


@lru_cache(maxsize=5000)
def header_of(text: str) -> Header:
    """A header's words and unit: “exposed in.” is in inches, “Height (cm)” in centimeters."""
    bracket = _BRACKETS.search(text)
    zone = zone_in(bracket[1]) if bracket else None
    if zone is not None:
        return Header(text, plain(_BRACKETS.sub(" ", text)), None, zone)
    unit = unit_named(bracket[1]) if bracket else None
    words = plain(_BRACKETS.sub(" ", text) if unit else text)
    first, _, last = words.rpartition(" ")
    if unit is None and first and last not in ("m", "s", "h", "g") and (ends := unit_named(last)) is not None:
        return Header(text, first, ends)
    if unit is None and first and re.search(r"(?:_m|, m|[^a-z]m)$", text.lower()):
        return Header(text, first, "m")
    return Header(text, words, unit)


def headers_in(rows: Sequence[Row], kinds: Iterable[Kind], at: int | None = None) -> Headers:
    """
    Find the headers of a sheet.

    Args:
        rows: its first lines.
        at: the line, from 0, where a person said so.
    """
    known = {name for kind in kinds for names in names_of_fields(kind).values() for name in names}
    row = at if at is not None else max(range(min(len(rows), LOOKED_THROUGH)), key=lambda number: (_likeness(rows[number], known), -number), default=0)
    cells = rows[row] if row < len(rows) else []
    below = rows[row + 1] if row + 1 < len(rows) else []
    units = [unit_named(text_of(cell).strip("()[] ")) for cell in below]
    has_units = any(units) and all(unit or cell is None for unit, cell in zip(units, below, strict=True))
    width = max([len(line) for line in rows[row:]], default=0)
    texts = []
    for column in range(width):
        text = _text(cells, column)
        if has_units and column < len(units) and units[column]:
            text = f"{text} ({units[column]})"
        texts.append(text or f"Column {column + 1}")
    above = rows[row - 1] if row and sum(cell is not None for cell in rows[row - 1]) > 1 else []
    return Headers(row, 2 if has_units else 1, tuple(header_of(text) for text in _told_apart(texts, above)))


def _text(cells: Row, column: int) -> str:
    return " ".join(text_of(cells[column] if column < len(cells) else None).split())


def _told_apart(texts: list[str], above: Row) -> list[str]:
    """Names that stand twice: by what stands over them where that tells them apart, else by a number."""
    grouped: Cell = None
    groups = [grouped := (above[column] if column < len(above) and above[column] is not None else grouped) for column in range(len(texts))]
    if len({(text_of(group), text) for group, text in zip(groups, texts, strict=True)}) == len(texts):
        texts = [f"{text_of(group)} {text}".strip() if texts.count(text) > 1 else text for group, text in zip(groups, texts, strict=True)]
    seen: dict[str, int] = {}
    named = []
    for text in texts:
        seen[text] = seen.get(text, 0) + 1
        named.append(text if seen[text] == 1 else f"{text} ({seen[text]})")
    return named


def is_repeated(header: str, headers: Iterable[str]) -> bool:
    """Whether a header is the same as an earlier one, and told from it by a number alone."""
    first = re.fullmatch(r"(.*) \([0-9]+\)", header)
    return first is not None and first[1] in set(headers)


def _likeness(row: Row, known: set[str]) -> float:
    """How much a line looks like headers: words that name fields count most, texts a little, numbers against."""
    texts = [text_of(cell) for cell in row if isinstance(cell, str)]
    named = sum(header_of(text).words in known for text in texts)
    return 3 * named + 0.5 * len(set(texts)) - 0.6 * sum(not isinstance(cell, str) for cell in row if cell is not None) - (1 if len(texts) < 2 else 0)


@lru_cache(maxsize=200)
def names_of_fields(kind: Kind) -> dict[str, list[str]]:
    """{field: the plain names by which a column may say that it is this field}, its own name and title first."""
    moment = main_instant(kind)
    found = {}
    for name, declared in kind.fields.items():
        bare = header_of(declared.title).words
        names = [plain(name), header_of(name).words, plain(declared.title), bare, *FIELD_WORDS.get(name, ())]
        if isinstance(declared, Ref):
            names += [f"{plain(name).removesuffix(' id')} {word}".strip() for word in ("tag", "name", "label")]
        if name == moment:
            names += TIME_WORDS
        found[name] = list(dict.fromkeys(names))
    found.update({name: [plain(name), plain(ENVELOPE[name]), *words] for name, words in ENVELOPE_WORDS.items()})
    return found


def main_instant(kind: Kind) -> str | None:
    """The field that says when a record of this kind happened: its first moment, else its first day; None where it says neither."""
    days = [name for name, declared in kind.fields.items() if isinstance(declared, Date)]
    return next(iter([*kind.observed, *(name for name, one in kind.fields.items() if isinstance(one, Instant)), *days]), None)


def fields_of_columns(columns: Sequence[Header], kind: Kind) -> dict[str, str | None]:
    """
    Which field each column is, by its name; None where it names none.

    A moment may take two columns, its day and its time. Of others the column that names the field best has it.
    """
    texts = [column.text for column in columns]
    names = names_of_fields(kind)
    if any(column.text == RECORD for column in columns):
        # An export: its columns are called as the fields are, and what stands beside them says the same in other words.
        names = {name: [plain(name)] for name in names} | {OBSERVER: [plain(OBSERVER_NAME)]}
        columns = [column for column in columns if column.text in {*names, OBSERVER_NAME} - {OBSERVER}]
    if kind.name == "site":
        names = {name: words for name, words in names.items() if name != SITE}
    scored = sorted(
        ((score, place, column.text, name) for place, column in enumerate(columns) for name in names if (score := _score(column, name, names[name])) > 0),
        key=lambda found: (-found[0], found[1]),
    )
    chosen: dict[str, str | None] = dict.fromkeys(texts)
    taken: dict[str, int] = {}
    for _, _, text, name in scored:
        moments = isinstance(kind.fields.get(name), Instant)
        if chosen[text] is None and taken.get(name, 0) < (2 if moments else 1) and not is_repeated(text, chosen):
            chosen[text] = name
            taken[name] = taken.get(name, 0) + 1
    return chosen


def _score(column: Header, name: str, names: list[str]) -> float:
    if column.words.startswith(SKIPPED) or column.words.endswith(" local"):
        return 0
    if column.text == name:
        return 4
    if column.words in names or plain(column.text) in names:
        place = names.index(column.words) if column.words in names else names.index(plain(column.text))
        return 3 - place / 100
    # The words of an id beside its own column, such as unit_row beside unit_tag, say nothing of their own.
    # What is said of heights says nothing of where a point is on a map.
    whole = f" {column.words} "
    if " vertical " in whole:
        return 0
    return max((1 + len(word) / 100 for word in names if len(word) > 3 and f" {word} " in whole), default=0)


def names_of_kind(kind: Kind) -> tuple[str, ...]:
    """What a sheet of a kind may be called, in plain small words."""
    return (plain(kind.name), plain(kind.title), f"{plain(kind.title)}s", f"{plain(kind.name)}s", plain(kind.plural))


def _weight_of_lacking(kind: Kind, name: str) -> float:
    """How much it speaks against a kind that no column says a field it needs: little where one word may stand for all rows, most where no two rows say the same."""
    declared = kind.fields[name]
    if isinstance(declared, Sha256):
        return 10
    return 0.5 if isinstance(declared, Choice) else 1.5


def kinds_by_likeness(columns: Sequence[Header], kinds: Iterable[Kind], sheet: str = "") -> list[tuple[float, Kind]]:
    """The kinds that the rows may be, the likeliest first, each with how well the headers fit it."""
    found = []
    for kind in kinds:
        fields = fields_of_columns(columns, kind)
        own = [name for name in fields.values() if name in kind.fields]
        texts = {column.text: column for column in columns}
        names = names_of_fields(kind)
        fit = sum(_score(texts[text], name, names[name]) for text, name in fields.items() if name in kind.fields)
        lacking = sum(_weight_of_lacking(kind, name) for name in set(kind.required) - set(own))
        is_named = plain(sheet) in names_of_kind(kind) if sheet else False
        found.append((fit - lacking + (6 if is_named else 0), kind))
    return sorted(found, key=lambda one: -one[0])


def wide_columns(columns: Sequence[Header], species: Mapping[str, str]) -> tuple[str, list[str]] | None:
    """
    Whether a sheet has a column a date, or a column a species, three at least.

    Args:
        species: the names of species, in small letters.

    Returns:
        "dates" or "species", and those columns; None where it has neither.
    """
    dates = [column.text for column in columns if _is_day(column.text)]
    if len(dates) >= 3:
        return "dates", dates
    named = [column.text for column in columns if column.text.lower() in species]
    return ("species", named) if len(named) >= 3 else None


def _is_day(text: str) -> bool:
    return orders_of(text) is not None or re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[ T].*)?|[0-9]{1,2}[ -][A-Za-z]{3,9}[ -][0-9]{2,4}", text) is not None


def is_choice(kind: Kind, name: str) -> bool:
    """Whether a field's values are words out of a few, grades and yes or no included."""
    declared = kind.fields.get(name)
    return declared is not None and (isinstance(declared, Choice) or "x-labels" in declared.metadata or declared.type_word == "yesno")
