"""Displaced: moved since its zero epoch, significantly at 95 %. A phone's own position never says so."""

from __future__ import annotations

from collections.abc import Mapping

from fieldlog.flags.flag import ACT, LOOK, About, Found, unit_rule
from fieldlog.flags.unit_history import Row, UnitHistory
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.survey.grades import place_grade
from fieldlog.survey.movement import PHONE, Movement, Place, compare, compass_word, zero_fix
from fieldlog.survey.position import TAPE_SIGMA_M, Adjusted, Point, TapeRange, adjust

TYPED_SIGMA_M = 0.05
"""One sigma of an axis of a typed coordinate where nobody said: a taped offset in the field, our proposal."""

PLACE_ACTS = 2
METHOD_WORDS = {"tapes": "tapes", "typed": "typed coordinates", "rtk": "survey receiver"}


def place_of(fix: Row, marks: Mapping[str, Row], planned: Point | None) -> Place | None:
    """Where a fix puts a thing on the site grid; None where its readings give no place there."""
    if fix["method"] == PHONE:
        return None
    if fix["method"] == "tapes":
        adjusted = adjust(_tapes(fix, marks), planned)
        if not isinstance(adjusted, Adjusted):
            return None
        return Place(adjusted.east_m, adjusted.north_m, adjusted.covariance, fix["method"])
    if fix["east_m"] is None or fix["north_m"] is None:
        return None
    sigma_m = fix["sigma_m"] or TYPED_SIGMA_M
    return Place(fix["east_m"], fix["north_m"], (sigma_m**2, 0.0, sigma_m**2), fix["method"])


def _tapes(fix: Row, marks: Mapping[str, Row]) -> list[TapeRange]:
    read = []
    for n in (1, 2, 3, 4):
        mark, range_m = marks.get(fix[f"mark_{n}_id"] or ""), fix[f"range_{n}_m"]
        if mark is not None and range_m is not None and mark["east_m"] is not None and mark["north_m"] is not None:
            sigma_m = fix["tape_sigma_m"] or TAPE_SIGMA_M
            read.append(TapeRange(named(mark["label"], "a mark"), mark["east_m"], mark["north_m"], range_m, sigma_m))
    return read


def movements(history: UnitHistory) -> list[tuple[Row, Row, Movement]]:
    """Each fix after the zero epoch compared with it: (zero fix, fix, what they say), in time order."""
    unit = history.unit
    planned = None if unit["planned_east_m"] is None or unit["planned_north_m"] is None else (unit["planned_east_m"], unit["planned_north_m"])
    placed = [(fix, place) for fix in history.fixes if (place := place_of(fix, history.marks, planned)) is not None]
    events = [(event["event_at"], event["event"]) for event in history.events]
    zero = zero_fix([(fix["fixed_at"], fix["method"]) for fix, _ in placed], events)
    if zero is None:
        return []
    zero_row, zero_place = placed[zero]
    azimuth = history.site["grid_azimuth_deg"] or 0.0
    return [(zero_row, fix, compare(zero_place, place, azimuth)) for fix, place in placed[zero + 1 :]]


DISPLACED = About(
    "Moved", "measure again", "a later position that shows no movement, or by a lead", bring="two tapes of 30 m and the list of control marks", minutes=4.0
)


@unit_rule("displaced", DISPLACED, reads_checks=False)
def displaced(history: UnitHistory) -> Found | None:
    """The newest fix that says moved; a later one that does not settles it."""
    compared = movements(history)
    moved = [n for n, (_, _, movement) in enumerate(compared) if movement.verdict == "moved"]
    if not moved:
        return None
    newest = moved[-1]
    zero, fix, movement = compared[newest]
    back = compared[newest + 1][1] if newest + 1 < len(compared) else None
    grade = place_grade(movement, history.design.get("footprint_mm")).value or 1
    evidence = {
        "displacement_m": round(movement.displacement_m, 3), "bearing_deg": round(movement.bearing_deg, 1),
        "t2": round(movement.t2, 2), "limit_t2": round(movement.limit, 3), "detectable_m": round(movement.detectable_m, 3),
        "place_grade": grade, "method": fix["method"], "zero_method": zero["method"], "zero_at": zero["fixed_at"],
        "fix_id": fix["record_id"], "zero_fix_id": zero["record_id"],
    }  # fmt: skip
    said = (
        f"{history.tag}: moved {rounded(movement.displacement_m, 2)} m towards the {compass_word(movement.bearing_deg)} since"
        f" {history.day(zero['fixed_at'])}, measured {history.day(fix['fixed_at'])} by {METHOD_WORDS[fix['method']]}; surely moved"
        f" (T\u00b2 {rounded(movement.t2, 1)}, over {rounded(movement.limit, 2)})."
    )
    return Found(
        ACT if grade >= PLACE_ACTS else LOOK, said, evidence, fix["fixed_at"], fix["record_id"],
        settled_by=back["record_id"] if back else None,
        settled_at=back["fixed_at"] if back else None,
        settled_reason=f"Measured again {history.day(back['fixed_at'])}: no movement that can be told." if back else None,
    )  # fmt: skip
