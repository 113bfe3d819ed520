"""Which plots a plan takes along: by the days between readings, not what was read on this visit, not what is no longer there."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.plan.due import is_plot_due, what_is_due
from fieldlog.plan.minutes import Learned
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
SITE = "site-1"


PLOTS = json.loads((Path(__file__).parents[1] / "vectors" / "plan_due.json").read_text("utf-8"))["plots"]
ALL = """async (plots) => {
  const { isPlotDue } = await import('/views/plot-facts.js');
  const now = Date.parse('2026-11-25T06:00:00Z');
  return plots.map((one) => isPlotDue({ newestMs: one.read_days_ago === null ? null : now - one.read_days_ago * 86400e3,
    everyDays: one.every_days, lastEvent: one.last_event }, now));
}"""


def test_which_plot_is_due_is_the_worked_cases() -> None:
    newest = [None if one["read_days_ago"] is None else NOW - timedelta(days=one["read_days_ago"]) for one in PLOTS]
    assert [is_plot_due(read, one["every_days"], one["last_event"], NOW) for read, one in zip(newest, PLOTS, strict=True)] == [one["is_due"] for one in PLOTS]


@pytest.mark.browser
def test_the_phone_says_the_same(modules_page) -> None:
    assert modules_page.evaluate(ALL, PLOTS) == [one["is_due"] for one in PLOTS]


def put(db: Database, kind: str, **values: Any) -> str:
    record_id = str(uuid.uuid4())
    row = {"record_id": record_id, "site_id": SITE, "deleted": 0, **values}
    db.conn.execute(f'INSERT INTO "{kind}"({", ".join(row)}) VALUES ({", ".join("?" * len(row))})', list(row.values()))
    return record_id


def days_ago(days: float) -> str:
    return (NOW - timedelta(days=days)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def due_labels(db: Database, **asked: Any) -> list[str]:
    due = what_is_due(db, SITE, NOW, Learned(4, 0), samples=True, **{"everything": False, **asked})
    return [stop.tag for stop in due if stop.kind == "plot"]


def test_plots_come_along_by_their_days_between_readings(tmp_path) -> None:
    create_programme(tmp_path / "programme", "Skein Bay").close()
    programme = open_programme(tmp_path / "programme", CATALOGUE, int(NOW.timestamp() * 1000))
    db = programme.db()
    put(db, "plot", label="never read", plot_type="stake", read_every_days=30)
    lately, long_ago = (put(db, "plot", label=label, plot_type="quadrat", read_every_days=100) for label in ("read lately", "read long ago"))
    put(db, "cover_reading", plot_id=lately, read_at=days_ago(74))
    put(db, "cover_reading", plot_id=long_ago, read_at=days_ago(75))
    put(db, "cover_reading", plot_id=long_ago, read_at=days_ago(1), **{"deleted": 1})
    put(db, "stake_reading", plot_id=put(db, "plot", label="no interval", plot_type="stake"), read_at=days_ago(0.01))
    point = put(db, "plot", label="photo point", plot_type="photo_point", read_every_days=100)
    put(db, "photo", of_kind="plot", of_id=point, taken_at=days_ago(3))
    lost = put(db, "plot", label="lost", plot_type="stake")
    for event, at in (("set", 400), ("lost", 9)):
        put(db, "plot_event", plot_id=lost, event=event, event_at=days_ago(at))
    assert due_labels(db) == ["never read", "no interval", "read long ago"]
    assert due_labels(db, everything=True) == ["never read", "no interval", "photo point", "read lately", "read long ago"]
    begun = NOW - timedelta(hours=1)
    assert due_labels(db, begun=begun) == ["never read", "read long ago"]
    brought = {stop.tag: stop.bring for stop in what_is_due(db, SITE, NOW, Learned(4, 0), samples=True, everything=True)}
    assert brought["read lately"] == ("frame, pin and ruler",) and brought["never read"] == ("folding rule for the stakes",)
    programme.close()
