"""A first mapping of a sheet: what its headers say, and what its values settle by themselves. The rest stays open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from fieldlog.imports.headers import Header, fields_of_columns, kinds_by_likeness, main_instant, wide_columns
from fieldlog.imports.known import Known
from fieldlog.imports.mapping import Column, Mapping, Wide
from fieldlog.imports.table import Summary, Table
from fieldlog.imports.values import decimals_of, orders_of, says_nothing, units_for
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Date, Instant, Measured
from fieldlog.records.kind import Kind

NOT_FROM_SHEETS = frozenset({"import"})
"""Kinds that are not made of rows."""

SURELY = 2.0
"""By how much a kind's headers must fit better than the next one's, so that nobody is asked."""


def kinds_to_import(catalogue: Catalogue) -> list[Kind]:
    """The kinds that rows may be: those that a lead writes."""
    return [kind for kind in catalogue.kinds.values() if "lead" in kind.writers and kind.name not in NOT_FROM_SHEETS]


def likely_kinds(columns: Sequence[Header], catalogue: Catalogue, sheet: str) -> tuple[list[Kind], bool]:
    """The kinds that a sheet may be of, the likeliest first, and whether the first one is sure enough."""
    found = [(fit, kind) for fit, kind in kinds_by_likeness(columns, kinds_to_import(catalogue), sheet)]
    return [kind for _, kind in found], found[0][0] > 0 and found[0][0] - found[1][0] >= SURELY


def proposed(table: Table, kind: Kind, known: Known, sheet: str, zone: str | None) -> Mapping:
    """The mapping that a sheet's headers and values say for a kind."""
    columns = table.headers.columns
    fields = fields_of_columns(columns, kind)
    made: dict[str, Column] = {}
    for header in columns:
        made[header.text] = column_for(header, fields[header.text], kind, table.columns[header.text])
    mapping = Mapping(kind.name, sheet, table.headers.row + 1, zone, made)
    species = {name: ids[0] for name, ids in known.kinds["species"].exact.items()} if "species" in known.kinds else {}
    turned = wide_columns([header for header in columns if fields[header.text] is None], species)
    if turned is not None:
        mapping.wide = _wide(turned, kind, table)
    return mapping


def column_for(header: Header, field: str | None, kind: Kind, summary: Summary) -> Column:
    """How a column is read as a field, as far as its header and its values settle that."""
    column = Column(field)
    declared = kind.fields.get(field) if field else None
    if isinstance(declared, Measured):
        units = units_for(declared.unit)
        column.unit = header.unit if header.unit in units else None
        column.decimal = decimal_of(summary.texts)
    elif isinstance(declared, Instant | Date):
        column.order = order_of(summary.texts)
        column.zone = header.zone
    return column


def _wide(turned: tuple[str, list[str]], kind: Kind, table: Table) -> Wide | None:
    sort, names = turned
    heading = main_instant(kind) if sort == "dates" else "species_id" if "species_id" in kind.fields else None
    if heading is None:
        return None
    texts: Counter[str] = Counter(dict.fromkeys(names, 1))
    values: Counter[str] = Counter()
    for name in names:
        values.update(table.columns[name].texts)
    value = "count" if sort == "species" and "count" in kind.fields else None
    return Wide(names, Column(heading, order=order_of(texts) if sort == "dates" else None), Column(value, decimal=decimal_of(values)))


def order_of(texts: Iterable[str]) -> str | None:
    """The one order in which all of these texts are days, where there is but one; None where it is open."""
    fits = [orders for text in texts if not says_nothing(text) and (orders := orders_of(text)) is not None]
    for order, other in (("mdy", "dmy"), ("dmy", "mdy")):
        if any(orders == {order} for orders in fits) and not any(orders == {other} for orders in fits):
            return order
    return None


def decimal_of(texts: Iterable[str]) -> str | None:
    """The decimal sign of these texts, where one of them has but one reading and none has only the other; None where it is open."""
    fits = [signs for text in texts if not says_nothing(text) and (signs := decimals_of(text))]
    for sign, other in ((".", ","), (",", ".")):
        if any(signs == {sign} for signs in fits) and not any(signs == {other} for signs in fits):
            return sign
    return None if any("." in text or "," in text for text in texts if decimals_of(text)) else "."
