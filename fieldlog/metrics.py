"""
Numbers about a running server for a Prometheus to fetch, in its text format 0.0.4, at a port of this machine alone.

By hand, since it is some counters and gauges: the client library would add a tenth of a second to each start. What comes out is
held to that library's own parser (tests/web/test_metrics.py). No label holds anything that a person wrote.
"""

from __future__ import annotations

import logging
import sqlite3
import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

LOOPBACK = "127.0.0.1"
MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"
BOUNDS_S = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
"""The upper ends of the histogram's stretches, a step of about three."""

Gauges = Callable[[], Mapping[str, tuple[str, float]]]
"""Name, what it is in a sentence, its value now."""

log = logging.getLogger("fieldlog.metrics")


class Requests:
    """How many requests each route answered, with which status, and how long they took."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: Counter[tuple[str, str, int]] = Counter()
        self._within: Counter[tuple[str, float]] = Counter()
        self._taken_s: dict[str, float] = {}

    def note(self, route: str, method: str, status: int, seconds: float) -> None:
        """Count an answer; `route` is a route's pattern, so that no address is kept."""
        with self._lock:
            self._answers[route, method, status] += 1
            self._taken_s[route] = self._taken_s.get(route, 0.0) + seconds
            for bound in BOUNDS_S:
                if seconds <= bound:
                    self._within[route, bound] += 1

    def lines(self) -> Iterable[str]:
        """The lines of the text format."""
        with self._lock:
            answers, within, taken_s = dict(self._answers), dict(self._within), dict(self._taken_s)
        yield from _head("fieldlog_requests_total", "counter", "Requests answered.")
        for (route, method, status), count in sorted(answers.items()):
            yield f'fieldlog_requests_total{{method="{_safe(method)}",route="{_safe(route)}",status="{status}"}} {count}'
        yield from _head("fieldlog_request_seconds", "histogram", "How long requests took, body included.")
        for route in sorted(taken_s):
            total = sum(count for (of, _, _), count in answers.items() if of == route)
            for bound in BOUNDS_S:
                yield f'fieldlog_request_seconds_bucket{{le="{bound:g}",route="{_safe(route)}"}} {within.get((route, bound), 0)}'
            yield f'fieldlog_request_seconds_bucket{{le="+Inf",route="{_safe(route)}"}} {total}'
            yield f'fieldlog_request_seconds_sum{{route="{_safe(route)}"}} {taken_s[route]:.6f}'
            yield f'fieldlog_request_seconds_count{{route="{_safe(route)}"}} {total}'


def page(requests: Requests, gauges: Gauges) -> str:
    """All numbers as one text."""
    lines = list(requests.lines())
    for name, (sentence, value) in gauges().items():
        lines += [*_head(name, "gauge", sentence), f"{name} {value:.17g}"]
    return "\n".join(lines) + "\n"


def open_metrics(port: int, requests: Requests, gauges: Gauges) -> ThreadingHTTPServer:
    """
    A server of the numbers at a port of this machine, which runs until it is shut down.

    Raises:
        OSError: the port is taken or not allowed.
    """

    class Answer(BaseHTTPRequestHandler):
        timeout = 10

        def do_GET(self) -> None:
            status, body = _answer(self.path, requests, gauges)
            self.send_response(status)
            self.send_header("Content-Type", MEDIA_TYPE if status == HTTPStatus.OK else "text/plain")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *arguments: object) -> None:  # noqa: A002 (the library's name)
            """Say nothing: a fetch every few seconds is no news."""

    server = _Server((LOOPBACK, port), Answer)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, name="metrics", daemon=True).start()
    return server


class _Server(ThreadingHTTPServer):
    def handle_error(self, request: object, client_address: object) -> None:  # noqa: ARG002 (the library calls it so)
        """One line of the log instead of a traceback: who asked hung up, or a fault that nobody foresaw."""
        log.error("An answer with numbers met a fault", exc_info=sys.exc_info())


def _answer(path: str, requests: Requests, gauges: Gauges) -> tuple[HTTPStatus, bytes]:
    if path != "/metrics":
        return HTTPStatus.NOT_FOUND, b"Ask for /metrics.\n"
    try:
        return HTTPStatus.OK, page(requests, gauges).encode()
    except (sqlite3.Error, OSError) as fault:
        log.error("The numbers could not be made", exc_info=fault)
        return HTTPStatus.SERVICE_UNAVAILABLE, b"The program does not answer. Run: fieldlog doctor\n"


def _head(name: str, kind: str, sentence: str) -> Iterable[str]:
    return (f"# HELP {name} {sentence}", f"# TYPE {name} {kind}")


def _safe(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
