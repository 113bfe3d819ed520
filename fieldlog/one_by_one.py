"""A queue whose work is done in a thread of its own, one item after the other; the thread ends when none waits."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class OneByOne(Generic[T]):
    """
    Items that wait to be worked on.

    Args:
        name: of the thread.
        work: what is done with an item. A fault that leaves it ends the thread; what waits is done by the next one.
        at_rest: called in the thread when none waits any more, such as to close its connection.
    """

    def __init__(self, name: str, work: Callable[[T], None], at_rest: Callable[[], None]) -> None:
        self._name, self._work, self._at_rest = name, work, at_rest
        self._waiting: deque[T] = deque()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None

    def want(self, item: T) -> None:
        """Let an item be worked on soon."""
        with self._changed:
            self._waiting.append(item)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
                self._thread.start()

    def wait(self, timeout_s: float = 120.0) -> bool:
        """Wait until nothing waits; whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(lambda: self._thread is None, timeout_s)

    def _run(self) -> None:
        try:
            while self._has_more():
                self._work(self._waiting.popleft())
        finally:
            with self._changed:
                if self._thread is threading.current_thread():
                    self._thread = None
                    self._changed.notify_all()

    def _has_more(self) -> bool:
        with self._changed:
            if self._waiting:
                return True
            self._at_rest()
            self._thread = None
            self._changed.notify_all()
            return False
