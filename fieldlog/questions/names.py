"""What records are called, by their ids: unit tags, names of people, sites and species, labels of marks."""

from __future__ import annotations

from collections.abc import Iterable

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids

NAME_COLUMNS: dict[str, tuple[str, ...]] = {
    "site": ("name",), "row": ("name",), "control_mark": ("label",), "unit_design": ("name",), "casting_batch": ("label",), "unit": ("tag",),
    "plot": ("label",), "instrument": ("name",), "own_field": ("label",), "species": ("common_name", "scientific_name"), "person": ("display_name",), "datum_offset": ("datum",),
}  # fmt: skip
"""By kind the columns that may name a record of it, the first one that says something goes; a kind that is not here has no name."""


def names_of(db: Database, kind: str, ids: Iterable[str] | None = None) -> dict[str, str | None]:
    """
    The names of these records of a kind that are on record, removed ones too, or of all; a kind without names has none.

    Returns:
        {record id: its name as it was written, or None}: a person reads it through `fieldlog/shown_names.py`.
    """
    columns = NAME_COLUMNS.get(kind)
    if columns is None:
        return {}
    said = ", ".join(f"nullif({column}, '')" for column in columns)
    # coalesce takes two at least.
    select = f'SELECT record_id, coalesce({said}, NULL) FROM "{kind}"'
    if ids is None:
        return dict(db.conn.execute(select).fetchall())
    return dict(of_ids(db, f"{select} WHERE record_id", sorted({*ids})))
