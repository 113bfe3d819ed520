"""
Do the storms see anything? Each fault below is put into a copy of the code, and the storms, or the rare cases by hand, must fail on it.

Run by `make soak`: python tests/sync/seeded_faults.py, or with part of a fault's name for some of them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
STORMS, WATCHED_STORMS = "1000", "400"

CASES = [f"tests/sync/test_{name}.py" for name in ("lanes", "slices", "receive", "season")]
"""What is too rare for a storm is held by hand."""

RECEIVE, SEND, READING = "fieldlog/sync/receive.py", "fieldlog/sync/send.py", "fieldlog/sync/reading.py"
JUDGE, LANES, RELEASE, FIXES = (f"fieldlog/sync/{name}.py" for name in ("judge", "lanes", "release", "fixes"))
HISTORIES, PHONE = "fieldlog/flags/histories.py", "tests/sync/model_phone.py"

FAULTS: list[tuple[str, list[tuple[str, str, str]]]] = [
    # Who may read.
    ("the lane that asks is given its text, whoever asks", [
        (SEND, "return bool(row[6]) and not", "return bool(row[6] or row[4] == asked.lane_id) and not"),
        (RECEIVE, "own = header.lane_id if is_proven(db, header, device) else None", "own = header.lane_id")]),
    ("a lane that is not proven is told its news", [
        (RECEIVE, "own = header.lane_id if is_proven(db, header, device) else None", "own = header.lane_id")]),
    ("a revoked device is given what it was", [(SEND, "if device.revoked or device.unconfirmed:", "if False:")]),
    ("the cursor's hash is not checked", [(SEND, "if cursor_mark(db, cursor[0], scope, asked.past, asked.purges) == cursor[1]:", "if True:")]),
    ("own lines are hidden from a pull even where the phone lacks them", [
        (SEND, "row[4] == asked.lane_id and row[5] <= asked.mine", "row[4] == asked.lane_id")]),
    ("private lines travel to all", [(READING, '"crew": ("open", "crew")', '"crew": ("open", "crew", "leader", "medical")')]),
    # Whose lane.
    ("a key of any kind will do", [(LANES, "header.key is not None and lane_name(header.key) == header.lane_id", "header.key is not None")]),
    ("no key is needed", [(LANES, "return header.key is not None and lane_name(header.key) == header.lane_id", "return True")]),
    ("an older lane is anybody's", [(LANES, "return row is None or row[0] == device.device_id", "return True")]),
    ("no incident", [(LANES, "if has_lines or header.number == 1 or stands < header.number - 1:", "if False:")]),
    ("a lane that is not proven stands as far as its top, held lines too", [
        (LANES, "return header.number - 1 if held is None else min(header.number, held) - 1", "return header.number - 1")]),
    # Who may write.
    ("the role is not asked", [(JUDGE, "if device.role not in kind.writers or (", "if (")]),
    ("the claimed site is believed", [(JUDGE, "(first is not None and first.site_id != entry.site_id)", "False")]),
    ("a site's record under any site", [(JUDGE, "if entry.site_id != entry.record_id:", "if False:")]),
    ("a name is not held against its site", [(JUDGE, "not name_fits(entry.record_id, entry.site_id) or ", "")]),
    ("anybody writes lines of the whole programme", [
        (JUDGE, 'if entry.site_id is None and device.role != "lead"', "if False"),
        (JUDGE, "device.sites is not None and entry.site_id not in device.sites", "device.sites and entry.site_id and entry.site_id not in device.sites")]),
    ("the site is not asked on a write", [(JUDGE, "if device.sites is not None and entry.site_id not in device.sites:", "if False:")]),
    ("crew says that nobody is a minor", [(JUDGE, "if guarded and not self._makes(kind, entry, guarded, device):", "if False:")]),
    ("whatever names nothing makes a person anew", [(JUDGE, "return self._standing.is_before_first(entry, device) or all(", "return True or all(")]),
    ("what makes a person is held after somebody's change of them", [(JUDGE, "return self._standing.is_before_first(entry, device) or all(", "return all(")]),
    ("a copy of what made a person is held", [(JUDGE, "self._standing.was_begun_with(entry, name) for", "False for")]),
    ("crew removes what others made", [(JUDGE, "not first.is_of(device)", "False")]),
    ("half a record is made", [(JUDGE, "return None if is_whole else", "return None if True else")]),
    ("what is required is emptied", [(JUDGE, "if empty is not None:", "if False:")]),
    ("a fix hides anybody's line", [(FIXES, "if is_own or (", "if True or (")]),
    ("a fix by a lead of another site", [(FIXES, 'device.role == "lead" and may_lead_line(device, holder.sites, line)', 'device.role == "lead"')]),
    ("a revoked device's line is released", [(RELEASE, "if device is None or device.revoked:", "if device is None:")]),
    ("an unconfirmed device's line is released", [(RELEASE, "        if device.unconfirmed:\n", "        if False:\n")]),
    ("a revoked device writes", [(RECEIVE, "    if part.device.revoked:\n        return judge.REVOKED", "    if False:\n        return judge.REVOKED")]),
    ("a private line without its random key", [(JUDGE, 'if kind.privacy in PRIVATE and entry.random_key is None:', "if False:")]),
    ("checks of a unit bind across sites", [
        (HISTORIES, 'key = (unit["record_id"], site_id)', 'key = unit["record_id"]'),
        (HISTORIES, 'found[row[column], row["site_id"]].append(row)', "found[row[column]].append(row)")]),
    # Slices.
    ("the role is asked once a request", [(RECEIVE, "        device = who()\n        part = Slice(", "        device = _once(header, who)\n        part = Slice("),
        (RECEIVE, "def _slice(", "_asked: dict[int, Device] = {}\n\n\ndef _once(header: Header, who: Who) -> Device:\n    key = id(header)\n    if key not in _asked:\n        _asked[key] = who()\n    return _asked[key]\n\n\ndef _slice(")]),
    ("receipts of the last slice only", [(RECEIVE, "acks += part.acks", "acks = part.acks")]),
    ("lines are taken though what comes before them differs", [
        (RECEIVE, "            part.is_last = part.err is not None\n            if part.err is None:\n", "            if True:\n")]),
    # What a line and a lane are.
    ("another line at a known number is taken for the known one", [(RECEIVE, "if row is None or row[0] != line_id(line):", "if row is None:")]),
    ("a cut last line is processed", [(RECEIVE, 'body.split(b"\\n")[:-1]', 'body.rstrip(b"\\n").split(b"\\n")')]),
    ("the phone's chain is not compared", [(RECEIVE, "if stored != previous:", "if False:"), (RECEIVE, "lane.ch = stored\n", "lane.ch = stored or ''\n")]),
    ("the log's chain leaves out the effective stamp", [
        (RECEIVE, "h = chain(h, entry_id + eff)", "h = chain(h, entry_id)"),
        (RELEASE, "h = chain(h, entry_id + eff)", "h = chain(h, entry_id)")]),
    ("a far future clock is not clamped", [("fieldlog/sync/clock.py", "if unpack(stamp)[0] <= now_ms + DRIFT_MS", "if True")]),
    ("the first head wins", [("fieldlog/sync/merge.py", "value = heads[-1][2]", "value = heads[0][2]")]),
    ("an entry of a record that was not sent yet comes alone", [
        (SEND, "rows = unsent_before(reading, rows, start, past)", "pass")]),
    ("the past goes on below what was sent", [("fieldlog/sync/past.py", "        past = seq\n", "        past = seq - 1\n")]),
    ("the cursor does not say how far back the phone has come", [
        (SEND, 'until = "" if past is None else f"|past {past}"', 'until = ""')]),
    ("a line that is there already is logged again", [(RECEIVE, "part.lane.top - number + 1", "0")]),
    ("released lines keep no chain", [(RELEASE, "catalogue, h, ch, now_ms", "catalogue, h, '', now_ms")]),
    ("the phone applies a stale reply", [(PHONE, 'if reply["rid"] != self.request_id:', "if False:")]),
    ("the phone keeps what a restored server forgot", [(PHONE, 'for line in lane[reply["top"][0] :]:', "for line in []:")]),
    ("a short answer counts for the whole body", [(PHONE, 'return bool(reply["more"] or reply["err"] or unsent)', 'return bool(reply["more"] or reply["err"])')]),
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
            [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *CASES, "tests/sync/test_watched_storm.py", "tests/sync/test_storm.py"],
            cwd=copy, capture_output=True, check=False,
            env={**os.environ, "PYTHONPATH": folder, "FIELDLOG_STORMS": STORMS, "FIELDLOG_WATCHED_STORMS": WATCHED_STORMS},
        )  # fmt: skip
        return done.returncode == 0


def main() -> None:
    """Print a line a fault; the exit status says whether any went unseen."""
    unseen = 0
    asked = " ".join(sys.argv[1:])
    for name, changes in [fault for fault in FAULTS if asked in fault[0]]:
        alive = survives(changes)
        unseen += alive
        print(f"{'NOT SEEN' if alive else 'seen    '}  {name}", flush=True)
    sys.exit(bool(unseen))


if __name__ == "__main__":
    main()
