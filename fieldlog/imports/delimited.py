"""A file of delimited text as rows: which signs its bytes are, what stands between its cells."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator

from charset_normalizer import from_bytes

from fieldlog.apostrophes import unguarded
from fieldlog.imports.cells import Row, cell_of
from fieldlog.imports.limits import MOST_COLUMNS, MOST_LETTERS, too_many_columns, unreadable

LOOK_BYTES = 256 * 1024
LOOK_LINES = 200
USUAL = "cp1252"
"""What most programs wrote before Unicode in western Europe and America."""

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"), (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)  # fmt: skip


def charset_of(data: bytes) -> str:
    """
    The name of the encoding of a text: by its mark, else UTF-8 where it is that, else the likeliest.

    Raises:
        BadTable: it is no text.
    """
    marked = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    if marked is not None:
        return marked
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        if b"\0" not in data:
            return "utf-8"
    for name, zeros in (("utf-16-le", data[1:2000:2]), ("utf-16-be", data[:2000:2])):
        # Without a mark, half of the bytes of plain letters in UTF-16 are zero.
        if len(zeros) > 1 and zeros.count(0) > len(zeros) * 0.6:
            return name
    found = from_bytes(data[:LOOK_BYTES])
    likeliest = found.best()
    if likeliest is None or b"\0" in data:
        raise unreadable("it is not text")
    # Neighbours among the old charsets differ in few letters; where it is as likely, it is the most used one.
    is_usual = any(match.encoding == USUAL and match.chaos <= likeliest.chaos + 0.02 for match in found)
    return USUAL if is_usual else str(likeliest.encoding)


def separator_of(text: str) -> str:
    """What stands between the cells: the sign that cuts most lines into one number of cells, and into many."""
    lines = text.splitlines()[:LOOK_LINES]
    best, most = ",", 0.0
    for sign in SEPARATORS:
        counts = [len(row) for row in csv.reader(lines, delimiter=sign) if row]
        usual = max(counts, key=counts.count, default=1)
        if usual > 1 and (found := counts.count(usual) / len(counts) * min(usual, 8)) > most:
            best, most = sign, found
    return best


PDF = b"%PDF-"
"""How such a file begins; a small one is text all through."""


def rows_of_text(data: bytes) -> tuple[Iterator[Row], list[str]]:
    """
    The rows of a file of delimited text, blank ones too, and sentences on how it was read.

    Raises:
        BadTable: it is no text, or one of its rows has no end.
    """
    if data.startswith(PDF):
        raise unreadable("it is a PDF, which holds pictures of tables and no cells")
    charset = charset_of(data)
    try:
        text = data.decode(charset)
    except (UnicodeDecodeError, LookupError):
        raise unreadable(f"it is not text in {charset}") from None
    sign = separator_of(text[:LOOK_BYTES])
    said = [] if charset in ("utf-8", "utf-8-sig") else [f"Read as {charset} text."]
    if sign != ",":
        said.append(f"Its cells stand between {SEPARATORS[sign]}.")
    return _rows(text, sign), said


def _rows(text: str, sign: str) -> Iterator[Row]:
    # The limit is the process's, and others read by the one before.
    limit_before = csv.field_size_limit(MOST_LETTERS)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True)
    try:
        for row in reader:
            if len(row) > MOST_COLUMNS:
                raise too_many_columns(len(row))
            yield [cell_of(unguarded(text)) for text in row]
    except csv.Error as fault:
        raise unreadable(f"line {reader.line_num:,}: {fault}") from None
    finally:
        csv.field_size_limit(limit_before)
