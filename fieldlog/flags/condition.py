"""Damaged, leaning, undermined: graded checks since the unit was placed, reset, righted or replaced."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fieldlog.flags.flag import ACT, LOOK, About, Found, Limits, Verdict, unit_rule
from fieldlog.flags.standing import Standing, found_standing, settled_words, standing
from fieldlog.flags.unit_history import Row, UnitHistory, body_of, stance_of, tells_measures, toe_of
from fieldlog.rounding import shortest
from fieldlog.survey.grades import Damage, body_parts, stance_grade, toe_grade, whole

LEAN_LOOK_DEG = 15.0
"""Our own proposal where a site sets no limit."""

STANCE_LEANS, STANCE_ACTS = 2, 3
TOE_LOOKS, TOE_ACTS = 2, 3
BODY_LOOKS, BODY_ACTS = 1, 2

BODY = ("lost_volume_pct", "scaling_depth_mm", "chip_depth_mm", "chip_across_mm", "crack_width_mm", "body_grade")
STANCE = ("tilt_deg", "stance_grade")
TOE = ("rocking", "scour_depth_mm", "toe_grade")
"""What of a check may raise each axis, and settle it again; the last is the observer's own grade, which speaks for the axis."""


def _with_own(measured: dict[str, Verdict], name: str, own: int | None, computed: int | None, looks: int) -> dict[str, Verdict]:
    """
    The verdicts of an axis, the observer's own grade among them.

    It raises where it says more than the measures of its check. It is quiet where the check as a whole is: graded under the limit,
    or measured in everything, and nothing that was measured raises.
    """
    verdict: Verdict = None
    if own is not None and own >= looks:
        verdict = True if computed is None or own > computed else None
    elif not any(measured.values()) and (own is not None or all(said is False for said in measured.values())):
        verdict = False
    return {**measured, name: verdict}


def _nothing(measures: Iterable[str]) -> dict[str, Verdict]:
    return dict.fromkeys(measures)


def _worst(grades: Iterable[int | None]) -> int | None:
    return max((grade for grade in grades if grade is not None), default=None)


def _text(words: Iterable[str]) -> str:
    """Sentences as parts of one, with commas between."""
    return ", ".join(text[:1].lower() + text[1:] for text in (sentence.rstrip(".") for sentence in words))


def _measured(now: Standing, names: Iterable[str]) -> dict[str, Any]:
    return {name: now.raised[name][name] for name in names if name in now.raised}


def says_damaged(check: Row, _limits: Limits) -> dict[str, Verdict]:
    """Which measures of a check tell of damage; nothing where the unit was not found or only looked at."""
    if not tells_measures(check):
        return _nothing(BODY)
    measured = {name: None if check[name] is None else _damage(check, (name,))[0][0] >= BODY_LOOKS for name in BODY[:-1]}
    return _with_own(measured, "body_grade", check["body_grade"], body_of(check)[1].value, BODY_LOOKS)


def _damage(check: Row, names: Iterable[str]) -> list[tuple[int, str]]:
    """The damage that these measures of a check tell of, the worst first."""
    parts = body_parts(Damage(**{name: check[name] for name in names}))
    return sorted(parts, key=lambda part: -part[0])


NONE_OF_IT = {
    "lost_volume_pct": "no piece broken off", "scaling_depth_mm": "no worn surface", "chip_depth_mm": "no chip", "chip_across_mm": "no chip",
    "crack_width_mm": "no crack", "scour_depth_mm": "no scour",
}  # fmt: skip
"""What a measure of nought says."""


def _by_eye(check: Row, name: str) -> str:
    return f"grade {check[name]} of 4 by eye"


def _body_said(check: Row, name: str) -> str:
    if name == "body_grade":
        return _by_eye(check, name)
    return _text([_damage(check, (name,))[0][1]]) if check[name] else NONE_OF_IT[name]


def _stance_said(check: Row, name: str) -> str:
    return _by_eye(check, name) if name == "stance_grade" else f"leaning {shortest(check[name], 1)}\u00b0"


def _toe_said(check: Row, name: str) -> str:
    if name == "toe_grade":
        return _by_eye(check, name)
    if name == "rocking":
        return "it rocks" if check[name] else "it does not rock"
    return f"scour {whole(check[name])} mm deep" if check[name] else NONE_OF_IT[name]


DAMAGED = About(
    "Damaged", "photo", "a later value within the limit of each measure named, by a grade of the body, or by a lead",
    bring="crack gauge and camera", minutes=2.0, reads=("found_state", "looked_only", *BODY),
)  # fmt: skip
LEANING = About(
    "Leaning", "measure", "a later tilt under the limit, by a grade of the stance, or by a lead",
    bring="inclinometer", minutes=1.0, reads=("found_state", "looked_only", *STANCE),
)  # fmt: skip
UNDERMINED = About(
    "Undermined", "measure", "a later value within the limit of each measure named, by a grade of the toe, or by a lead",
    bring="scour rod", minutes=2.0, reads=("found_state", "looked_only", *TOE),
)  # fmt: skip


