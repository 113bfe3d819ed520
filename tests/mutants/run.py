"""
Do the tests bite? Faults drawn from six rooms of the code, and faults planted by hand in the JavaScript, each against its tests.

Run by `make mutants`: python tests/mutants/run.py [--seeds A B C] [--rooms flags tides scripts] [--count 60]
Seeds are drawn when it starts and printed; the same seeds draw the same faults from the same code. A fault that changes
nothing anyone can see counts as one that survived. Ends with 1 where fewer than 85 in 100 are seen.
"""

from __future__ import annotations

import argparse
import resource
import secrets
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.mutants.drawing import Mutant, draw  # noqa: E402
from tests.mutants.planted import PLANTED, Planted  # noqa: E402
from tests.mutants.reasons import reason_for  # noqa: E402
from tests.mutants.trying import (  # noqa: E402
    Running,
    Sound,
    SoundRun,
    Told,
    copy_tree,
    ended,
    heard,
    load_once,
    share_byte_code,
    start,
    start_sound,
)

TESTS_OF = {
    "flags": ["tests/flags"],
    "survey": ["tests/survey"],
    "windows": ["tests/windows", "tests/commands/test_site_windows.py", "tests/access/test_calendar_address.py"],
    "tides": ["tests/tides"],
    "access": ["tests/access", "tests/backup/test_confirming.py"],
    "sync": [
        "tests/sync", "tests/photos", "tests/backup/test_confirming.py", "tests/access/test_first_entries.py",
        "tests/access/test_photos_of_others.py",
    ],
}
SCRIPTS = "scripts"
KEPT = "the_sound_file"
COUNT, SEEDS, AT_ONCE = 400, 3, 2
LEAST_SEEN = 0.85
PLANTED_WITHIN_S = 240.0
QUICK_DISK = Path("/dev/shm")
"""Programmes that tests make are thrown away: writing them to a disk that waits would take most of the time."""


@dataclass(frozen=True)
class Trial:
    """One fault, and what to run on it."""

    room: str
    file: str
    line: int
    what: str
    text: str
    tests: list[str]
    within_s: float


