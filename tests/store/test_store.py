"""The folder, its writer's lock, and what a full disk leaves behind."""

import errno
import multiprocessing
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from fieldlog.disk import disk_full_is_named
from fieldlog.errors import DatabaseDamaged, DiskFull, NoProgramme, ProgrammeBusy
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import (
    Programme,
    ProgrammeLock,
    create_programme,
    existing_programme,
    is_replaying,
    set_setting,
    setting,
    undo_in_memory,
    write,
)
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.sync.lines import keyed_lane

IN_FILES, IN_MEMORY = 0, 2
"""What SQLite answers to PRAGMA temp_store (sqlite.org/pragma.html); 0 is how it was built, which is files."""


def test_a_new_programme_has_a_name_and_room_for_photos_and_backups(tmp_path: Path) -> None:
    programme = create_programme(tmp_path / "spit", "Alder Spit")
    assert setting(programme.db(), "programme_name") == "Alder Spit"
    assert programme.photos_folder.is_dir() and programme.backups_folder.is_dir()


def test_a_folder_is_never_made_a_programme_twice(tmp_path: Path) -> None:
    create_programme(tmp_path, "Alder Spit")
    with pytest.raises(ProgrammeBusy, match="already holds a program"):
        create_programme(tmp_path, "Other")


def test_a_folder_without_a_programme_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(NoProgramme, match="init"):
        existing_programme(tmp_path)


