"""
Levels by rod and level from a mark, along a line or to points: what was read back and ahead, from which the app works out levels.

Each sight is one rod: `back` on a known or turned point, `ahead` on the next turning point, `point` on ground that is wanted, `close` on
the mark that the run ends at. The levels themselves are never stored: they follow from the sights (`fieldlog/outcomes`).
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Ref, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.places import level, level_datum
from fieldlog.records.reading_fields import note, own_values, read_at
from fieldlog.records.times import time_known

SIGHTS = {"back": "Back", "ahead": "Ahead, turning", "point": "On a point", "close": "Ahead, on the last mark"}


class LevelRun(Record):
    plot_id = Ref("Transect", "plot", description="Where it is a profile along one")
    read_at = read_at()
    time_known = time_known()
    start_mark_id = Ref("Begins on mark", "control_mark", required=True)
    end_mark_id = Ref("Ends on mark", "control_mark", description="The first one again, or another")
    start_level_m = level("Level of the first mark", required=True)
    end_level_m = level("Level of the last mark")
    level_datum = level_datum(required=True)
    run_length_m = Number("Length of the run, there and back", unit="m", least=0, most=20_000, plausible=(5, 3000))
    sights = Listed(
        "Sights",
        {
            "sight": Choice("Sight", SIGHTS, required=True),
            "rod_m": Number("Rod", unit="m", least=-1, most=10, plausible=(0, 5), required=True),
            "distance_m": Number("Along the line", unit="m", least=-1000, most=5000),
            "at": Text("At", 60),
        },
        least=1, most=500, required=True,
    )  # fmt: skip
    own_values = own_values()
    note = note()
    in_visit = in_visit()


LEVEL_RUN = Kind("level_run", "Level run", LevelRun, writers={"crew", "lead"})
