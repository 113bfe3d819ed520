"""Imports in storms: nothing lost, nothing doubled, and what nobody changed since follows its import, whatever came in which order."""

from __future__ import annotations

import os
from collections import Counter

from tests.sync.import_storm import ImportStorm, check_imports, with_imports
from tests.sync.invariants import check_invariants

SCHEDULES = int(os.environ.get("FIELDLOG_IMPORT_STORMS", "6"))
"""How many random schedules; `make soak` asks for more."""

FIRST = int(os.environ.get("FIELDLOG_STORM_SEED", "0"))
OPS = 120


def test_what_an_import_made_follows_it_in_any_storm() -> None:
    counted: Counter[str] = Counter()
    for seed in range(FIRST, FIRST + SCHEDULES):
        storm = ImportStorm(seed)
        storm.run(with_imports(seed, OPS))
        storm.calm()
        check_imports(storm)
        check_invariants(storm)
        counted += storm.counted
    if SCHEDULES >= 6:
        assert min(counted[name] for name in ("turned", "corrected", "followed", "stood")) >= 3, counted
