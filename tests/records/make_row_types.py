"""
Writes static/records/rows.d.ts: what a row of each kind holds, for the checker of the phone's code, from the catalogue alone.

Run `python tests/records/make_row_types.py` after a field was added; test_row_types.py says when.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from fieldlog.records.catalogue import CATALOGUE, Catalogue  # noqa: E402
from fieldlog.records.fields import Choice, Declared, Measured, YesNo  # noqa: E402
from fieldlog.records.kind import Kind  # noqa: E402
from fieldlog.records.listed import Listed  # noqa: E402

TYPES_FILE = ROOT / "static" / "records" / "rows.d.ts"
LONGEST_LINE = 120

HEAD = """/**
 * What a row of each kind holds, as the catalogue declares it (fieldlog/records/); tests/records/make_row_types.py
 * writes this file. A field that nobody has filled in is null or not there, also where the form requires it: entries
 * come one by one, and older apps wrote other fields.
 */

/** What every row has, whatever its kind. */
export interface Recorded {
  record_id: string;
  /** null: of the whole programme */
  site_id: string | null;
  visit_id: string | null;
  created_by: string | null;
  changed_by: string | null;
  /** of the first entry's stamp: milliseconds since 1970 UTC; not of what an app up to 0.3.0 put together */
  created_at_ms?: number;
  /** of the last entry's stamp: milliseconds since 1970 UTC */
  changed_at_ms: number;
  /** the worst state of this phone's own entries on it; none where it wrote none */
  entry_state?: 'phone' | 'taken' | 'held';
  /** somebody removed it */
  _deleted?: boolean | null;
}
"""

FOOT = """
/** The row of a kind that is named in the code; of one that only the data name, any. */
export type RowOf<K extends string> = string extends K ? Recorded & Record<string, any>
  : K extends keyof Rows ? Rows[K] : never;
"""


def item_name(kind: Kind, name: str) -> str:
    """What the type of a list's small records is called."""
    return f"{kind.schema.__name__}{''.join(word.capitalize() for word in name.split('_'))}Item"


def type_of(kind: Kind, name: str, field: Declared) -> str:
    """A field's type in TypeScript, without null."""
    if isinstance(field, Listed):
        return f"({type_of(kind, name, *field.inner.values())})[]" if field.is_bare else f"{item_name(kind, name)}[]"
    if isinstance(field, Choice):
        return " | ".join(f"'{word}'" for word in field.labels)
    if isinstance(field, YesNo):
        return "boolean"
    return "number" if isinstance(field, Measured) else "string"


def field_lines(kind: Kind, name: str, field: Declared, ending: str = " | null;") -> list[str]:
    """One field, its unit or what it refers to beside it."""
    said = field.metadata.get("x-unit") or (f"a {field.metadata['x-ref']}" if "x-ref" in field.metadata else "")
    whole = f"  {name}{'?' if 'null' in ending else ''}: {type_of(kind, name, field)}{ending}" + (f" // {said}" if said else "")
    if len(whole) <= LONGEST_LINE:
        return [whole]
    lines = [f"  {name}?:"]
    for word in [*type_of(kind, name, field).split(" | "), "null;"]:
        if len(lines[-1]) + len(word) + 3 > LONGEST_LINE:
            lines.append("   ")
        lines[-1] += f" | {word}"
    return lines


def items(kind: Kind, name: str, field: Listed) -> str:
    """The type of a list's small records; what they require is there."""
    lines = [
        line for inner, one in field.inner.items() for line in field_lines(kind, inner, one, ";" if one.required else " | null;")
    ]  # fmt: skip
    return "\n".join([f"\n/** {kind.title}: one of {field.title} */", f"export interface {item_name(kind, name)} {{", *lines, "}\n"])


def interface(kind: Kind) -> str:
    lines = [line for name, field in kind.fields.items() for line in field_lines(kind, name, field)]
    of_lists = [items(kind, name, field) for name, field in kind.lists.items() if not field.is_bare]
    own = [f"\n/** {kind.title} */", f"export interface {kind.schema.__name__} extends Recorded {{", *lines, "}\n"]
    return "".join([*of_lists, "\n".join(own)])


def row_types(catalogue: Catalogue) -> str:
    """The whole file, kinds in the catalogue's order."""
    kinds = catalogue.kinds.values()
    rows = "\n".join(["\n/** The row of each kind, by the kind's name. */", "export interface Rows {",
                      *(f"  {kind.name}: {kind.schema.__name__};" for kind in kinds), "}\n"])  # fmt: skip
    return HEAD + "".join(interface(kind) for kind in kinds) + rows + FOOT


if __name__ == "__main__":
    TYPES_FILE.write_text(row_types(CATALOGUE), "utf-8")
