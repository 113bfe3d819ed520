"""A purge begins the replica anew, and what it held before is removed."""

from __future__ import annotations

import time

from fieldlog.purging.doing import purge_aged
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.checking import RENEWS
from fieldlog.replica.place import generations, place_of
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme, setting
from replica.test_replica import PATIENCE_S, follow  # noqa: F401  (a fixture)
from tests.sync.lines import record_id

SITE = record_id("Alder Spit")


def test_what_was_purged_is_in_no_generation_of_the_replica_and_no_file_of_the_folder(full, phone, place, follow, tmp_path, now) -> None:  # noqa: F811
    phone.note("site", SITE, SITE)
    phone.note("person_private", record_id("contact"), SITE, person_id=record_id("Maria"), phone="555 0142")
    phone.sync()
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    purge_aged(full, CATALOGUE, [("person_private", record_id("contact"))], None, now())
    deadline = time.monotonic() + PATIENCE_S
    while setting(full.db(), RENEWS) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert generations(place_of(str(place), None)) == [2]
    assert replication.catch_up(PATIENCE_S)
    restore_backup(str(place), tmp_path / "restored", CATALOGUE, 0)
    files = [path for folder in (full.folder, tmp_path / "restored") for path in folder.rglob("*") if path.is_file()]
    assert len(files) > 4
    assert [path.name for path in files if b"555 0142" in path.read_bytes()] == []
    assert Programme(tmp_path / "restored").db().conn.execute("SELECT count(*) FROM purged").fetchone() == (1,)
