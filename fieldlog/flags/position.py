"""What surveys say of a unit, and of a mark. A phone's own position never says that anything moved."""

from __future__ import annotations

import json
import math
from typing import Any

from fieldlog.flags.doubt import RecordSeen
from fieldlog.flags.flag import ACT, LOOK, About, Found, record_rule, unit_rule
from fieldlog.flags.unit_history import Row, UnitHistory
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.survey.grades import place_grade
from fieldlog.survey.movement import compass_word
from fieldlog.survey.verdict import Verdict

PLACE_ACTS = 2
METHOD_WORDS = {"tapes": "tapes", "typed": "typed coordinates", "rtk": "survey receiver"}
SIDE = "two places fit two tapes. Measure again, with a tape from a third mark."
WHY = {
    "side": SIDE, "side-unknown": SIDE,
    "weak": "the tapes cross at a narrow angle. Measure again, from a mark more to the side.",
    "mark": "a mark that it was measured from may have moved. Check that mark first.",
    "zero": "its first position is uncertain. Measure it again, with two sets of three tapes.",
    "one-tape": "it depends on one tape. Measure again, with two sets of three tapes.",
}  # fmt: skip
"""What each doubt about a survey's word on a unit asks for, the first that holds."""

DOUBT_WORDS = {
    "side": "which side", "side-unknown": "which side", "weak": "narrow angle", "misread": "a tape misread", "one-tape": "depends on one tape",
    "mark": "a mark may have moved", "zero": "first position",
}  # fmt: skip


DISPLACED = About(
    "Moved", "take tapes", "a later position that shows no movement, or by a lead", bring="two tapes of 30 m and the list of control marks", minutes=4.0
)


@unit_rule("displaced", DISPLACED, reads_checks=False)
def displaced(history: UnitHistory) -> Found | None:
    """The newest survey that says moved; a later one that would have shown it and does not settles it."""
    told = _newest(history, Verdict.MOVED)
    if told is None:
        return None
    said, after = told
    grade = place_grade(said["shift_m"], history.design.get("footprint_mm")).value or 1
    bearing = _bearing_deg(history, said)
    sentence = (
        f"{history.tag}: moved {rounded(said['shift_m'], 2)} m {compass_word(bearing)} since {history.day(said['zero_at'])},"
        f" measured {history.day(said['fixed_at'])} by {METHOD_WORDS[said['method']]}{_so_far(said)}"
    )
    settled = f"would have shown {rounded(said['shift_m'], 2)} m and found none"
    return _found(ACT if grade >= PLACE_ACTS else LOOK, sentence, _evidence(history, said) | {"place_grade": grade}, said, history, after, settled)


MEASURE_AGAIN = About(
    "Measure again", "measure again", "a later measurement without that doubt, or by a lead", bring="two tapes of 30 m and the list of control marks",
    minutes=4.0,
)  # fmt: skip


@unit_rule("measure_again", MEASURE_AGAIN, reads_checks=False)
def measure_again(history: UnitHistory) -> Found | None:
    """The newest survey that asks for another measurement, unless a later one settled it."""
    told = _newest(history, Verdict.AGAIN)
    if told is None:
        return None
    said, after = told
    sentence = f"{history.tag}: measure again. On {history.day(said['fixed_at'])} {_why(said)}{_so_far(said, ' ')}"
    return _found(LOOK, sentence, _evidence(history, said), said, history, after, "no such doubt")


MARK_MOVED = About("Mark may have moved", "check the mark", "a later survey that finds it where it was, or by a lead", minutes=4.0)


@record_rule("mark_moved", MARK_MOVED)
def mark_moved(seen: RecordSeen) -> list[Found]:
    """A mark that does not fit what was read from it before, whatever the units did; it comes before any unit."""
    if seen.doubted is None:
        return []
    said, after = seen.doubted
    label = named(seen.row["label"], "a mark")
    sentence = f"Mark {label} may have moved: tapes from it no longer fit. Check it before you trust any position measured from it."
    evidence = {"survey_id": said["survey"], "measured": said["measured"]}
    at = said["ended_at"]
    settled = None if after is None else "A later survey found it where it was."
    return [
        Found(
            ACT, sentence, evidence, at, str(seen.row["record_id"]),
            settled_by=None if after is None else str(seen.row["record_id"]), settled_at=None if after is None else after["ended_at"],
            settled_reason=settled,
        )
    ]  # fmt: skip


def _newest(history: UnitHistory, verdict: Verdict) -> tuple[Row, Row | None] | None:
    """The newest survey that says so, and the first one after it that settles it."""
    said = [row for row in history.surveys if row["verdict"] == verdict.value]
    if not said:
        return None
    newest = said[-1]
    return newest, next((row for row in history.surveys if row["at"] > newest["at"] and row["survey"] == newest["settled_by"]), None)


def _found(
    severity: str, sentence: str, evidence: dict[str, Any], said: Row, history: UnitHistory, after: Row | None, settled: str
) -> Found:  # fmt: skip
    return Found(
        severity, sentence, evidence, said["fixed_at"], said["fix_id"],
        settled_by=after["fix_id"] if after else None,
        settled_at=after["fixed_at"] if after else None,
        settled_reason=f"Measured again {history.day(after['fixed_at'])}: {settled}." if after else None,
    )  # fmt: skip


def _so_far(said: Row, before: str = ". ") -> str:
    """How much of the survey this rests on, while more of it may come."""
    if said["is_over"]:
        return "" if before == " " else "."
    return f"{before}So far: {said['measured']} of {said['of_units']} units measured on this visit."


def _why(said: Row) -> str:
    doubts = json.loads(said["doubts"])
    if "misread" in doubts:
        return f"the tape from {said['misread']} fits worst and may be misread. Read all of them again."
    for word, sentence in WHY.items():
        if word in doubts:
            return sentence
    off = f"it was {rounded(said['shift_m'], 2)} m from its first position"
    return f"{off}, which may be chance. Measure it again, with two sets of tapes."


def _bearing_deg(history: UnitHistory, said: Row) -> float:
    azimuth: float = history.site["grid_azimuth_deg"] or 0.0
    return (math.degrees(math.atan2(said["east_m"], said["north_m"])) + azimuth) % 360


def _evidence(history: UnitHistory, said: Row) -> dict[str, Any]:
    """The numbers behind a verdict; what stands under Details."""
    doubts: dict[str, Any] = {"doubts": [DOUBT_WORDS[word] for word in json.loads(said["doubts"])]} if said["doubts"] != "[]" else {}
    doubts |= {"errors": "mostly those of the marks, alike for many units"} if said["by_marks"] else {}
    tapes = {} if said["tape_dof"] is None else {"tape_factor": round(said["tape_factor"], 2), "tapes": said["tapes"]}
    return {
        "displacement_m": round(said["shift_m"], 3), "bearing_deg": round(_bearing_deg(history, said), 1), "p": float(f"{said['p']:.3g}"),
        "t2": round(said["t2"], 2), "shows_m": round(said["shows_m"], 3), "least_shift_m": round(said["least_shift_m"], 3),
        "method": said["method"], "zero_method": said["zero_method"], "zero_at": said["zero_at"], "fix_id": said["fix_id"],
        "zero_fix_id": said["zero_id"], "survey_id": said["survey"], "measured": said["measured"], **doubts, **tapes,
    }  # fmt: skip
