"""
What must be said before a sheet can be read: each question beside its column, with what its answer settles. None is answered here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from dataclasses import field as made
from datetime import date
from typing import Any

from fieldlog.days import day_words
from fieldlog.imports.headers import is_choice
from fieldlog.imports.known import Known
from fieldlog.imports.mapping import (
    HEADING,
    LEAVE,
    NEW,
    OBSERVER,
    SITE,
    VALUE,
    VISIT,
    Column,
    Mapping,
    long_columns,
)
from fieldlog.imports.readers import EMPTY, grade_of, is_record_id, word_of
from fieldlog.imports.table import Summary
from fieldlog.imports.values import (
    DAYS_FROM,
    LEAST_DAY,
    MOST_DAY,
    Mend,
    converted,
    day_of,
    decimals_of,
    number_of,
    orders_of,
    says_nothing,
    units_for,
)
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Choice, Date, Declared, Instant, Measured, Ref, Tag, Text, YesNo
from fieldlog.records.kind import Kind
from fieldlog.rounding import shortest
from fieldlog.shown_names import counted

MOST_ASKED = 12
"""Questions of one column that are shown one by one; the rest is told as a number, and can be settled at once."""

Path = list[str]
Sets = list[dict[str, Any]]


@dataclass
class Answer:
    """What people may say, and what it sets in the mapping: [{"path": ["columns", "Date", "order"], "value": "mdy"}]."""

    label: str
    sets: Sets


@dataclass
class Question:
    """What is asked, of which column, for how many rows; `typed`: the answer is typed in ("text" or "day"), and stands at this path."""

    column: str
    about: str
    ask: str
    answers: list[Answer] = made(default_factory=list)
    note: str = ""
    rows: int = 0
    typed: str | None = None
    path: Path = made(default_factory=list)

    def told(self) -> dict[str, Any]:
        """The question as JSON."""
        return asdict(self)


@dataclass
class Sheet:
    """
    What is asked about: a sheet as it would be read.

    `columns`: what stands in each column, of a wide sheet once it is long. `makes`: whether a record of a kind can be made of a name alone.
    """

    catalogue: Catalogue
    kind: Kind
    mapping: Mapping
    columns: dict[str, Summary]
    known: Known
    site_id: str | None
    makes: Callable[[str, str], bool]

    @property
    def paths(self) -> dict[str, Path]:
        """Where the mapping says how each column is read."""
        paths = {header: ["columns", header] for header in self.mapping.columns}
        if self.mapping.wide is not None:
            paths |= {HEADING: ["wide", "heading"], VALUE: ["wide", "value"]}
        return paths


def of_columns(sheet: Sheet) -> Iterator[Question]:
    """What is open in each column."""
    for header, column in long_columns(sheet.mapping).items():
        path = sheet.paths[header]
        summary = sheet.columns.get(header)
        if summary is None:
            answers = [Answer("Leave out", sets(path, "field", None))]
            if column.field is not None:
                yield Question(header, "column", f"This sheet has no column “{header}”.", answers)
        elif column.field is None:
            if header == VALUE:
                yield Question(header, "value", "What do the values in these columns say?", _fields(sheet.kind, path))
        else:
            yield from _of_column(sheet, header, column, summary, path)


def sets(path: Path, name: str, value: Any) -> Sets:
    """One answer's change of a mapping."""
    return [{"path": [*path, name], "value": value}]


def _of_column(sheet: Sheet, header: str, column: Column, summary: Summary, path: Path) -> Iterator[Question]:
    kind, field = sheet.kind, column.field
    declared = kind.fields.get(field or "")
    if isinstance(declared, Measured) and "x-labels" not in declared.metadata:
        yield from _of_number(header, column, declared, summary, path)
    elif declared is not None and field is not None and is_choice(kind, field):
        yield from _of_words(header, column, declared, summary, path)
    elif isinstance(declared, Instant | Date):
        yield from _of_days(header, column, summary, path)
    elif isinstance(declared, Ref) or field in (SITE, VISIT, OBSERVER):
        to = kind_named(sheet, field or "")
        if to is not None:
            yield from _of_references(sheet, header, column, to, summary, path)


