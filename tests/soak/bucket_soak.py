"""
A replica in a bucket: a server killed with its disk goes on elsewhere, and a bucket that goes away is waited for.

Run by `make soak`, which installs the bucket's server (moto) beside what `make test` needs.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import boto3
import pytest
from moto.server import ThreadedMotoServer

from fieldlog.doctor import examine
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.checking import tops_in_replica
from fieldlog.replica.place import PHOTOS, generations, place_of, remove_older
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme
from tests.soak.served import Server, WirePhone, check_all_arrived, come_to_rest, new_programme, now_ms
from tests.soak.whole_again import confirm_all

BUCKET = "s3://reef-unit-log/skein"
PATIENCE_S = 60


@pytest.fixture
def bucket(monkeypatch: pytest.MonkeyPatch) -> Iterator[ThreadedMotoServer]:
    """An S3 server of this machine with an empty bucket, named as every S3 client is told."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    for name, value in {
        "AWS_ENDPOINT_URL": f"http://{host}:{port}", "AWS_ACCESS_KEY_ID": "none", "AWS_SECRET_ACCESS_KEY": "none",
        "AWS_DEFAULT_REGION": "us-east-1", "AWS_EC2_METADATA_DISABLED": "true",
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    boto3.client("s3").create_bucket(Bucket="reef-unit-log")
    yield server
    server.stop()


def caught_up(folder: Path, entries: int, photos: int) -> None:
    """Wait until the bucket has it all."""
    deadline = time.monotonic() + PATIENCE_S
    place = place_of(BUCKET, None)
    while time.monotonic() < deadline:
        (finding,) = [one for one in examine(folder, CATALOGUE, now_ms()) if one.word == "replica"]
        if finding.ok and len(place.names(PHOTOS)) == photos:
            return
        time.sleep(0.5)
    raise AssertionError(finding.sentence)


def test_a_server_killed_with_its_disk_goes_on_elsewhere_from_the_bucket(bucket, tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", 1)
    server = Server(tmp_path / "programme", "--replica", BUCKET)
    server.start()
    told_at: list[float] = []
    for phone in phones * 4:
        phone.sow()
        phone.take_photo()
        phone.go_on(server.port)
        told_at.append(time.monotonic())
        time.sleep(0.2)
    come_to_rest(phones, server.port)
    caught_up(server.folder, 13, 12)
    late: list[WirePhone] = phones * 2
    for phone in late:
        phone.sow()
        phone.go_on(server.port)
    killed_at = time.monotonic()
    server.lose()
    restored = restore_backup(BUCKET, tmp_path / "elsewhere", CATALOGUE, now_ms())
    assert restored.backup.entries >= 1 + sum(1 for at in told_at if at < killed_at - 1)
    again = Server(tmp_path / "elsewhere", "--replica", BUCKET)
    again.start()
    confirm_all(again.folder)
    come_to_rest(phones, again.port)
    caught_up(again.folder, 19, 12)
    programme = Programme(again.folder)
    tops = tops_in_replica(programme)
    assert tops == dict(programme.db().execute("SELECT lane_id, top FROM lane").fetchall())
    programme.close()
    again.stop()
    place = place_of(BUCKET, None)
    assert generations(place) == [1, 2]
    remove_older(place, 2)
    assert generations(place) == [2]
    check_all_arrived(again.folder, phones)


def test_a_bucket_that_is_not_there_is_told_and_serving_goes_on(bucket, tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", 2)
    server = Server(tmp_path / "programme", "--replica", "s3://no-such-bucket/x")
    server.start()
    for phone in phones:
        phone.sow()
    come_to_rest(phones, server.port)
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        (finding,) = [one for one in examine(server.folder, CATALOGUE, now_ms()) if one.word == "replica"]
        if "no-such-bucket" in finding.sentence and "does not answer as it should" in finding.sentence:
            break
        time.sleep(0.5)
    assert not finding.ok
    assert "does not answer as it should" in finding.sentence, finding.sentence
    server.stop()
    check_all_arrived(server.folder, phones)
