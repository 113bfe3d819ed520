"""
A window after the water was read higher than predicted, made once more with the server's engine.

Only a phone needs that, on the shore (`shorten` in `static/tides/windows.js`); it is held to this.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fieldlog.windows.access import Window, numbers_of, windows_of
from fieldlog.windows.cautions import caution
from fieldlog.windows.daylight import Light
from fieldlog.windows.exposures import LIGHTS, Columns, Crossed, Exposures
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.turning import BACK_WORDS
from fieldlog.windows.water import REACH_S, Low


def shorten(window: Window, seen_minus_predicted_m: float, curve: Crossed, rules: SiteRules) -> Window:
    """
    The window after a level was read on the shore: shorter where the water stood higher than predicted.

    Args:
        window: one of `access_windows` of the same curve and rules.
        seen_minus_predicted_m: metres; 0 or less changes nothing, since only a lead may lengthen a window.
    """
    if seen_minus_predicted_m <= 0 or {"above-work", "same-window"} & {one.word for one in window.cautions}:
        return window
    higher = replace(rules, allowance_m=rules.allowance_m + seen_minus_predicted_m)
    low_s = round(window.low_at.timestamp())
    begins_s = low_s - REACH_S if window.usable_from is None else int(window.usable_from.timestamp())
    ends_s = low_s + REACH_S if window.turn_back_at is None else int(window.turn_back_at.timestamp())
    low = Low(low_s, window.low_level_m, begins_s, ends_s, False)
    # The light has had its say in the window, and so has the stretch that the low owns: within it all is light, or nothing is.
    light = [Light(0, _FAR_S)] if window.usable_from else []
    work_m = rules.work_level_m if window.bed_level_m is None else window.bed_level_m
    one = Columns(curve, higher, light, lambda _dry_below_m: [low]).at_levels([work_m])
    (shorter,) = windows_of(_within(one, window, low_s), curve, higher, window.bed_level_m)
    told = caution("water-higher", numbers_of(shorter, higher), stops=False)
    return replace(shorter, window_id=window.window_id, cautions=(told, *shorter.cautions))


_FAR_S = 2**40


def _within(one: Exposures, window: Window, low_s: int) -> Exposures:
    """The columns of one low in higher water, with the light of the window before it, and its time to turn back where that is no later."""
    back_s, word = one.back_s[0, 0], int(one.back_word[0, 0])
    if word == BACK_WORDS.index("light"):
        back_s, word = math.nan, -1
    if window.turn_back_at and window.turn_back_word and not back_s < window.turn_back_at.timestamp() and (one.is_below & ~one.is_joined)[0, 0]:
        back_s, word = window.turn_back_at.timestamp(), BACK_WORDS.index(window.turn_back_word)
    return replace(
        one, back_s=np.array([[back_s]]), back_word=np.array([[word]]), light=np.array([[LIGHTS.index(window.daylight)]]),
        begins_s=np.array([[low_s - REACH_S]]), ends_s=np.array([[low_s + REACH_S]]),
    )  # fmt: skip
