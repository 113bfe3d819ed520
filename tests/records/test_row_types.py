"""The phone's row types are the catalogue's."""

from __future__ import annotations

from fieldlog.records.catalogue import CATALOGUE, Catalogue
from tests.records.made_up import BARREL, CATCH
from tests.records.make_row_types import TYPES_FILE, row_types


def test_the_types_of_rows_are_what_the_catalogue_gives() -> None:
    """After a field was added: python tests/records/make_row_types.py."""
    assert TYPES_FILE.read_text("utf-8") == row_types(CATALOGUE)


def test_a_kind_that_nobody_knew_gets_a_type_with_its_fields() -> None:
    told = row_types(Catalogue([BARREL]))
    assert f"  {BARREL.name}: {BARREL.schema.__name__};" in told
    for name in BARREL.fields:
        assert f"  {name}?: " in told


def test_a_list_gets_the_type_of_its_items() -> None:
    told = row_types(Catalogue([CATCH]))
    assert "  heights?: (number)[] | null;" in told
    assert "  hits?: ('mud' | 'shell')[] | null;" in told
    assert "  hauls?: CatchHaulsItem[] | null;" in told
    item = told.partition("export interface CatchHaulsItem {")[2].partition("}")[0]
    assert "  net: number;" in item
    assert "  bed?: 'mud' | 'sand' | null;" in item


def test_no_line_is_longer_than_a_screen() -> None:
    assert [line for line in TYPES_FILE.read_text("utf-8").splitlines() if len(line) > 120] == []
