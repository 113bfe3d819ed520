"""When a phone asks for a second set while still at the unit (`static/survey/movement.js`), said once more: it is held to it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldlog.survey.columns import columns_of
from fieldlog.survey.tape_scale import TapeScale
from fieldlog.survey.verdict import ASK_P, Comparison, Pair, mark_sigmas

ASK_MISFIT = 1.96
"""|v| over its own sigma from which another set is asked for while still at the unit: one good fix in twenty."""


def asks_again(pairs: Sequence[Pair], scale: TapeScale) -> list[bool]:
    """Whether a second set should be taken now, of each pair alone: p under 0.05, or a tape that fits badly."""
    sigmas = mark_sigmas(pairs)
    zero, now = (columns_of([getattr(pair, name) for pair in pairs], list(sigmas)) for name in ("zero", "now"))
    test = Comparison(scale, np.repeat(np.array(list(sigmas.values()), float) ** 2, 2))
    fits_badly = test.misfits(now).max(1, initial=0.0) > ASK_MISFIT
    return [bool(one) for one in (test.p(zero, now)[0] < ASK_P) | fits_badly]