def shares(count: int, parts: int) -> list[int]:
    """A count in nearly equal whole parts."""
    return [count // parts + (k < count % parts) for k in range(parts)]


def drawn_trials(root: Path, rooms: list[str], count: int, seeds: list[int], sound: dict[str, Sound]) -> Iterator[Trial]:
    """The same number for each room, and in it for each seed."""
    for room, of_room in zip(rooms, shares(count, len(rooms)), strict=True):
        known: set[tuple[str, str]] = set()
        for seed, share in zip(seeds, shares(of_room, len(seeds)), strict=True):
            fresh = [one for one in draw(root, room, of_room, seed) if (one.file, one.text) not in known][:share]
            known |= {(one.file, one.text) for one in fresh}
            yield from (_of_mutant(room, one, sound[room]) for one in fresh)


def _of_mutant(room: str, mutant: Mutant, sound: Sound) -> Trial:
    what = f"{mutant.kind}: `{mutant.was}` became `{mutant.is_now}`"
    tests = sound.tests_for(mutant.file, mutant.line)
    return Trial(room, mutant.file, mutant.line, what, mutant.text, tests, sound.within_s(tests))


def _of_planted(one: Planted) -> Trial:
    sound = (ROOT / one.file).read_text("utf-8")
    line = sound.split(one.right)[0].count("\n") + 1
    what = f"planted: `{one.right}` became `{one.wrong}`"
    return Trial(SCRIPTS, one.file, line, what, sound.replace(one.right, one.wrong), list(one.tests), PLANTED_WITHIN_S)


def sound_runs(copies: list[Path], rooms: list[str]) -> dict[str, Sound]:
    """The sound runs of rooms, one in each copy at a time."""
    waiting, found = rooms[::-1], {}
    at_work: dict[Path, tuple[str, SoundRun]] = {}
    while waiting or at_work:
        for copy in copies:
            if copy in at_work:
                room, run = at_work[copy]
                told = ended(run.running)
                if told is None:
                    continue
                found[room] = heard(run, told)
                del at_work[copy]
            if waiting:
                room = waiting.pop()
                at_work[copy] = room, start_sound(copy, TESTS_OF[room])
        time.sleep(0.02)
    share_byte_code(copies)
    return found


def try_all(trials: list[Trial], copies: list[Path]) -> list[tuple[Trial, Told]]:
    """Try the faults, one in each copy at a time, and print each as it ends."""
    began = time.monotonic()
    waiting, tried = trials[::-1], []
    at_work: dict[Path, tuple[Trial, Running]] = {}
    while waiting or at_work:
        for copy in copies:
            if copy in at_work:
                trial, running = at_work[copy]
                told = ended(running)
                if told is None:
                    continue
                shutil.copy2(copy / KEPT, copy / trial.file)
                tried.append((trial, told))
                print(f"{time.monotonic() - began:6.0f} s  {said(trial, told)}", flush=True)
                del at_work[copy]
            if waiting:
                trial = waiting.pop()
                shutil.copy2(copy / trial.file, copy / KEPT)
                (copy / trial.file).write_text(trial.text, "utf-8")
                at_work[copy] = trial, start(copy, ["-x", *trial.tests], trial.within_s, browser=trial.room == SCRIPTS)
        time.sleep(0.02)
    return tried


def said(trial: Trial, told: Told) -> str:
    """A trial in a line."""
    mark = "killed  " if told.is_killed else "SURVIVED"
    return f"{mark}  {trial.room:8} {trial.file}:{trial.line}  {trial.what}  ({told.how}, {len(trial.tests)} tests, {told.processor_s:.1f} s)"


def report(tried: list[tuple[Trial, Told]]) -> bool:
    """Print what survived with its reason, and the shares. Returns whether enough was seen."""
    print("\nSurvivors:")
    for trial, told in tried:
        if not told.is_killed:
            print(f"  {trial.file}:{trial.line}  {trial.what}\n      {reason_for(trial.file, trial.line, trial.what)}")
    killed = Counter(trial.room for trial, told in tried if told.is_killed)
    everything = Counter(trial.room for trial, _ in tried)
    print()
    for room, total in everything.items():
        print(f"{room:10} {killed[room]:4} of {total:4} seen  {killed[room] / total:6.1%}")
    groups = [[room for room in everything if (room == SCRIPTS) is scripts] for scripts in (False, True)]
    enough = True
    for name, rooms in zip(("Python", "JavaScript"), groups, strict=True):
        if rooms:
            part, whole = sum(killed[room] for room in rooms), sum(everything[room] for room in rooms)
            enough &= part / whole >= LEAST_SEEN
            print(f"{name:10} {part:4} of {whole:4} seen  {part / whole:6.1%}  (at least {LEAST_SEEN:.0%})")
    return enough


def main() -> None:
    """Draw, try and report."""
    asked = argparse.ArgumentParser(description="Faults put into the code on purpose, each against its tests.")
    asked.add_argument("--seeds", nargs="+", type=int, help="draw the faults of an earlier run again")
    asked.add_argument("--rooms", nargs="+", choices=[*TESTS_OF, SCRIPTS], default=[*TESTS_OF, SCRIPTS])
    asked.add_argument("--count", type=int, default=COUNT, help="drawn faults in all")
    given = asked.parse_args()
    seeds = given.seeds or [secrets.randbelow(1_000_000) for _ in range(SEEDS)]
    rooms = [room for room in given.rooms if room != SCRIPTS]
    print(f"Seeds: {' '.join(map(str, seeds))}", flush=True)
    load_once()
    folder = Path(tempfile.mkdtemp(prefix="mutants-", dir=QUICK_DISK if QUICK_DISK.is_dir() else None))
    try:
        copies = [copy_tree(folder / f"copy {n}") for n in range(AT_ONCE)]
        began = time.monotonic()
        sound = sound_runs(copies, rooms)
        trials = list(drawn_trials(copies[0], rooms, given.count, seeds, sound)) if rooms else []
        trials += [_of_planted(one) for one in PLANTED] if SCRIPTS in given.rooms else []
        print(f"{len(trials)} faults; sound runs: " + ", ".join(f"{room} {sum(one.seconds.values()):.0f} s" for room, one in sound.items()), flush=True)
        tried = try_all(trials, copies)
        enough = report(tried)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"Took {time.monotonic() - began:.0f} s, and {used.ru_utime + used.ru_stime:.0f} s of processors.")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    sys.exit(not enough)


if __name__ == "__main__":
    main()
