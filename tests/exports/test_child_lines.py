"""What a child says beside its bytes: steps and a last word, among words of a fault and lines that its end cut short."""

from __future__ import annotations

import io

from fieldlog import child


def test_what_is_no_whole_line_of_a_child_is_passed_over() -> None:
    answer: dict[str, object] = {}
    told: list[str] = []
    lines = b'{"step": "5"}\n{"step": "6"}Traceback (most recent call last):\n  File "x"\n[1]\n\n{"step": "7"}\n{"result": true}\n{"ste'
    child._hear(io.BytesIO(lines), told.append, answer)
    assert told == ["5", "7"]
    assert answer["result"] is True