def kind_named(sheet: Sheet, field: str) -> str | None:
    """The kind that a reference of every row is to; None where rows say it themselves."""
    if field in (SITE, VISIT, OBSERVER):
        return {SITE: "site", VISIT: "visit", OBSERVER: "person"}[field]
    to = sheet.kind.refs[field]
    said = sheet.mapping.constants.get(to) if to in sheet.kind.fields else to
    return said if isinstance(said, str) else None


def _fields(kind: Kind, path: Path) -> list[Answer]:
    values = [(name, one) for name, one in kind.fields.items() if isinstance(one, Measured | YesNo | Choice | Text) and not isinstance(one, Tag)]
    return [Answer(declared.title, sets(path, "field", name)) for name, declared in values]


def _of_number(header: str, column: Column, declared: Measured, summary: Summary, path: Path) -> Iterator[Question]:
    plain = [text for text in summary.texts if not says_nothing(text)]
    units = units_for(declared.unit)
    numbers = [number_of(text, column.decimal or ".", None, None) for text in plain[:200]]
    if units and column.unit is None and (summary.number_samples or any(not isinstance(number, Mend) for number in numbers)):
        first = next(iter([*summary.number_samples, *(number for number in numbers if isinstance(number, float))]), None)
        yield Question(
            header, "unit", f"“{header}” is in", [Answer(_unit_told(unit, declared.unit, first), sets(path, "unit", unit)) for unit in units],
            f"{declared.title} is kept in {declared.unit}.", summary.texts.total() + summary.numbers,
        )  # fmt: skip
    if column.decimal is None:
        unsure = [text for text in plain if decimals_of(text) == {".", ","} and ("." in text or "," in text)]
        some = unsure or [text for text in plain if decimals_of(text) and ("." in text or "," in text)]
        if some:
            shown = some[0]
            answers = [Answer(_number_told(shown, sign), sets(path, "decimal", sign)) for sign in ".,"]
            yield Question(header, "decimal", f"{shown} is", answers, "Of its numbers some have a point, some a comma.", sum(summary.texts[text] for text in some))


def _unit_told(unit: str, into: str | None, first: float | None) -> str:
    if first is None or into is None or unit == into:
        return unit if first is None else f"{shortest(first, 3)} {unit}"
    return f"{shortest(first, 3)} {unit} = {shortest(converted(first, unit, into), 1)} {into}"


def _number_told(text: str, sign: str) -> str:
    value = number_of(text, sign, None, None)
    return f"with a decimal {'point' if sign == '.' else 'comma'}" + (f": {shortest(value, 3)}" if isinstance(value, float) else "")


def _of_words(header: str, column: Column, declared: Declared, summary: Summary, path: Path) -> Iterator[Question]:
    labels = _labels(declared)
    open_words = []
    taken = []
    for text, rows in summary.texts.most_common():
        if says_nothing(text) or text in column.words:
            continue
        if isinstance(declared, Measured):
            number = number_of(text, ".", None, None)
            known = grade_of(declared, text, column) is not None or not isinstance(number, Mend)
            word = None
        else:
            word = word_of(declared, text)
            known = word is not None
        if known:
            if word is not None and text not in labels and text != labels.get(word):
                taken.append(f"“{text}” is read as {labels[word]}.")
            continue
        open_words.append((text, rows))
    for text, rows in open_words[:MOST_ASKED]:
        answers = [Answer(label, _word(path, text, word)) for word, label in labels.items()] + [Answer("Nothing", _word(path, text, EMPTY))]
        yield Question(header, "word", f"“{text}” means", answers, " ".join(taken[:2]), rows)
    if rest := open_words[MOST_ASKED:]:
        answers = [Answer("Nothing", [one for text, _ in rest for one in _word(path, text, EMPTY)])]
        yield Question(header, "word", f"{counted(len(rest), 'more word')} mean", answers, _first(text for text, _ in rest), sum(rows for _, rows in rest))


def _word(path: Path, text: str, word: str) -> Sets:
    return [{"path": [*path, "words", text], "value": word}]


def _labels(declared: Declared) -> dict[str, str]:
    if isinstance(declared, YesNo):
        return {"yes": "Yes", "no": "No"}
    return declared.labels if isinstance(declared, Choice) else dict(declared.metadata["x-labels"])


