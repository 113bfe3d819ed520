"""
Do the storms see anything? Each fault below is put into a copy of the code, and the storms must fail on it.

Run by `make soak`: python tests/soak/seeded_faults.py. Two faults are known to hide behind another guard and are
listed as doubled: each needs both guards gone to show.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
STORMS = "3000"

FAULTS: list[tuple[str, list[tuple[str, str, str]]]] = [
    ("the cursor's hash is not checked", [
        ("fieldlog/sync/send.py", "if _mark(db, cursor[0], scope) == cursor[1] else (0, True)", "if True else (0, True)")]),
    ("another line at a known number is taken for the known one", [
        ("fieldlog/sync/receive.py", "if entry_id != line_id(line):", "if False:")]),
    ("a cut last line is processed", [
        ("fieldlog/sync/receive.py", 'body.split(b"\\n")[:-1]', 'body.rstrip(b"\\n").split(b"\\n")')]),
    ("the phone's chain is not compared", [
        ("fieldlog/sync/receive.py", "if stored != header.previous:", "if False:")]),
    ("own lines are hidden from a pull even where the phone lacks them", [
        ("fieldlog/sync/send.py", "if lane == lane_id and number <= mine else", "if lane == lane_id else")]),
    ("the log's chain leaves out the effective stamp", [
        ("fieldlog/sync/receive.py", "h = chain(h, entry_id + eff)", "h = chain(h, entry_id)"),
        ("fieldlog/sync/release.py", "h = chain(h, entry_id + eff)", "h = chain(h, entry_id)")]),
    ("a far future clock is not clamped", [
        ("fieldlog/sync/clock.py", "if unpack(stamp)[0] <= now_ms + DRIFT_MS", "if True")]),
    ("private lines travel to all", [
        ("fieldlog/sync/send.py", '"crew": ("open", "crew")', '"crew": ("open", "crew", "leader")')]),
    ("the first head wins", [
        ("fieldlog/sync/merge.py", "value = heads[-1][2]", "value = heads[0][2]")]),
    ("a base that comes late does not stand back", [
        ("fieldlog/sync/merge.py", "if entry_id in waiting:", "if False:")]),
    ("a disagreement keeps its winner only", [
        ("fieldlog/sync/merge.py", "if len(ids) > 1:", "if False:")]),
    ("a line that is there already is logged again", [
        ("fieldlog/sync/receive.py", "lane.top - header.number + 1))", "0))")]),
    ("released lines keep no chain", [
        ("fieldlog/sync/release.py", "catalogue, h, ch, now_ms", "catalogue, h, '', now_ms")]),
    ("a lane's new owner needs no proof, and a fork goes unseen", [
        ("fieldlog/sync/receive.py", 'return "fork"\n    db', 'pass\n    db'),
        ("fieldlog/sync/receive.py", "if entry_id != line_id(line):", "if False:")]),
    ("what a fork cuts off is dropped where it counted as taken", [
        ("tests/sync/model_phone.py", "redo = lane[at - 1 :]", "redo = [x for x in lane[at - 1 :] if x.state == 'phone']")]),
    ("the phone applies a stale reply", [
        ("tests/sync/model_phone.py", 'if reply["rid"] != self.request_id:', "if False:")]),
    ("the phone keeps what a restored server forgot", [
        ("tests/sync/model_phone.py", 'for line in lane[reply["top"][0] :]:', "for line in []:")]),
    ("the phone ignores a reset", [
        ("tests/sync/model_phone.py", 'if reply["reset"]:', "if False:")]),
]  # fmt: skip


def survives(changes: list[tuple[str, str, str]]) -> bool:
    """Whether the storms pass on a copy of the code with these changes."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for part in ("fieldlog", "tests", "static", "demo_db"):
            shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("node_modules", "__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", copy)
        for name, right, wrong in changes:
            text = (copy / name).read_text()
            if right not in text:
                raise SystemExit(f"{name} no longer holds {right!r}: bring this list up to date.")
            (copy / name).write_text(text.replace(right, wrong))
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "tests/sync/test_receive.py", "tests/sync/test_storm.py"],
            cwd=copy, capture_output=True, env={**os.environ, "FIELDLOG_STORMS": STORMS}, check=False,
        )  # fmt: skip
        return done.returncode == 0


def main() -> None:
    """Print a line a fault; the exit status says whether any went unseen."""
    unseen = 0
    for name, changes in FAULTS:
        alive = survives(changes)
        unseen += alive
        print(f"{'NOT SEEN' if alive else 'seen    '}  {name}", flush=True)
    sys.exit(bool(unseen))


if __name__ == "__main__":
    main()
