"""
Buried or sunk: what a change of the height that shows says, with a rod's reading of the crest and without.

Less of a unit shows where the bed rose, and where the unit sank; the height alone cannot tell the two apart. With the level of
its crest above one and the same mark on both days, the bed's change is the crest's change less the change of what shows: crest
and bed are levels, what shows is the one less the other.

Readings are told apart from `repeat_mm` on, the repeatability of two readings of one thing. The bed's change is a sum of two such
differences, so it counts from the square root of two times that (propagation of two independent ones). That a site's readings
repeat within 10 mm is our own proposal.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fieldlog.rounding import rounded

REPEAT_MM = 10.0
UNCHANGED = "No change found since last time."
BURIED, SANK, CANNOT_TELL = "buried", "sank", "cannot tell"

_SPACE = re.compile("[\t-\r \u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000\ufeff]+")
"""What a browser takes for white space, so that server and phone agree."""


@dataclass(frozen=True, slots=True)
class Heights:
    """What shows of a unit and the level of its crest above what `crest_datum` names; None: not read."""

    exposed_height_mm: float | None
    crest_level_mm: float | None = None
    crest_datum: str | None = None


@dataclass(frozen=True, slots=True)
class Burial:
    """
    What two days' readings say.

    Attributes:
        word: "buried", "sank" or "cannot tell"; None where nothing changed that asks for one of them.
        crest_change_mm: up is positive; None where the crest was not read twice above the same datum.
        bed_change_mm: the same of the bed.
        what, means: two sentences: the change, and what follows from it.
    """

    word: str | None
    crest_change_mm: float | None
    bed_change_mm: float | None
    what: str
    means: str

    @property
    def is_change(self) -> bool:
        """Whether anything was found to have changed."""
        return self.what != UNCHANGED


def newest_burial(checks: Sequence[Heights], repeat_mm: float = REPEAT_MM) -> Burial | None:
    """
    What changed last time that a unit was measured.

    Args:
        checks: since it was placed, the newest first; those that read neither height nor crest are passed over.

    Returns:
        What the newest two say; None where there are not two, or they read different things.
    """
    told = [one for one in checks if one.exposed_height_mm is not None or one.crest_level_mm is not None]
    return burial(told[1], told[0], repeat_mm) if len(told) > 1 else None


def burial(then: Heights, now: Heights, repeat_mm: float = REPEAT_MM) -> Burial | None:
    """What changed between two days; None where neither what shows nor the crest was read on both."""
    shows_mm = _change(then.exposed_height_mm, now.exposed_height_mm)
    crest_mm = _crest_change(then, now)
    bed_mm = None if shows_mm is None or crest_mm is None else crest_mm - shows_mm
    if crest_mm is None:
        return None if shows_mm is None else _without_crest(shows_mm, repeat_mm, then, now)
    bed_counts = bed_mm is not None and abs(bed_mm) >= math.sqrt(2) * repeat_mm
    bed = f"The bed {'rose' if bed_mm > 0 else 'fell'} {_mm(bed_mm)} mm." if bed_mm is not None and bed_counts else ""
    if crest_mm <= -repeat_mm:
        return Burial(SANK, crest_mm, bed_mm, f"Sank: its crest is {_mm(crest_mm)} mm lower than last time.", bed or _bed_unsaid(bed_mm))
    if crest_mm >= repeat_mm:
        return Burial(CANNOT_TELL, crest_mm, bed_mm, f"Its crest is {_mm(crest_mm)} mm higher than last time.", "Units do not rise by themselves. Read the crest level again.")
    if bed_mm is not None and bed_counts and bed_mm > 0:
        return Burial(BURIED, crest_mm, bed_mm, f"Buried: the bed rose {_mm(bed_mm)} mm since last time.", "Its crest is as high as it was.")
    if bed_counts:
        return Burial(None, crest_mm, bed_mm, f"{bed[:-1]} since last time.", "Its crest is as high as it was. Measure the scour at its base.")
    return Burial(None, crest_mm, bed_mm, *_as_last_time(repeat_mm))


def _bed_unsaid(bed_mm: float | None) -> str:
    return "The bed was not read." if bed_mm is None else "No change in the bed was found."


def _without_crest(shows_mm: float, repeat_mm: float, then: Heights, now: Heights) -> Burial:
    if abs(shows_mm) < repeat_mm:
        return Burial(None, None, None, *_as_last_time(repeat_mm))
    if shows_mm > 0:
        return Burial(None, None, None, f"{_mm(shows_mm)} mm more showing than last time.", "Measure the scour at its base.")
    if then.crest_level_mm is None or now.crest_level_mm is None:
        why = "read its crest level to know"
    elif _same_name(then.crest_datum) and _same_name(now.crest_datum):
        why = "the two crest levels are above different marks"
    else:
        why = "a crest level does not say above which mark it is"
    return Burial(CANNOT_TELL, None, None, f"{_mm(shows_mm)} mm less showing than last time.", f"Buried deeper, or the unit sank: {why}.")


def _as_last_time(repeat_mm: float) -> tuple[str, str]:
    return UNCHANGED, f"Readings here show changes of {_mm(repeat_mm)} mm or more."


def _crest_change(then: Heights, now: Heights) -> float | None:
    mark = _same_name(then.crest_datum)
    if not mark or mark != _same_name(now.crest_datum):
        return None
    return _change(then.crest_level_mm, now.crest_level_mm)


def _same_name(text: str | None) -> str:
    """A mark's name without what two people write otherwise: capitals, and more or less white space. Empty where there is none."""
    return _SPACE.sub(" ", text or "").strip(" ").lower()


def _change(then_mm: float | None, now_mm: float | None) -> float | None:
    return None if then_mm is None or now_mm is None else now_mm - then_mm


def _mm(change_mm: float) -> str:
    return rounded(abs(change_mm), 0)
