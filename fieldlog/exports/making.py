"""What stands beside a record's stored values: for each such column what makes its value out of the record's row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import itemgetter
from typing import Any

from fieldlog.exports.columns import LOCAL, PERSON, WHOLE, Column, Table, stem_of
from fieldlog.exports.computed import COMPUTED
from fieldlog.exports.words import Said, Words, bound

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
        makers.append(_computed(kind, stored, words))
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


def _computed(kind: str, stored: list[str], words: Words) -> Maker:
    computing, site = words.computing, stored.index("site_id")
    if kind == "unit_check":
        pick = itemgetter(*map(stored.index, _CHECK))
        return lambda rows: zip(*[computing.of_check(*pick(row)) for row in rows], strict=True)
    if kind == "position_fix":
        return lambda rows: zip(*[computing.of_fix(row[site], dict(zip(stored, row, strict=True))) for row in rows], strict=True)
    east, north = (stored.index(f"{'planned_' if kind == 'unit' else ''}{axis}_m") for axis in ("east", "north"))
    return lambda rows: zip(*[computing.on_earth(row[site], row[east], row[north]) for row in rows], strict=True)


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
