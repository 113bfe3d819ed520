"""What a change of a record tells the rules: its row before and after."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Change:
    """One record that new entries touched; `before` is None where it was not on record yet."""

    kind: str
    record_id: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any]

    def values(self, column: str) -> Iterator[Any]:
        """What this column says now and said before, nulls left out."""
        for row in (self.before, self.after):
            if row is not None and row[column] is not None:
                yield row[column]

    def differs_in(self, *columns: str) -> bool:
        """Whether one of these columns says something else than before; a new record differs in all."""
        before = self.before
        return before is None or any(before[name] != self.after[name] for name in columns)