def _first(texts: Iterator[str]) -> str:
    some = [text for text, _ in zip(texts, range(4), strict=False)]
    return ", ".join(f"“{text}”" for text in some[:3]) + (", …" if len(some) > 3 else "")


def _of_days(header: str, column: Column, summary: Summary, path: Path) -> Iterator[Question]:
    fits = [(text, orders, rows) for text, rows in summary.texts.items() if (orders := orders_of(text)) is not None]
    if fits and column.order is None:
        both = [(text, rows) for text, orders, rows in fits if len(orders) == 2]
        shown = both[0][0] if both else fits[0][0]
        answers = []
        for order in ("mdy", "dmy"):
            day = day_of(shown, order, None)
            told = "no day" if isinstance(day, Mend) else day_words(day)
            answers.append(Answer(told, sets(path, "order", order)))
        only = {order: sum(rows for _, orders, rows in fits if orders == {order}) for order in ("mdy", "dmy")}
        rows = sum(rows for _, rows in both)
        if any(only.values()):
            note = f"{counted(only['mdy'], 'row')} fit only month first, {counted(only['dmy'], 'row')} only day first; the others then need fixing."
        else:
            note = f"Both fit {counted(rows, 'row')}. No row settles it."
        yield Question(header, "order", f"{shown.split(' ')[0]} is", answers, note, rows)
    counts = [number for number in summary.number_samples if LEAST_DAY <= number <= MOST_DAY]
    if counts and column.days_from is None:
        answers = []
        for start in DAYS_FROM:
            day = day_of(counts[0], None, start)
            answers.append(Answer(day_words(day, year=True) if isinstance(day, date) else start, sets(path, "days_from", start)))
        yield Question(header, "days_from", f"{shortest(counts[0], 2)} is", answers, "Numbers in this column count days.", len(counts))


def _of_references(sheet: Sheet, header: str, column: Column, to: str, summary: Summary, path: Path) -> Iterator[Question]:
    known, makes, site_id = sheet.known, sheet.makes, None if column.field == SITE else sheet.site_id
    title = sheet.catalogue.kinds[to].title if to in sheet.catalogue.kinds else to
    texts: Counter[str] = Counter()
    for text, rows in summary.texts.items():
        texts[text.strip()] += rows
    for number in summary.number_samples:
        texts[shortest(number, 6)] += 1
    unknown = []
    for text, rows in texts.most_common():
        if says_nothing(text) or text in column.words or (column.field == VISIT and is_record_id(text)):
            continue
        called = known.called(to, text, site_id)
        if len(called) != 1:
            unknown.append((text, rows, called or known.near(to, text, site_id)))
    for text, rows, near in unknown[:MOST_ASKED]:
        answers = [Answer(_told_apart(known, to, one, near), _word(path, text, one)) for one in near]
        if makes(to, text) and not known.called(to, text, site_id):
            answers.append(Answer(f"A new {title[0].lower()}{title[1:]}", _word(path, text, NEW)))
        answers.append(Answer("Leave these rows out", _word(path, text, LEAVE)))
        note = "" if near else f"{title} “{text}” is not known here." + ("" if makes(to, text) else " Its name alone does not make it: import or add it first.")
        yield Question(header, "reference", f"“{text}” is", answers, note, rows)
    if rest := unknown[MOST_ASKED:]:
        can = [text for text, _, _ in rest if makes(to, text)]
        answers = [Answer("Leave these rows out", [one for text, _, _ in rest for one in _word(path, text, LEAVE)])]
        if len(can) == len(rest):
            answers.insert(0, Answer("All are new", [one for text in can for one in _word(path, text, NEW)]))
        yield Question(header, "reference", f"{counted(len(rest), 'more name')}", answers, _first(text for text, _, _ in rest), sum(rows for _, rows, _ in rest))


def _told_apart(known: Known, kind: str, record_id: str, others: list[str]) -> str:
    name = known.name(kind, record_id)
    same = [one for one in others if known.name(kind, one) == name]
    return name if len(same) == 1 else f"{name} ({record_id[:8]})"
