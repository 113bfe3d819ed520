"""The server's one queue of records to work out, each in a child."""

from __future__ import annotations

from fieldlog.errors import FieldlogError
from fieldlog.gauge.kept import waiting, work_out
from fieldlog.one_by_one import OneByOne
from fieldlog.store import Programme


class Works(OneByOne[str]):
    """Records that wait to be worked out."""

    def __init__(self, programme: Programme) -> None:
        super().__init__("water-level records", self._work_out, programme.close)
        self._programme = programme

    def resume(self) -> None:
        """Take up what a stopped server left."""
        for water_id in waiting(self._programme.db()):
            self.want(water_id)

    def _work_out(self, water_id: str) -> None:
        try:
            work_out(self._programme.db(), water_id)
        except FieldlogError:
            return  # the record itself keeps the sentence, and the lead reads it there