def test_the_file_is_in_wal_with_full_synchronous_writes(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()
    assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert db.execute("PRAGMA synchronous").fetchone() == (2,)
    assert db.execute("PRAGMA busy_timeout").fetchone() == (5000,)


def test_each_thread_has_its_own_connection(tmp_path: Path) -> None:
    programme = create_programme(tmp_path, "Alder Spit")
    seen = []

    def look() -> None:
        seen.append(programme.db())
        programme.close()

    thread = threading.Thread(target=look)
    thread.start()
    thread.join()
    assert seen[0] is not programme.db()


def test_a_change_that_fails_leaves_nothing(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()
    with pytest.raises(KeyError), write(db):
        set_setting(db, "a", "1")
        raise KeyError
    assert setting(db, "a") is None


def test_inside_a_write_a_write_is_a_savepoint(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()
    with write(db):
        set_setting(db, "outer", "1")
        with pytest.raises(KeyError), write(db):
            set_setting(db, "inner", "1")
            raise KeyError
    assert (setting(db, "outer"), setting(db, "inner")) == ("1", None)


def test_two_writers_wait_for_each_other(tmp_path: Path) -> None:
    programme = create_programme(tmp_path, "Alder Spit")

    def count_up() -> None:
        db = programme.db()
        for _ in range(50):
            with write(db):
                set_setting(db, "count", str(int(setting(db, "count") or 0) + 1))
        programme.close()

    threads = [threading.Thread(target=count_up) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert setting(programme.db(), "count") == "200"


def _try_lock(folder: Path, answer: "multiprocessing.Queue[str]") -> None:
    try:
        with ProgrammeLock(folder):
            answer.put("held")
    except ProgrammeBusy as fault:
        answer.put(fault.sentence)


def ask_another_process(folder: Path) -> str:
    context = multiprocessing.get_context("spawn")
    answer: multiprocessing.Queue[str] = context.Queue()
    process = context.Process(target=_try_lock, args=(folder, answer))
    process.start()
    said = answer.get(timeout=30)
    process.join()
    return said


def test_a_second_server_on_the_same_folder_is_told_so(tmp_path: Path) -> None:
    with ProgrammeLock(tmp_path):
        assert "in use by another server" in ask_another_process(tmp_path)
    assert ask_another_process(tmp_path) == "held"


def test_a_full_disk_is_a_sentence_and_nothing_half_written(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()
    pages = db.execute("PRAGMA page_count").fetchone()[0]
    db.execute(f"PRAGMA max_page_count = {pages + 2}")  # SQLite then answers as on a full disk: SQLITE_FULL
    with pytest.raises(DiskFull, match="disk is full"), write(db):
        set_setting(db, "small", "1")
        set_setting(db, "large", "x" * 200_000)
    assert setting(db, "small") is None
    db.execute("PRAGMA max_page_count = 1000000")
    set_setting(db, "small", "1")
    assert setting(db, "small") == "1"


def test_what_a_statement_may_undo_is_kept_in_memory_where_phones_push_and_in_files_where_a_replay_sorts(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()

    def kept_in() -> int:
        return int(db.execute("PRAGMA temp_store").fetchone()[0])

    with write(db):
        undo_in_memory(db)
        assert kept_in() == IN_FILES, "within a transaction it is left as it is, where SQLite takes no change"
    assert kept_in() == IN_FILES
    undo_in_memory(db)
    assert kept_in() == IN_MEMORY
    other = Programme(tmp_path).db()
    assert other.execute("PRAGMA temp_store").fetchone()[0] == IN_FILES
    with pytest.raises(KeyError):
        receive(other, keyed_lane("a phone").body(), CATALOGUE, lambda: {}["nobody"], lambda: 5)
    assert other.execute("PRAGMA temp_store").fetchone()[0] == IN_MEMORY
    other.conn.close()
    made = open_programme(tmp_path, CATALOGUE, 5).db()
    assert made.execute("PRAGMA temp_store").fetchone()[0] == IN_FILES, "who opens a programme and makes its tables anew sorts on the disk"
    made.conn.close()


@pytest.mark.parametrize("name", ["lock", "photos", "backups"])
def test_what_stands_in_the_place_of_a_programmes_parts_is_told_in_a_sentence(tmp_path: Path, name: str) -> None:
    create_programme(tmp_path, "Alder Spit").close()
    if name == "lock":
        (tmp_path / name).mkdir()
        with pytest.raises(ProgrammeBusy, match="lock is not a file"), ProgrammeLock(tmp_path):
            pass
        return
    (tmp_path / name).rmdir()
    (tmp_path / name).write_bytes(b"")
    with pytest.raises(DatabaseDamaged, match=f"{name} is not a folder"):
        existing_programme(tmp_path)
    (tmp_path / name).unlink()
    (tmp_path / name).symlink_to(tmp_path / "not mounted")
    with pytest.raises(DatabaseDamaged, match="Is its disk mounted") as told:
        existing_programme(tmp_path)
    assert "keeps in" not in told.value.sentence, "no backup is there"


def test_a_file_or_a_link_to_nothing_in_the_place_of_the_folder_is_told_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"somebody's")
    (tmp_path / "link").symlink_to(tmp_path / "not mounted")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(NoProgramme, match=r"not a folder.*Move that aside, or name another folder"):
            create_programme(folder, "Alder Spit")
    with pytest.raises(NoProgramme, match="Is its disk mounted"):
        create_programme(tmp_path / "link", "Alder Spit")
    assert (tmp_path / "file").read_bytes() == b"somebody's"


def test_a_folder_in_the_place_of_the_replays_lock_is_no_replay(tmp_path: Path) -> None:
    (tmp_path / "replaying").mkdir()
    assert not is_replaying(tmp_path)


@pytest.mark.parametrize(("number", "says"), [(errno.ENOSPC, "disk is full"), (errno.EDQUOT, "disk is full"), (errno.EFBIG, "limit")])
def test_a_file_that_may_not_grow_is_a_full_disk_whatever_stands_in_the_way(number: int, says: str) -> None:
    with pytest.raises(DiskFull, match=says), disk_full_is_named():
        raise OSError(number, "no")


def test_opening_a_programme_again_leaves_the_locks_of_those_who_have_it_open(tmp_path: Path) -> None:
    """Another process that closes the file must not take itself for the last, and remove what this one still writes to."""
    create_programme(tmp_path, "Alder Spit").close()
    db = existing_programme(tmp_path).db()
    set_setting(db, "before", "1")
    existing_programme(tmp_path).close()
    other = "import sys; from pathlib import Path; from fieldlog.store import *; p = Programme(Path(sys.argv[1])); set_setting(p.db(), 'x', '1'); p.close()"
    subprocess.run([sys.executable, "-c", other, str(tmp_path)], check=True)
    assert (tmp_path / "fieldlog.sqlite-wal").exists()
    set_setting(db, "after", "1")
    look = Programme(tmp_path)
    assert [setting(look.db(), name) for name in ("before", "x", "after")] == ["1", "1", "1"]