@unit_rule("damaged", DAMAGED, says=says_damaged, measures=BODY, whole="body_grade")
def damaged(history: UnitHistory) -> Found | None:
    """The body: cracks, chips, worn surface, lost pieces, or the observer's own grade."""
    now = standing(history, says_damaged, BODY, "body_grade")
    if now is None:
        return None
    own = now.raised["body_grade"]["body_grade"] if "body_grade" in now.raised else None
    computed, words = None, {}
    for check, names in now.by_check():
        parts = _damage(check, [name for name in names if name != "body_grade"])
        eye = [f"damage grade {check['body_grade']} of 4 by eye"] if "body_grade" in names else []
        computed = _worst([computed, *(grade for grade, _ in parts)])
        words[check["record_id"]] = _text([*eye, *(reason for _, reason in parts)])
    grade = _worst([own, computed]) or 0
    evidence = _measured(now, reversed(BODY[:-1])) | {"grade": grade, "computed_grade": computed}
    return found_standing(history, now, ACT if grade >= BODY_ACTS else LOOK, words, evidence, settled_words(now, BODY, _body_said))


def says_leaning(check: Row, limits: Limits) -> dict[str, Verdict]:
    """Whether a check tells of a lean: its tilt against the site's limit, or the observer's grade where no tilt was read."""
    if not tells_measures(check):
        return _nothing(STANCE)
    _, computed = stance_of(check)
    tilt_deg: float | None = check["tilt_deg"]
    leans = None if tilt_deg is None else tilt_deg >= (limits.lean_look_deg or LEAN_LOOK_DEG)
    said = _with_own({"tilt_deg": leans}, "stance_grade", check["stance_grade"], computed.value, STANCE_LEANS)
    if leans is False and said["stance_grade"]:
        said["stance_grade"] = None
    return said


@unit_rule("leaning", LEANING, says=says_leaning, measures=STANCE, whole="stance_grade")
def leaning(history: UnitHistory) -> Found | None:
    """The stance: the tilt against the site's own limit, or the observer's grade where no tilt was read."""
    limit = history.limits.lean_look_deg or LEAN_LOOK_DEG
    now = standing(history, says_leaning, STANCE, "stance_grade")
    if now is None:
        return None
    grades: dict[str, int | None] = {}
    words = {}
    for check, names in now.by_check():
        said = []
        if "tilt_deg" in names:
            grades["tilt_deg"] = stance_grade(check["tilt_deg"]).value
            said.append(f"leaning {shortest(check['tilt_deg'], 1)}\u00b0 (flagged from {shortest(limit, 1)}\u00b0)")
        if "stance_grade" in names:
            grades["own"] = check["stance_grade"]
            said.append(f"leaning, grade {check['stance_grade']} of 4 by eye")
        words[check["record_id"]] = _text(said)
    grade = _worst(grades.values()) or 0
    evidence = _measured(now, ("tilt_deg",)) | ({"limit_deg": limit} if "tilt_deg" in now.raised else {})
    evidence |= {"grade": grade, "computed_grade": grades.get("tilt_deg")}
    return found_standing(history, now, ACT if grade >= STANCE_ACTS else LOOK, words, evidence, settled_words(now, STANCE, _stance_said))


def says_undermined(check: Row, limits: Limits) -> dict[str, Verdict]:
    """
    Which measures of a check tell of a washed-out toe; nothing where the unit was not found or only looked at.

    Scour under a unit of unknown height raises, unless the observer graded the toe: nobody can say how much of it is too much.
    """
    if not tells_measures(check):
        return _nothing(TOE)
    rocking, scour_mm, own = check["rocking"], check["scour_depth_mm"], check["toe_grade"]
    _, computed = toe_of(check, limits.height_mm)
    return _with_own(
        {"rocking": None if rocking is None else bool(rocking), "scour_depth_mm": _scours(scour_mm, limits.height_mm, own)},
        "toe_grade", own, computed.value, TOE_LOOKS,
    )  # fmt: skip


def _scours(scour_mm: float | None, height_mm: float | None, own: int | None) -> Verdict:
    if scour_mm is None:
        return None
    grade = toe_grade(scour_mm, height_mm, None).value
    if grade is None:
        return True if own is None else None
    return grade >= TOE_LOOKS


@unit_rule("undermined", UNDERMINED, says=says_undermined, measures=TOE, whole="toe_grade")
def undermined(history: UnitHistory) -> Found | None:
    """The toe: bed washed out under it, or it rocks."""
    height_mm = history.limits.height_mm
    now = standing(history, says_undermined, TOE, "toe_grade")
    if now is None:
        return None
    computed: list[int | None] = []
    words = {}
    for check, names in now.by_check():
        measured = [
            grade
            for name, grade in (("rocking", toe_grade(None, None, True)), ("scour_depth_mm", toe_grade(check["scour_depth_mm"], height_mm, None)))
            if name in names
        ]
        computed += [grade.value for grade in measured]
        eye = [f"bed washed out at the toe, grade {check['toe_grade']} of 4 by eye"] if "toe_grade" in names else []
        words[check["record_id"]] = _text([*eye, *(grade.reason for grade in measured)])
    own = now.raised["toe_grade"]["toe_grade"] if "toe_grade" in now.raised else None
    grade = _worst([own, *computed])
    evidence = _measured(now, ("scour_depth_mm", "rocking")) | {"height_mm": height_mm, "grade": grade, "computed_grade": _worst(computed)}
    return found_standing(history, now, ACT if (grade or 0) >= TOE_ACTS else LOOK, words, evidence, settled_words(now, TOE, _toe_said))
