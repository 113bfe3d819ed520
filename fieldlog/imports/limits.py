"""How much a file may hold, and the sentences of one that holds more, or nothing that can be read."""

from __future__ import annotations

from fieldlog.errors import BadTable, TooLarge
from fieldlog.rounding import rounded

MEGABYTE = 1024 * 1024
MOST_BYTES = 50 * MEGABYTE
MOST_ROWS = 300_000
MOST_COLUMNS = 1000
MOST_UNPACKED_BYTES = 1000 * MEGABYTE
"""What a packed file may unpack to: of a sheet of 300,000 rows and 30 columns it is some 500 MB."""

MOST_MEMORY_BYTES = 1500 * MEGABYTE
"""Of the process that reads, its code and libraries included."""

READING_S = 120.0
MOST_LETTERS = 32_767
"""In one cell, as spreadsheet programs have it."""


def too_many_bytes(count: int) -> TooLarge:
    """The file is larger than what is read."""
    return TooLarge(f"The file has {rounded(count / MEGABYTE, 1)} MB; the limit is {MOST_BYTES // MEGABYTE} MB. Split it into smaller files, then try again.")


def too_many_rows(count: int) -> BadTable:
    """The sheet is longer than what is read; `count` is of the rows below one line of headers."""
    return BadTable(f"The number of rows is {count:,}; the limit is {MOST_ROWS:,}. Split it into smaller files, then try again.")


def too_many_columns(count: int) -> BadTable:
    """The sheet is wider than what is read."""
    return BadTable(f"The sheet has {count:,} columns; the limit is {MOST_COLUMNS:,}. Take out those that are not needed.")


def unpacks_to(count: int) -> BadTable:
    """A packed file that would fill memory."""
    limit = MOST_UNPACKED_BYTES // MEGABYTE
    return BadTable(f"The file unpacks to more than {count // MEGABYTE:,} MB; the limit is {limit:,} MB. Save only the sheet you need as a new file.")


def unreadable(what: str) -> BadTable:
    """The file is no table that can be read."""
    return BadTable(f"The file cannot be read as a table: {what}. Save it as CSV or XLSX, then choose it again.")
