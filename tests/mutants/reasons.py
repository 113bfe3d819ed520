"""Why a fault that survives is not worth a test: mostly that nobody could tell it from the sound code."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Reason:
    """A reason for the faults of one line; `change` is a part of what is said of them, empty for all."""

    file: str
    source: str
    change: str
    why: str


REASONS: tuple[Reason, ...] = (
    Reason("fieldlog/survey/position.py", "q_vv > 1e-6 * tape.sigma_m**2", "limit", "A tie to the last bit: of two tapes that fit equally badly either is to be read again."),
    Reason("fieldlog/survey/position.py", "> CHI2_1_95", "limit", "Two misfits that differ by the table's value to the last bit."),
    Reason("fieldlog/survey/position.py", "_gap_m(one, two) >= 0", "limit", "Tapes that only touch cross at no angle: another pair is preferred, and alone they meet on the line either way."),
    Reason("fieldlog/survey/position.py", "min(one.range_m, two.range_m) / 2", "", "Where the search begins: it comes to rest in the same place."),
    Reason("fieldlog/survey/position.py", "STEP_END_M = 1e-10", "number", "A search that rests within a tenth of a nanometre rests."),
    Reason("fieldlog/survey/position.py", "MOST_STEPS = 50", "number", "A search that comes to rest does so in some ten steps."),
    Reason("fieldlog/flags/histories.py", "strict=True", "truth", "A row has as many values as its statement has columns."),
    Reason("fieldlog/sync/merge.py", "(is_backdated(eff), *who[:2]) < (is_backdated(state[\"first\"][0]), *state[\"first\"][:2])", "", "Where stamp and id are equal it is the same entry, whose author and site are equal too."),
    Reason("fieldlog/sync/merge.py", "who[:2] > state[\"last\"][:2]", "", "Where stamp and id are equal it is the same entry, whose author and site are equal too."),
    Reason("fieldlog/sync/merge.py", "return value if way is None or len(heads) < 2 else", "limit", "The least and the greatest of one value are that value."),
    Reason("fieldlog/sync/merge.py", "abs(value) < 2**53", "limit", "A whole number of 2^53 is refused at the door, so none is compared with it."),
    Reason("fieldlog/sync/photo_copies.py", "MALLOC_ARENA_MAX", "", "How much memory the decoder keeps, which is measured, not tested."),
    Reason("fieldlog/windows/season.py", "timedelta(days=2)", "number", "A day of the Sun more on either side changes no window."),
    Reason("fieldlog/windows/exposures.py", "cut_until - cut_from > best_until - best_from", "limit", "Two lights of the same length to the second, in one window."),
    Reason("fieldlog/sync/photo_copies.py", "return False", "nothing returned", "Nothing is as false as False."),
    Reason("fieldlog/windows/access.py", "rules.closure_on(window.low_at) if rules.closures else None", "branch", "Without closures none holds: asking is only slower."),
    Reason("fieldlog/windows/daylight.py", "datetime.combine(day, time(12), clock)", "number", "The solar noon nearest to one o'clock is the one nearest to noon, but on a clock half a day off."),
    Reason("fieldlog/sync/merge.py", "if len(cell[\"heads\"]) < 2 or way in SETTLING or name in open_again:", "", "One head makes one value: the loop below says the same, and takes longer."),
    Reason("fieldlog/flags/raising.py", "ensure_ascii=False", "truth", "The evidence is read back as JSON: the same text either way."),
    Reason(
        "fieldlog/flags/raising.py", "if kind in CATALOGUE.kinds and CATALOGUE.kinds[kind].privacy not in NOT_TOLD", "condition",
        "Subjects are of the catalogue's kinds already; this line says so to the type checker and to the reader.",
    ),
    Reason("fieldlog/flags/unit_history.py", "self.site[\"zone\"] or \"UTC\"", "condition", "A site is held until it says its zone."),
    Reason("fieldlog/tides/logger_look.py", "_TIMES = (", "member removed: `('%Y-%m-%d", "The two forms that begin with the year and dashes are read as ISO before them."),
    Reason("fieldlog/tides/logger_look.py", "fitting[0] != \"iso\" and \"/\" in stamps[0]", "condition", "No ISO time has a slash."),
    Reason("fieldlog/tides/highs_lows.py", "one[1] < kept[-1][1]", "limit", "Two lows of one level, to the last bit of a fitted parabola."),
    Reason("fieldlog/tides/curve.py", "inside = (t_s >= self.from_utc.timestamp())", "limit", "A crossing in the very millisecond in which the span begins."),
    Reason("fieldlog/tides/beside_tide.py", "min(len(levels.t_s), 4000)", "swapped", "Fewer levels say the same of the lag and cost less."),
    Reason("fieldlog/tides/beside_tide.py", "part.days < WEEK_DAYS / 2", "limit", "A part of exactly 3.7 days, to the last bit, does not come about."),
    Reason("fieldlog/tides/proposal.py", "one.t_s < start + PART_S", "limit", "One level more or less among hundreds of a week."),
    Reason("fieldlog/tides/trace.py", "rising = trace.slope_m_per_s >= 0", "limit", "A slope of nought to the last bit, at a node."),
    Reason("fieldlog/tides/trace.py", "for _ in range(4):", "became `5`", "The fourth step of Newton's rests within a millisecond already."),
    Reason("fieldlog/tides/highs_lows.py", "zip(*kept, strict=True)", "truth", "Each of them is three values by its type."),
    Reason("fieldlog/access/bodies.py", "get_data(cache=False)", "truth", "How much memory a request keeps until it is answered, which is measured, not tested."),
    Reason("fieldlog/access/carried_over.py", "return top > 0 and", "limit", "Entries are numbered from one: of nought there is none in either log."),
    Reason("fieldlog/windows/exposures.py", "(self.light_starts[next_light] < self.low_s + HALF_DAY_S)", "limit", "A light that begins in the very second half a day after a low."),
    Reason("fieldlog/tides/logger_look.py", "return False", "nothing returned", "Nothing is as false as False."),
    Reason("fieldlog/tides/logger_look.py", 'given.get("decimal_comma", False)', "truth", "Only whether it is a truth at all is asked."),
    Reason("fieldlog/tides/trace.py", "_BLOCK = 256", "number", "How many times are worked out at once: any number gives the same levels."),
    Reason("fieldlog/tides/record.py", "if len(z) < 7:", "number", "Of six levels none can stand six times its neighbours' distance off."),
    Reason("fieldlog/tides/datums.py", "if at - begins > SAME_DAY_PART * TIDAL_DAY_S + 1:", "number", "A second more or less of some fifteen hours."),
    Reason("fieldlog/tides/fitting.py", "for is_high in (True, False):", "truth", "Highs alone nearly always tell the same usual delay as highs and lows."),
    Reason("fieldlog/flags/raising.py", "strict=True", "truth", "A row has as many values as its statement has columns, and a list made from rows one for each."),
    Reason("fieldlog/questions/of_ids.py", "strict=True", "truth", "A row has as many values as its statement has columns."),
    Reason("fieldlog/flags/doubt.py", "if row[name] is not None", "branch", "A field that is empty is never unlikely: the kind passes it over as well."),
    Reason("fieldlog/flags/readings.py", "method = fixes[0][\"method\"]", "number", "The readings of an epoch are all of one method."),
    Reason("fieldlog/survey/columns.py", "(self.weight > 0)[..., None]", "limit", "What fills up a row has no weight, so that its direction counts nowhere."),
    Reason("fieldlog/survey/burial.py", "abs(bed_mm) >= math.sqrt(2) * repeat_mm", "limit", "Whole millimetres are never the root of two times some."),
    Reason("fieldlog/windows/exposures.py", "(self.light_ends[next_light] > self.low_s - HALF_DAY_S)", "limit", "A light that ends in the very second half a day before a low."),
    Reason("fieldlog/windows/exposures.py", "(begins < stops) & (ends > starts)", "limit", "A light that begins in the very second in which a stretch ends."),
    Reason("fieldlog/windows/routes.py", "KEPT = 16", "number", "One more site's events are kept, or one fewer: they are made again where they are not."),
    Reason("fieldlog/tides/beside_tide.py", "abs(whole) >= max(DRIFT_MIN, 2.5 * error)", "limit", "A fitted slope that meets a limit to the last bit."),
    Reason("fieldlog/tides/beside_tide.py", "abs(late.usual_min) >= LATE_MIN", "limit", "A fitted lag that meets a limit to the last bit."),
    Reason("fieldlog/tides/beside_tide.py", "(levels.t_s < end)", "limit", "One level more among hundreds of a week."),
    Reason("fieldlog/tides/beside_tide.py", "+ 5 * _DAY_S)", "limit", "One level more among thousands of days."),
    Reason("fieldlog/tides/allowance.py", "asked_m < floor_m", "limit", "An allowance worked out that meets the least to the last bit."),
    Reason("fieldlog/tides/highs_lows.py", "> 2 * half * step * 1.2", "limit", "Levels that lie 1.2 intervals apart all along, to the last bit."),
    Reason("fieldlog/tides/highs_lows.py", "bool(square < 0)", "limit", "A parabola without a bend was passed over four lines above."),
    Reason("fieldlog/sync/merge.py", "for name, cell in state[\"fields\"].items() if cell[\"heads\"]", "branch", "Writes name each other by their hashes, so they close no circle: one at least is named by none."),
    Reason("fieldlog/sync/states.py", "enough + 1 if count > MANY", "limit", "Looking at the state of a record of exactly so many entries is only slower."),
    Reason("fieldlog/sync/states.py", "enough + 1 if count > MANY", "if True", "Looking at the state of a record of few entries is only slower."),
    Reason("fieldlog/sync/states.py", "enough + 1 if count > MANY", "became `2`", "Two more than is enough are more than is enough."),
    Reason("fieldlog/access/budget.py", "(0.0, at_s)", "number", "What is below nothing counts as nothing one line below."),
    Reason("fieldlog/sync/photos.py", "return False", "nothing returned", "Nothing is as false as False."),
    Reason("fieldlog/survey/verdict.py", "continue", "statement removed", "Of no epochs at all none hangs on a tape: asking is only slower."),
    Reason("fieldlog/survey/verdict.py", "zip(gains, (zero, now), strict=True)", "truth", "Two gains, one of each set of columns."),
)  # fmt: skip


def reason_for(file: str, line: int, what: str) -> str:
    """The reason that is on record for a fault, or a sentence that there is none."""
    source = (ROOT / file).read_text("utf-8").splitlines()[line - 1]
    found = (one.why for one in REASONS if one.file == file and one.source in source and one.change in what)
    return next(found, "No reason is on record: a test is missing.")
