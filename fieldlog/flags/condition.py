"""Damaged, leaning, undermined: graded checks since the unit was placed, reset, righted or replaced."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fieldlog.flags.flag import ACT, LOOK, Found, unit_rule
from fieldlog.flags.unit_history import FOUND, Row, UnitHistory, body_of, stance_of, toe_of
from fieldlog.survey.grades import Grade
from fieldlog.survey.rounding import shortest

LEAN_LOOK_DEG = 15.0
"""Our own proposal where a site sets no limit."""

STANCE_LEANS, STANCE_ACTS = 2, 3
TOE_LOOKS, TOE_ACTS = 2, 3
BODY_LOOKS, BODY_ACTS = 1, 2

Judge = Callable[[Row], tuple[int | None, Grade]]


def _newest(history: UnitHistory, judge: Judge, raises: Callable[[Row, int], bool]) -> tuple[Row, int, Grade, Row | None] | None:
    """The newest check that raises, its grade, and the first later one that was graded and does not."""
    raising: tuple[Row, int, Grade] | None = None
    later: Row | None = None
    for check in history.recent_checks:
        grade, computed = judge(check)
        if grade is None or check["found_state"] not in FOUND:
            continue
        if raises(check, grade):
            raising, later = (check, grade, computed), None
        elif raising is not None and later is None:
            later = check
    return None if raising is None else (*raising, later)


def _found(
    history: UnitHistory, newest: tuple[Row, int, Grade, Row | None], severity: str, what: str, evidence: dict[str, Any],
    better: str,
) -> Found:  # fmt: skip
    check, grade, computed, later = newest
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


@unit_rule("damaged")
def damaged(history: UnitHistory) -> Found | None:
    """The body: cracks, chips, worn surface, lost pieces, or the observer's own grade."""
    newest = _newest(history, body_of, lambda _check, grade: grade >= BODY_LOOKS)
    if newest is None:
        return None
    check, grade, computed, _later = newest
    measured = computed.value == grade
    what = _lower_first(computed.reason) if measured else f"damage of grade {grade} of 4 by eye"
    names = ("crack_width_mm", "chip_depth_mm", "chip_across_mm", "scaling_depth_mm", "lost_volume_pct")
    evidence = {name: check[name] for name in names if check[name] is not None}
    return _found(history, newest, ACT if grade >= BODY_ACTS else LOOK, what, evidence, "Found whole on")


@unit_rule("leaning")
def leaning(history: UnitHistory) -> Found | None:
    """The stance: the tilt against the site's own limit, or the observer's grade where no tilt was read."""
    limit = history.site["lean_look_deg"] or LEAN_LOOK_DEG

    def raises(check: Row, grade: int) -> bool:
        return check["tilt_deg"] >= limit if check["tilt_deg"] is not None else grade >= STANCE_LEANS

    newest = _newest(history, stance_of, raises)
    if newest is None:
        return None
    check, grade, _computed, _later = newest
    if check["tilt_deg"] is None:
        what, evidence = f"leaning, grade {grade} of 4 by eye", {}
    else:
        what = f"leaning {shortest(check['tilt_deg'], 1)}\u00b0, where {shortest(limit, 1)}\u00b0 calls for a look"
        evidence = {"tilt_deg": check["tilt_deg"], "limit_deg": limit}
    return _found(history, newest, ACT if grade >= STANCE_ACTS else LOOK, what, evidence, "Standing again on")


@unit_rule("undermined")
def undermined(history: UnitHistory) -> Found | None:
    """The toe: bed washed out under it, or it rocks."""
    height_mm = history.design.get("height_mm")
    newest = _newest(history, lambda check: toe_of(check, height_mm), lambda _check, grade: grade >= TOE_LOOKS)
    if newest is None:
        return None
    check, grade, computed, _later = newest
    what = _lower_first(computed.reason) if computed.value == grade else f"bed washed out at the toe, grade {grade} of 4 by eye"
    evidence = {name: check[name] for name in ("scour_depth_mm", "rocking") if check[name] is not None}
    evidence["height_mm"] = height_mm
    return _found(history, newest, ACT if grade >= TOE_ACTS else LOOK, what, evidence, "Toe sound again on")
