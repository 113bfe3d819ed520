"""One file that came in: one entry of its removes or restores all records that it made and nobody has changed since."""

from __future__ import annotations

from fieldlog.records.fields import Instant, Text, Whole
from fieldlog.records.kind import Kind, Record


class Import(Record):
    file_name = Text("File", 120, required=True)
    of_kind = Text("Kind of record", 40, required=True)
    records_made = Whole("Records", least=0, most=10_000_000, required=True)
    imported_at = Instant("Imported at", required=True)


IMPORT = Kind("import", "Import", Import, writers={"lead"}, site_bound=False)
