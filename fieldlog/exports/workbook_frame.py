"""The parts of a workbook that hold its sheets together: names, relations, styles, and how a sheet begins and ends."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def sheet_start(widths: list[int]) -> str:
    """A sheet up to its first row: the header stays in sight, columns have widths."""
    columns = "".join(f'<col min="{n}" max="{n}" width="{width}" customWidth="1"/>' for n, width in enumerate(widths, 1))
    return (
        f'{_HEAD}<worksheet xmlns="{_MAIN}"><sheetViews><sheetView workbookViewId="0">'
        '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>'
        f"<cols>{columns}</cols><sheetData>"
    )


def sheet_end() -> str:
    """A sheet after its last row."""
    return "</sheetData></worksheet>"


def workbook(sheets: list[str]) -> str:
    """The list of sheets, in their order."""
    named = "".join(f'<sheet name="{escape(name)}" sheetId="{n}" r:id="rId{n}"/>' for n, name in enumerate(sheets, 1))
    return f'{_HEAD}<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{named}</sheets></workbook>'


def relations(sheets: int) -> str:
    """Where the workbook's parts are."""
    parts = [f'<Relationship Id="rId{n}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in range(1, sheets + 1)]
    parts.append(f'<Relationship Id="rId{sheets + 1}" Type="{_OFFICE}/styles" Target="styles.xml"/>')
    return f'{_HEAD}<Relationships xmlns="{_PACKAGE}/relationships">{"".join(parts)}</Relationships>'


def root_relations() -> str:
    """Where the workbook is."""
    return (
        f'{_HEAD}<Relationships xmlns="{_PACKAGE}/relationships">'
        f'<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
    )


def content_types(sheets: int) -> str:
    """What each part is."""
    parts = [f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_TYPE}.worksheet+xml"/>' for n in range(1, sheets + 1)]
    named = {"/xl/workbook.xml": "sheet.main", "/xl/styles.xml": "styles"}
    parts += [f'<Override PartName="{name}" ContentType="{_TYPE}.{what}+xml"/>' for name, what in named.items()]
    usual = {"rels": "application/vnd.openxmlformats-package.relationships+xml", "xml": "application/xml"}
    others = [f'<Default Extension="{suffix}" ContentType="{what}"/>' for suffix, what in usual.items()]
    return f'{_HEAD}<Types xmlns="{_PACKAGE}/content-types">{"".join(others + parts)}</Types>'


_FONTS_TO_CELLS = (
    '<fonts count="2"><font><sz val="11"/><name val="Calibri"/></font>', '<font><b/><sz val="11"/><name val="Calibri"/></font></fonts>',
    '<fills count="2"><fill><patternFill patternType="none"/></fill>', '<fill><patternFill patternType="gray125"/></fill></fills>',
    '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>',
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>',
)  # fmt: skip
_HEADER_CELL = '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>'

FIRST_OF_OFFSETS = 4
"""The style of moments with the first offset, by its place in styles.xml; plain, a moment, a day and a header go before."""

_FIRST_FORMAT = 164
"""Below are the formats that programs have by themselves."""


def styles(offsets: Iterable[str]) -> str:
    """Plain; a moment; a day; a header; then a moment with each of these offsets from UTC, such as -04:00, written behind it."""
    moment, day = "yyyy\\-mm\\-dd\\ hh:mm:ss", "yyyy\\-mm\\-dd"
    codes = [moment, day, *(f'{moment}" {offset}"' for offset in offsets)]
    formats = "".join(f'<numFmt numFmtId="{n}" formatCode="{escape(code)}"/>' for n, code in enumerate(codes, _FIRST_FORMAT))
    times = [f'<xf numFmtId="{n}" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>' for n in range(_FIRST_FORMAT, _FIRST_FORMAT + len(codes))]
    cells = ['<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>', *times[:2], _HEADER_CELL, *times[2:]]
    parts = (
        f'{_HEAD}<styleSheet xmlns="{_MAIN}">', f'<numFmts count="{len(codes)}">{formats}</numFmts>', *_FONTS_TO_CELLS,
        f'<cellXfs count="{len(cells)}">{"".join(cells)}</cellXfs>', '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>',
        "</styleSheet>",
    )  # fmt: skip
    return "".join(parts)
