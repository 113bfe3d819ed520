"""A new day's parts are here before a phone asks for them."""

from __future__ import annotations

import threading
import time
from datetime import UTC, date, datetime, timedelta

from fieldlog.pack.ahead import days_due, make_ahead, make_day
from fieldlog.pack.kept import KeptParts
from fieldlog.pack.parts import state_part, windows_part

TODAY = date(2026, 11, 25)


def test_tomorrow_is_due_within_an_hour_of_midnight() -> None:
    evening = datetime(2026, 11, 25, 22, 59, tzinfo=UTC)
    assert days_due(evening) == [TODAY]
    assert days_due(evening + timedelta(minutes=1)) == [TODAY, TODAY + timedelta(days=1)]
    assert days_due(evening + timedelta(hours=2)) == [TODAY + timedelta(days=1)]


def test_what_was_made_ahead_is_what_phones_are_given(demo_programme) -> None:
    db, kept = demo_programme.db(), KeptParts()
    make_day(db, kept, TODAY, threading.Event())
    (site_id,) = db.conn.execute("SELECT record_id FROM site").fetchone()
    size = kept.size
    windows, state = windows_part(kept, db, site_id, TODAY, "crew"), state_part(kept, db, site_id, TODAY, "crew")
    assert kept.size == size == len(windows.packed) + len(state.packed), "nothing had to be made"


def test_the_server_makes_each_day_as_it_comes_and_stops_when_told(demo_programme, now) -> None:
    kept, stop = KeptParts(), threading.Event()
    made = threading.Thread(target=make_ahead, args=(demo_programme, kept, now, stop))
    made.start()
    until = time.monotonic() + 60
    while not kept.size and time.monotonic() < until:
        time.sleep(0.02)
    stop.set()
    made.join(timeout=60)
    assert kept.size
    assert not made.is_alive()


def test_a_stop_is_heard_between_two_sites(demo_programme) -> None:
    kept, stop = KeptParts(), threading.Event()
    stop.set()
    make_day(demo_programme.db(), kept, TODAY, stop)
    assert kept.size == 0
