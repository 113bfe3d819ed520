"""Storms with purges: nothing of what was purged comes back, whoever held it and whatever was restored, and all else stands."""

from __future__ import annotations

import json
import os

import pytest

from fieldlog.sync.purges import purged_record
from tests.sync.invariants import check_invariants
from tests.sync.model_purges import key_of
from tests.sync.purge_storm import PurgingStorm, purging_ops

SCHEDULES = int(os.environ.get("FIELDLOG_PURGE_STORMS", "30"))
"""How many random schedules; FIELDLOG_PURGE_STORMS asks for more."""

OPS = 120


@pytest.mark.parametrize("first", range(0, SCHEDULES, 15))
def test_any_storm_with_purges_ends_with_all_alike_and_nothing_of_what_was_purged(first: int) -> None:
    for seed in range(first, min(first + 15, SCHEDULES)):
        storm = PurgingStorm(seed)
        storm.run(purging_ops(seed, OPS))
        storm.calm()
        check_invariants(storm)
        check_nothing_came_back(storm)


def check_nothing_came_back(storm: PurgingStorm) -> None:
    db = storm.server.db
    texts = [(entry_id, eff, line) for entry_id, eff, line in db.execute("SELECT entry_id, eff, line FROM log WHERE length(line) > 0").fetchall()]
    for phone in storm.phones:
        texts += [(line.entry_id, line.eff or json.loads(line.text)["s"], line.text) for lane in phone.lanes.values() for line in lane
                  if line.text is not None and key_of(line.text)]  # fmt: skip
        texts += [(entry_id, eff, text.encode()) for entry_id, (eff, text) in phone.others.items()]
    for entry_id, eff, text in texts:
        purged = purged_record(db, *(key_of(text) or ("", "")))
        assert purged is None or not purged.covers(entry_id, eff), text
