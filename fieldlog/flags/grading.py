"""Graded apart: the observer's own grade of an axis and the one computed from the same check differ by two or more."""

from __future__ import annotations

from collections.abc import Iterator

from fieldlog.flags.condition import BODY, STANCE, TOE
from fieldlog.flags.flag import LOOK, About, Found, Limits, Verdict, unit_rule
from fieldlog.flags.standing import found_standing, standing
from fieldlog.flags.unit_history import Row, UnitHistory, body_of, stance_of, tells_measures, toe_of

APART = 2
"""Grades by which eye and measures must differ before anybody is asked: one is a matter of judgement. Our own proposal."""

AXES = ("body", "stance", "toe")
"""Cover is left out: how much sediment lies round a unit raises no flag."""


def says_graded_apart(check: Row, limits: Limits) -> dict[str, Verdict]:
    """Of each axis that was graded by eye, whether the two grades of a check are far apart: a measure alone says nothing of the eye's grade."""
    if not tells_measures(check):
        return dict.fromkeys(AXES)
    return {axis: _apart(own, computed) for axis, own, computed in _grades(check, limits)}


def _grades(check: Row, limits: Limits) -> Iterator[tuple[str, int | None, int | None]]:
    """(axis, the observer's own grade, the computed one)."""
    yield "body", check["body_grade"], body_of(check)[1].value
    yield "stance", check["stance_grade"], stance_of(check)[1].value
    yield "toe", check["toe_grade"], toe_of(check, limits.height_mm)[1].value


def _apart(own: int | None, computed: int | None) -> Verdict:
    if own is None:
        return None
    return computed is not None and abs(own - computed) >= APART


GRADED_APART = About(
    "Grades differ", "grade again", "a later check that grades the axis by eye once more, by a correction, or by a lead",
    minutes=1.0, reads=("found_state", "looked_only", *BODY, *STANCE, *TOE),
)  # fmt: skip


@unit_rule("graded_apart", GRADED_APART, says=says_graded_apart, measures=AXES)
def graded_apart(history: UnitHistory) -> Found | None:
    """One of the two grades is a slip: of the eye, of the tape, or of the thumb."""
    now = standing(history, says_graded_apart, AXES, None)
    if now is None:
        return None
    words: dict[str, str] = {}
    evidence: dict[str, int | None] = {}
    for check, axes in now.by_check():
        grades = {axis: (own, computed) for axis, own, computed in _grades(check, history.limits) if axis in axes}
        words[check["record_id"]] = ", ".join(f"{axis} is grade {own} by eye and {computed} as measured" for axis, (own, computed) in grades.items())
        evidence |= {f"{axis}_{how}": grade for axis, pair in grades.items() for how, grade in zip(("by_eye", "as_measured"), pair, strict=True)}
    said = says_graded_apart(now.settled, history.limits) if now.settled else {}
    again = " and ".join(axis for axis in now.raised if said.get(axis) is False)
    return found_standing(history, now, LOOK, words, evidence, f"{again} graded again")
