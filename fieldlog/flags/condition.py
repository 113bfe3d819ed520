"""Damaged, leaning, undermined: graded checks since the unit was placed, reset, righted or replaced."""

from __future__ import annotations

from typing import Any

from fieldlog.flags.flag import ACT, LOOK, Found, Limits, Says, unit_rule
from fieldlog.flags.unit_history import FOUND, Row, UnitHistory, body_of, stance_of, toe_of
from fieldlog.rounding import shortest
from fieldlog.survey.grades import Grade

LEAN_LOOK_DEG = 15.0
"""Our own proposal where a site sets no limit."""

STANCE_LEANS, STANCE_ACTS = 2, 3
TOE_LOOKS, TOE_ACTS = 2, 3
BODY_LOOKS, BODY_ACTS = 1, 2

Newest = tuple[Row, Row | None]


def _newest(history: UnitHistory, says: Says) -> Newest | None:
    """The newest check that raises, and the first later one that was graded and does not."""
    raising: Row | None = None
    later: Row | None = None
    for check in history.recent_checks:
        said = says(check, history.limits)
        if said:
            raising, later = check, None
        elif said is not None and raising is not None and later is None:
            later = check
    return None if raising is None else (raising, later)


def _found(
    history: UnitHistory, newest: Newest, grade: int, computed: Grade, severity: str, what: str, evidence: dict[str, Any], better: str
) -> Found:
    check, later = newest
    photos = history.photos.get(check["record_id"], 0)
    seen = f"seen {history.day(check['checked_at'])}" + (f", on {photos} photo{'s' * (photos > 1)}" if photos else "")
    given = {"grade": grade, "computed_grade": computed.value, "check_id": check["record_id"], "photos": photos}
    return Found(
        severity, f"{history.tag}: {what}, {seen}.", evidence | given, check["checked_at"], check["record_id"],
        settled_by=later["record_id"] if later else None,
        settled_at=later["checked_at"] if later else None,
        settled_reason=f"{better} {history.day(later['checked_at'])}." if later else None,
    )  # fmt: skip


def _lower_first(sentence: str) -> str:
    text = sentence.rstrip(".")
    return text[:1].lower() + text[1:]


def says_damaged(check: Row, _limits: Limits) -> bool | None:
    """Whether a check tells of damage; None where the unit was not found or its body not graded."""
    grade, _ = body_of(check)
    return None if grade is None or check["found_state"] not in FOUND else grade >= BODY_LOOKS


@unit_rule("damaged", says=says_damaged)
def damaged(history: UnitHistory) -> Found | None:
    """The body: cracks, chips, worn surface, lost pieces, or the observer's own grade."""
    newest = _newest(history, says_damaged)
    if newest is None:
        return None
    check = newest[0]
    grade, computed = _graded(body_of(check))
    measured = computed.value == grade
    what = _lower_first(computed.reason) if measured else f"damage of grade {grade} of 4 by eye"
    names = ("crack_width_mm", "chip_depth_mm", "chip_across_mm", "scaling_depth_mm", "lost_volume_pct")
    evidence = {name: check[name] for name in names if check[name] is not None}
    return _found(history, newest, grade, computed, ACT if grade >= BODY_ACTS else LOOK, what, evidence, "Found whole on")


def _graded(graded: tuple[int | None, Grade]) -> tuple[int, Grade]:
    grade, computed = graded
    assert grade is not None, "a check that raises has a grade"
    return grade, computed


def says_leaning(check: Row, limits: Limits) -> bool | None:
    """Whether a check tells of a lean; None where the unit was not found or its stance not graded."""
    grade, _ = stance_of(check)
    if grade is None or check["found_state"] not in FOUND:
        return None
    tilt_deg: float | None = check["tilt_deg"]
    return grade >= STANCE_LEANS if tilt_deg is None else tilt_deg >= (limits.lean_look_deg or LEAN_LOOK_DEG)


@unit_rule("leaning", says=says_leaning)
def leaning(history: UnitHistory) -> Found | None:
    """The stance: the tilt against the site's own limit, or the observer's grade where no tilt was read."""
    limit = history.limits.lean_look_deg or LEAN_LOOK_DEG
    newest = _newest(history, says_leaning)
    if newest is None:
        return None
    check = newest[0]
    grade, computed = _graded(stance_of(check))
    if check["tilt_deg"] is None:
        what, evidence = f"leaning, grade {grade} of 4 by eye", {}
    else:
        what = f"leaning {shortest(check['tilt_deg'], 1)}\u00b0, where {shortest(limit, 1)}\u00b0 calls for a look"
        evidence = {"tilt_deg": check["tilt_deg"], "limit_deg": limit}
    return _found(history, newest, grade, computed, ACT if grade >= STANCE_ACTS else LOOK, what, evidence, "Standing again on")


def says_undermined(check: Row, limits: Limits) -> bool | None:
    """Whether a check tells of a washed-out toe; None where the unit was not found or its toe not graded."""
    grade, _ = toe_of(check, limits.height_mm)
    return None if grade is None or check["found_state"] not in FOUND else grade >= TOE_LOOKS


@unit_rule("undermined", says=says_undermined)
def undermined(history: UnitHistory) -> Found | None:
    """The toe: bed washed out under it, or it rocks."""
    height_mm = history.limits.height_mm
    newest = _newest(history, says_undermined)
    if newest is None:
        return None
    check = newest[0]
    grade, computed = _graded(toe_of(check, height_mm))
    what = _lower_first(computed.reason) if computed.value == grade else f"bed washed out at the toe, grade {grade} of 4 by eye"
    evidence = {name: check[name] for name in ("scour_depth_mm", "rocking") if check[name] is not None}
    evidence["height_mm"] = height_mm
    return _found(history, newest, grade, computed, ACT if grade >= TOE_ACTS else LOOK, what, evidence, "Toe sound again on")
