"""What stands beside a record's stored values: for each such column what makes its value out of the record's row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import itemgetter
from typing import Any

from fieldlog.exports.columns import LOCAL, PERSON, WHOLE, Column, Table, stem_of
from fieldlog.exports.computed import COMPUTED
from fieldlog.exports.words import Said, Words, bound
from fieldlog.questions.whole_tables import columns_of
from fieldlog.records.kind import Kind

Row = tuple[Any, ...]
Maker = Callable[[list[Row]], Iterable[Sequence[Any]]]
"""Rows in, columns out: each column has a value a row."""

_CHECK = (
    "unit_id", "checked_at", "found_state", "looked_only", "crack_width_mm", "chip_depth_mm", "chip_across_mm", "scaling_depth_mm", "lost_volume_pct",
    "tilt_deg", "scour_depth_mm", "rocking", "exposed_height_mm", "site_id",
)  # fmt: skip
"""What `Computing.of_check` takes, in its order."""


def makers_of(table: Table, stored: list[str], words: Words, kind: str) -> tuple[list[str], list[Maker]]:
    """
    The columns of a kind's table that are not stored, and what makes their values.

    Returns:
        The names of the columns that the makers give one after the other, and the makers.
    """
    names: list[str] = []
    makers: list[Maker] = []
    # A person's number and name hang on an id that an export without names does not have as a column.
    sources = {"observer_id": "created_by"}
    by_name = {column.name: column for column in table.columns}
    for column in table.columns:
        if column.of is not None and not column.computed:
            source = sources.get(column.of, column.of)
            names.append(column.name)
            makers.append(_beside(column, by_name.get(column.of), stored.index(source), stored, words, kind))
    if "observer_id" in by_name:
        names.append("observer_id")
        makers.append(_alone(itemgetter(stored.index("created_by"))))
    if kind in COMPUTED:
        names += [column.name for column in COMPUTED[kind]]
        of_row = computed_of(kind, stored, words)
        makers.append(lambda rows: zip(*map(of_row, rows), strict=True))
    return names, makers


def _alone(value: Callable[[Row], Any]) -> Maker:
    """A maker of one column."""
    return lambda rows: (list(map(value, rows)),)


def _beside(column: Column, of: Column | None, at: int, stored: list[str], words: Words, kind: str) -> Maker:
    site = stored.index("site_id")
    if column.type == LOCAL:
        # A site is of its own zone, whatever its entries were written for.
        site = stored.index("record_id") if kind == "site" else site
        return lambda rows: ([words.local(row[site], row[at]) for row in rows],)
    if column.type == WHOLE:
        number = words.numbers.get
        return lambda rows: ([number(row[at]) for row in rows],)
    refers_to = PERSON if of is None else of.refers_to or ""
    if column.name == f"{stem_of(column.of or '')}_row":
        return _looked_up(words.rows_of_units, at, site)
    if refers_to in stored:
        which = stored.index(refers_to)
        return lambda rows: ([words.name(row[which], row[at], row[site]) for row in rows],)
    return _looked_up(words.names(refers_to or kind), at, site)


def _looked_up(values: Mapping[str, Said], at: int, site: int) -> Maker:
    get = values.get
    return lambda rows: ([bound(get(row[at]), row[site]) for row in rows],)


def read_by_computed(kind: Kind) -> list[str]:
    """The stored columns that the computed ones of a kind are made from."""
    if kind.name == "position_fix":
        return columns_of(kind)
    return [*_CHECK] if kind.name == "unit_check" else ["site_id", *_on_grid(kind.name)]


def _on_grid(kind: str) -> tuple[str, str]:
    before = "planned_" if kind == "unit" else ""
    return f"{before}east_m", f"{before}north_m"


def computed_of(kind: str, stored: list[str], words: Words) -> Callable[[Row], tuple[Any, ...]]:
    """What makes the values of a kind's computed columns out of a row's stored ones."""
    computing, site = words.computing, stored.index("site_id")
    if kind == "unit_check":
        pick = itemgetter(*map(stored.index, _CHECK))
        return lambda row: computing.of_check(*pick(row))
    if kind == "position_fix":
        return lambda row: computing.of_fix(row[site], dict(zip(stored, row, strict=True)))
    east, north = map(stored.index, _on_grid(kind))
    return lambda row: computing.on_earth(row[site], row[east], row[north])


def beside_values(columns: tuple[Column, ...], row: Mapping[str, Any], words: Words) -> Iterator[Any]:
    """The values of a table that is no kind's: of a row by names, whose ids of people stand in it whether they are columns or not."""
    for column in columns:
        yield row[column.name] if column.name in row else _value_beside(column, columns, row, words)


def _value_beside(column: Column, columns: tuple[Column, ...], row: Mapping[str, Any], words: Words) -> Any:
    of = column.of or ""
    if column.type == LOCAL:
        return words.local(row["site_id"], row[of])
    if column.type == WHOLE:
        return words.numbers.get(row[of] or "")
    if column.name.endswith("_row"):
        return bound(words.rows_of_units.get(row[of] or ""), row["site_id"])
    # Who wrote it is said by an id that is no column where people are numbers.
    refers_to = next((one.refers_to for one in columns if one.name == of), PERSON)
    return words.name(refers_to, row[of], row["site_id"])
