"""A hundred phones come back from the shore within ten seconds, each with a hundred checks; beside them small pushes."""

from __future__ import annotations

import http.client
import statistics
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from tests.bench.bench_server import Server
from tests.bench.figures import Figure
from tests.bench.lanes import Written, body
from tests.bench.large import Phone, phone_of, served, wait_for_backup
from tests.bench.story import PHONES as STORY_PHONES

PHONES, CHECKS, WITHIN_S = 100, 100, 10.0
PATIENCE_S = 120.0
SMALL_EVERY_S = 0.5
SMALL_OFTEN_S = 0.05


@dataclass
class Crowd:
    """What all phones met, together."""

    took_s: list[float] = field(default_factory=list)
    small_s: list[float] = field(default_factory=list)
    answers: Counter[str] = field(default_factory=Counter)
    taken: int = 0


def crowd(folder: Path) -> list[Figure]:
    """From the first try to the last receipt, 503 and other tries included."""
    met = Crowd()
    with served(folder) as (server, told):
        wait_for_backup(server)
        dice = Random(11)
        phones, small = _everybody(server, told, PHONES)
        for phone in phones:
            phone.checks(CHECKS)
        over = threading.Event()
        beside = threading.Thread(target=_small_pushes, args=(small, met, over, SMALL_EVERY_S))
        all_phones = [threading.Thread(target=_come_back, args=(phone, dice.random() * WITHIN_S, met)) for phone in phones]
        beside.start()
        for one in all_phones:
            one.start()
        for one in all_phones:
            one.join()
        over.set()
        beside.join()
        peak_mb = server.peak_mb()
    wanted = len(phones) * CHECKS
    took, small_s = sorted(met.took_s), sorted(met.small_s)
    said = f"p50 {statistics.median(took):.2f} s, longest {took[-1]:.2f} s; answers {dict(met.answers)}"
    return [
        Figure(f"{len(phones)} phones x {CHECKS} checks: taken", met.taken, wanted, "", said, at_least=True),
        Figure("  refused", sum(count for answer, count in met.answers.items() if answer not in ("200", "503", "429")), 0, ""),
        Figure("  p99 from first try to last receipt", took[int(len(took) * 0.99) - 1], 8, "s"),
        Figure("  small pushes beside it, p95", small_s[int(len(small_s) * 0.95) - 1] * 1000, 500, "ms", f"{len(small_s)} of 1 to 5 checks"),
        Figure("  server memory, highest", peak_mb, 200, "MB"),
    ]


def behind(folder: Path, bodies: int, checks: int, limit_ms: float) -> list[Figure]:
    """How long small pushes wait while so many large bodies are worked, each tried again after a 503 until all of it is taken."""
    met, waited = Crowd(), Crowd()
    with served(folder) as (server, told):
        wait_for_backup(server)
        phones, small = _everybody(server, told, bodies)
        for phone in phones:
            phone.checks(checks)
        over = threading.Event()
        beside = threading.Thread(target=_small_pushes, args=(small, waited, over, SMALL_OFTEN_S))
        all_phones = [threading.Thread(target=_come_back, args=(phone, 0.0, met)) for phone in phones]
        for one in (beside, *all_phones):
            one.start()
        for one in all_phones:
            one.join()
        over.set()
        beside.join()
    small_s = sorted(waited.small_s)
    said = f"{len(small_s)} of 1 to 5 checks, longest {small_s[-1] * 1000:.0f} ms; answers {dict(met.answers)}"
    return [Figure(f"small push behind {len(phones)} x {checks} checks, p95", small_s[int(len(small_s) * 0.95) - 1] * 1000, limit_ms, "ms", said)]


def _everybody(server: Server, told: dict[str, Any], count: int) -> tuple[list[Phone], Phone]:
    """So many phones of all sites, and one more for the small pushes; all know everything so far."""
    sites = len(told["sites"])
    phones = [phone_of(server, told, number % sites, number // sites) for number in range(min(count, sites * STORY_PHONES))]
    first = told["sites"][0]
    small = Phone(server, {**first["phones"][0], "key": "5" * 32}, first, Random(99))
    for phone in (*phones, small):
        phone.stand_at_the_end()
    return phones, small


def _come_back(phone: Phone, after_s: float, met: Crowd) -> None:
    lines = phone.lane.taken_over()
    time.sleep(after_s)
    began = time.perf_counter()
    taken = _until_taken(phone, lines, met)
    met.took_s.append(time.perf_counter() - began)
    met.taken += taken


def _small_pushes(phone: Phone, met: Crowd, over: threading.Event, every_s: float) -> None:
    dice = Random(12)
    while not over.is_set():
        phone.checks(dice.randint(1, 5))
        lines = phone.lane.taken_over()
        began = time.perf_counter()
        _until_taken(phone, lines, met)
        met.small_s.append(time.perf_counter() - began)
        over.wait(every_s)


def _until_taken(phone: Phone, lines: list[Written], met: Crowd) -> int:
    """Try as a phone does: the rest again after a part, after 503 when the server says. Returns how many were taken."""
    began, taken = time.perf_counter(), 0
    while taken < len(lines) and time.perf_counter() - began < PATIENCE_S:
        answer, wait_s, count = _one_try(phone, lines[taken:])
        met.answers[answer] += 1
        if count:
            phone.before = lines[taken + count - 1].ch
        taken += count
        time.sleep(wait_s)
    return taken


def _one_try(phone: Phone, lines: list[Written]) -> tuple[str, float, int]:
    """(status or the fault's name, seconds to wait, lines taken)."""
    sent = body(phone.lane, lines, phone.before, int(time.time() * 1000), cursor=phone.cursor)
    try:
        status, headers, reply = phone.post(sent)
    except (OSError, http.client.HTTPException) as fault:
        return type(fault).__name__, 1.0, 0
    if status != 200:
        return str(status), float(headers.get("retry-after", "1")), 0
    phone.cursor = reply["cursor"]
    return "200", 0.0, sum(ack[2] == "ok" for ack in reply["acks"])
