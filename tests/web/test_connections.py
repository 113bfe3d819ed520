"""Many connections at once: the slow are closed in time, the idle cost nothing, and a stop finishes what has begun."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from fieldlog.connections import BODY_S, HEADERS_S, IDLE_S, Connection, CrowdServer, open_server
from fieldlog.store import create_programme

ROOT = Path(__file__).parents[2]
SLOW, IDLE = 500, 300
MOST_MS = 200.0
WATCHED_S = float(os.environ.get("FIELDLOG_CROWD_S", "4"))


def hello(environ: dict, start_response: Callable[..., object]) -> list[bytes]:
    environ["wsgi.input"].read()
    start_response("200 OK", [("Content-Length", "5")])
    return [b"hello"]


@contextmanager
def running(app: Callable[..., list[bytes]] = hello) -> Iterator[CrowdServer]:
    server = open_server(app, "127.0.0.1", 0, threads=2, most_body_bytes=100_000, is_behind_proxy=False)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield server
    finally:
        server.stop()
        thread.join(30)
    assert not thread.is_alive()


def connected(server: CrowdServer, sent: bytes) -> socket.socket:
    """A connection whose first bytes the server has."""
    known = set(server.active_channels)
    visitor = socket.create_connection(("127.0.0.1", server.effective_port), timeout=5)
    visitor.sendall(sent)
    until = time.monotonic() + 5
    while time.monotonic() < until:
        new = [channel for number, channel in list(server.active_channels.items()) if number not in known]
        if new and (not sent or new[0].begun_at is not None or new[0].total_outbufs_len or new[0].last_activity > new[0].creation_time):
            return visitor
        time.sleep(0.01)
    raise AssertionError("the server did not take the connection")


@pytest.mark.parametrize("target", [b"http://[::1/healthz", b"http://[x]/", b"http://[", b"https://]a/"], ids=ascii)
def test_an_address_that_nobody_can_read_is_a_bad_request(target: bytes) -> None:
    """The connection was closed without a word, and the server's log had a traceback."""
    with running() as server, socket.create_connection(("127.0.0.1", server.effective_port), timeout=5) as visitor:
        visitor.sendall(b"GET " + target + b" HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert visitor.recv(100).startswith(b"HTTP/1.1 400 ")


def look(server: CrowdServer, at_s: float) -> None:
    """Have the server look at its connections as at another time; it wakes for that by itself once a second."""
    server.maintenance(at_s)
    server.pull_trigger()


def is_closed(visitor: socket.socket, within_s: float = 3.0) -> bool:
    visitor.settimeout(within_s)
    try:
        return visitor.recv(100) == b""
    except TimeoutError:
        return False


HALF_A_HEADER = b"POST / HTTP/1.1\r\nHost: x\r\n"
HALF_A_BODY = HALF_A_HEADER + b"Content-Length: 50000\r\n\r\n" + b"x" * 5_000


@pytest.mark.parametrize(
    ("sent", "stays_s", "leaves_s"),
    [(HALF_A_HEADER, HEADERS_S - 2, HEADERS_S + 2), (HALF_A_BODY, BODY_S + 5, BODY_S + 15), (b"", IDLE_S - 5, IDLE_S + 2)],
    ids=["a header that does not end", "a body that does not come", "nobody says anything"],
)  # fmt: skip
def test_each_connection_has_its_time_and_no_more(sent, stays_s, leaves_s):
    with running() as server, connected(server, sent) as visitor:
        look(server, time.time() + stays_s)
        assert not is_closed(visitor, 1.5)
        look(server, time.time() + leaves_s)
        assert is_closed(visitor)


def test_a_byte_now_and_then_wins_no_time_for_a_header():
    with running() as server, connected(server, HALF_A_HEADER) as visitor:
        for _ in range(3):
            visitor.sendall(b"a")
            time.sleep(0.2)
        look(server, time.time() + HEADERS_S + 1)
        assert is_closed(visitor)


def test_in_a_crowd_those_who_were_quiet_for_longest_go_first():
    with running() as server, ExitStack() as until_the_end:
        visitors = [until_the_end.enter_context(connected(server, HALF_A_HEADER)) for _ in range(5)]
        server.crowded = 3
        look(server, time.time())
        assert [is_closed(visitor) for visitor in visitors[:2]] == [True, True]
        assert not any(is_closed(visitor, 0.5) for visitor in visitors[2:])


def test_however_many_hold_on_the_next_visitor_is_answered():
    with running() as server, ExitStack() as until_the_end:
        server.crowded = 3
        for _ in range(50):
            visitor = until_the_end.enter_context(socket.create_connection(("127.0.0.1", server.effective_port), timeout=5))
            visitor.sendall(HALF_A_HEADER)
        with socket.create_connection(("127.0.0.1", server.effective_port), timeout=5) as honest:
            honest.sendall(HALF_A_HEADER + b"\r\n")
            assert honest.recv(4096).startswith(b"HTTP/1.1 200 OK")
        assert len(server.active_channels) <= 5


def test_answers_come_back_however_the_requests_are_cut_and_piled():
    one = b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\nabc"
    with running() as server, socket.create_connection(("127.0.0.1", server.effective_port), timeout=10) as visitor:
        for byte in one:
            visitor.sendall(bytes([byte]))
        visitor.sendall(one * 3)
        read = b""
        while read.count(b"hello") < 4:
            read += visitor.recv(4096)
        assert read.count(b"200 OK") == 4


class Ending(Connection):
    """A connection whose request ends while the loop looks at it."""

    will_close = close_when_flushed = accepting = False
    total_outbufs_len = 0

    def __init__(self) -> None:
        self.requests = ["a request"]

    def readable(self) -> bool:
        was_readable = not self.requests
        self.requests = []
        return was_readable

    def writable(self) -> bool:
        return False


def test_a_request_that_ends_while_it_is_looked_at_leaves_its_connection_watched():
    server = open_server(hello, "127.0.0.1", 0, threads=1, most_body_bytes=1000, is_behind_proxy=False)
    connection = Ending()
    server.look_again.add(1000)
    server._watch(1000, connection)
    assert 1000 in server.look_again, "else nobody hears its next request until it is closed as idle"
    server.close()


def much(_environ: dict, start_response: Callable[..., object]) -> list[bytes]:
    answer = b"x" * 8_000_000
    start_response("200 OK", [("Content-Length", str(len(answer)))])
    return [answer]


ASKED = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


def unread(server: CrowdServer, sent: bytes) -> socket.socket:
    """A visitor who asks and reads nothing of the answers."""
    visitor = socket.socket()
    visitor.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    visitor.connect(("127.0.0.1", int(server.effective_port)))
    visitor.sendall(sent)
    return visitor


def test_visitors_who_ask_and_never_read_hold_no_worker_for_long():
    with running(much) as server, ExitStack() as until_the_end:
        for _ in range(4):
            until_the_end.enter_context(unread(server, ASKED * 4))
        honest = until_the_end.enter_context(unread(server, b""))
        honest.settimeout(0.3)
        honest.sendall(ASKED)
        # Two workers, and each waits for a visitor to read: the next are served when the time of those before is up.
        assert any(is_answered(honest) for turn in range(40) if look(server, time.time() + turn * (BODY_S + 200)) is None)


def is_answered(visitor: socket.socket) -> bool:
    try:
        return visitor.recv(4096).startswith(b"HTTP/1.1 200 OK")
    except TimeoutError:
        return False


def test_who_reads_slowly_but_steadily_gets_the_whole_answer():
    with running(much) as server, unread(server, ASKED) as visitor:
        visitor.settimeout(10)
        look(server, time.time())
        read = len(visitor.recv(65_536))
        look(server, time.time() + BODY_S - 5)
        while read < 8_000_000:
            read += len(visitor.recv(65_536))
        assert read >= 8_000_000


def test_who_piles_up_requests_is_let_go():
    with running() as server, socket.create_connection(("127.0.0.1", server.effective_port), timeout=5) as visitor:
        visitor.sendall(ASKED * 200)
        assert is_let_go(visitor)


def is_let_go(visitor: socket.socket) -> bool:
    try:
        while visitor.recv(65_536):
            pass
    except ConnectionResetError:
        pass
    return True


def test_a_stop_answers_what_has_begun_and_takes_nothing_new(tmp_path):
    create_programme(tmp_path / "programme", "Skein Bay").close()
    with served(tmp_path / "programme") as (process, port):
        visitor = socket.create_connection(("127.0.0.1", port), timeout=15)
        body = b'{"code":"2222-2222","device_name":"x"}'
        visitor.sendall(b"POST /api/join HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n\r\n" % len(body) + body[:10])
        time.sleep(0.5)
        process.send_signal(signal.SIGTERM)
        until = time.monotonic() + 10
        while time.monotonic() < until:
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
            except ConnectionRefusedError:
                break
            time.sleep(0.05)
        else:
            raise AssertionError("a stopping server still takes connections")
        visitor.sendall(body[10:])
        assert visitor.recv(4096).startswith(b"HTTP/1.1 403 FORBIDDEN")
        assert process.wait(15) == 0
        visitor.close()


@contextmanager
def served(folder: Path) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """`fieldlog serve` as a process, on a free port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "fieldlog", "--data", str(folder), "serve", "--port", str(port)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 60
        while time.monotonic() < until and asked_ms(port) is None:
            time.sleep(0.1)
        yield process, port
    finally:
        process.kill()
        process.wait()


def asked_ms(port: int) -> float | None:
    """How long /healthz takes over a new connection, milliseconds; None where it is not answered within 5 s."""
    begun = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", "/healthz")
        answer = connection.getresponse()
        answer.read()
        return (time.perf_counter() - begun) * 1000 if answer.status == 200 else None
    except OSError:
        return None
    finally:
        connection.close()


def asked_for_s(port: int, seconds: float) -> list[float | None]:
    until = time.monotonic() + seconds
    took = []
    while time.monotonic() < until:
        took.append(asked_ms(port))
        time.sleep(0.05)
    return took


@pytest.mark.alone
def test_500_slow_and_300_idle_visitors_leave_the_server_quick(tmp_path):
    """99 in 100, in the quietest of three stretches, since the machine may be busy with other things too."""
    create_programme(tmp_path / "programme", "Skein Bay").close()
    with served(tmp_path / "programme") as (process, port):
        crowd = subprocess.Popen([sys.executable, "-m", "tests.web.crowd", str(port), str(SLOW), str(IDLE)], cwd=ROOT)
        try:
            time.sleep(3)
            stretches = [asked_for_s(port, WATCHED_S) for _ in range(3)]
            status = Path(f"/proc/{process.pid}/status")
            memory_mb = int(status.read_text().split("VmRSS:")[1].split()[0]) / 1024 if status.exists() else 0.0
        finally:
            crowd.kill()
            crowd.wait()
        assert all(None not in took for took in stretches)
        worst = [sorted(one for one in took if one is not None)[len(took) * 99 // 100] for took in stretches]
        print(f"healthz in the crowd, 99 in 100: {', '.join(f'{ms:.0f} ms' for ms in worst)}; {memory_mb:.0f} MB")
        assert min(worst) <= MOST_MS
        assert memory_mb <= 200
