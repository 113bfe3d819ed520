"""
Faults planted by hand in the JavaScript: mistakes at limits and in rare branches, each against the tests of what it breaks.

One whose text is gone fails `tests/mutants/test_mutants.py`: plant it anew in what stands there now.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Planted:
    """A piece of text that stands once in a file, what stands there instead, and the tests to ask."""

    file: str
    right: str
    wrong: str
    tests: tuple[str, ...]


SURVEY = ("tests/survey/test_survey_js.py", "tests/survey/test_readings_js.py")
WINDOWS = ("tests/windows/test_windows_js.py",)
CURVES = ("tests/tides/test_tide_js.py", "tests/tides/test_curve_vectors.py", *WINDOWS)
VALUES = ("tests/records/test_values.py", "tests/records/test_tags.py", "tests/records/test_catalogue.py")
MERGE = ("tests/phone/test_sync_vectors.py", "tests/phone/test_careful_values.py")
CLOCK = ("tests/views/test_turn_back_clock.py",)
ALARM = ("tests/views/test_alarm_state.py", "tests/views/test_turn_back_clock.py")
PLAN = ("tests/views/test_plan_order.py",)
CHECK = ("tests/views/test_unit_check.py",)
SYNC = ("tests/phone/test_sync_vectors.py", "tests/phone/test_saving.py", "tests/phone/test_schedules.py")
LETTING_GO = ("tests/phone/test_retention.py", "tests/phone/test_photo_sending.py")
PHOTOS = ("tests/phone/test_photo_sending.py",)


def _of(file: str, tests: tuple[str, ...], changes: list[tuple[str, str]]) -> tuple[Planted, ...]:
    return tuple(Planted(f"static/{file}", right, wrong, tests) for right, wrong in changes)


PLANTED: tuple[Planted, ...] = (
    *_of("survey/grades.js", SURVEY, [
        ("width_mm < CRACK_MM[0]", "width_mm <= CRACK_MM[0]"),
        ("width_mm <= CRACK_MM[1]", "width_mm < CRACK_MM[1]"),
        ("depth > CHIP_DEPTH_MM ||", "depth >= CHIP_DEPTH_MM ||"),
        ("depth_mm <= SCALING_MM[1]", "depth_mm < SCALING_MM[1]"),
        ("volume_pct <= LOST_PCT", "volume_pct < LOST_PCT"),
        ("part_pct < TOE_PCT[0]", "part_pct <= TOE_PCT[0]"),
        ("(limit) => buried > limit", "(limit) => buried >= limit"),
        ("part.value > most.value", "part.value < most.value"),
    ]),
    *_of("survey/movement.js", SURVEY, [
        ("gE * gE * variance", "gE * gN * variance"),
        ("sign * part", "part"),
        ("p >= ASK_P && movement.misfit", "p >= ASK_P / 9 && movement.misfit"),
        ("+ byMarks)", "+ 9 * byMarks + 1)"),
        ("&& !now.doubts.length", ""),
        ("+ gridAzimuthDeg + 360", "- gridAzimuthDeg + 360"),
        ("'placed', 'reset', 'righted', 'replaced'", "'placed', 'reset', 'replaced'"),
        ("Math.floor(bearing_deg / 45 + 0.5) % 8", "Math.floor(bearing_deg / 45) % 8"),
    ]),
    *_of("views/readings.js", SURVEY, [
        ("Number(sigma_m) >= LEAST_SIGMA_M", "Number(sigma_m) >= 0"),
        (">= start ? measured(own, known) : null", "> start ? measured(own, known) : null"),
    ]),
    *_of("survey/position.js", SURVEY, [
        ("if (cut >= LEAST_CUT_DEG) return null;", "if (cut >= 0) return null;"),
        ("if (ratio <= Z_95) return null;", "if (ratio <= 2 * Z_95) return null;"),
        ("if (ranges.length < 3) return null;", "if (ranges.length < 4) return null;"),
        ("freedom > 0 ?", "freedom > 1 ?"),
        ("<= 2 * (one.sigma_m + two.sigma_m)", "<= (one.sigma_m + two.sigma_m) / 9"),
    ]),
    *_of("tides/cautions.js", WINDOWS, [
        ("holding.find((closure) => closure.stops) ?? holding[0]", "holding[0]"),
        ("at >= from || at <= to", "at > from || at <= to"),
        ("from <= at && at <= to :", "from <= at && at < to :"),
        ("return first <= day && day <= last;", "return first < day && day <= last;"),
        ("const year = !closure?.every_year;", "const year = Boolean(closure?.every_year);"),
    ]),
    *_of("tides/windows.js", WINDOWS, [
        ("seenMinusPredictedM <= 0 ||", "seenMinusPredictedM < -9 ||"),
        ("fresh.backMs < window.backMs);", "fresh.backMs > window.backMs);"),
        ("window.backMs <= window.opensMs", "window.backMs < window.opensMs - 9e9"),
        ("window.usableMin < Math.max(rules.least_usable_min, 1)", "window.usableMin <= Math.max(rules.least_usable_min, 1)"),
        ("back.backMs ?? Infinity, down(light.endsMs - walkMs(rules))", "back.backMs ?? Infinity, light.endsMs"),
        ("if (light) reasons.light = down(light.endsMs - walkMs(rules));", ""),
        ("Math.max(startsMs, up(light.startsMs + outMs(rules)))", "Math.max(startsMs, light.startsMs)"),
        ("ground.closesMs ?? Infinity, byWaterMs)", "ground.closesMs ?? Infinity)"),
        ("[up(low.beginsMs), ground.opensMs, path.walkedMs, reopensMs]", "[ground.opensMs, path.walkedMs, reopensMs]"),
        ("up(opensMs + outMs(rules))", "opensMs"),
        ("isOpen ? site.closesMs ?? Infinity : Infinity", "Infinity"),
        ("if (low.isJoined) return ['same-window'];", ""),
        ("window.untilMs !== null && window.untilMs > nowMs", "window.untilMs !== null && window.untilMs >= nowMs"),
        (" - walkMs(rules) - musterMs(rules))", " - walkMs(rules))"),
        ("Math.floor(rules.latest_after_low_min * 60)", "Math.floor(rules.latest_after_low_min * 61)"),
        ("bounds.untilMs > bounds.fromMs;", "bounds.untilMs >= bounds.fromMs - 9e9;"),
    ]),
    *_of("tides/constants.js", WINDOWS, [
        ("allowance_m: 0.2,", "allowance_m: 0.1,"),
        ("walk_out_factor: 1.5,", "walk_out_factor: 1,"),
        ("rules?.constants ?? BEFORE_PACKS_SAID", "BEFORE_PACKS_SAID"),
    ]),
    *_of("tides/turning.js", WINDOWS, [
        ("return { atMs, leftMs, reason: backReason(", "return { atMs, leftMs: Math.abs(leftMs), reason: backReason("),
        ("Math.ceil(ms / MINUTE_MS) * MINUTE_MS", "Math.floor(ms / MINUTE_MS) * MINUTE_MS"),
        ("closureOn(rules, ends)?.stops ? ends - walkMs(rules) : null", "null"),
        ("closureOn(rules, begins - 1)?.stops ? begins + outMs(rules) : null", "null"),
        ("begins + outMs(rules)", "begins"),
        ("const floodsMs = walkedMs + musterMs(rules);", "const floodsMs = walkedMs;"),
    ]),
    *_of("tides/predict.js", CURVES, [
        ("turn.isHigh ? offsets.high : offsets.low", "turn.isHigh ? offsets.low : offsets.high"),
        ("if (k % RESEED === 0) {", "if (k === 1) {"),
        ("Math.abs(next.before - turn.level) < CLOSE_M", "Math.abs(next.before - turn.level) < 99"),
        ("turn.level * times + plus, turn.before", "turn.level + plus, turn.before"),
    ]),
    *_of("records/validate.js", VALUES, [
        ("least <= value && value <= most)) {", "least < value && value <= most)) {"),
        ("plausible[0] <= value && value <= plausible[1]", "plausible[0] <= value"),
        ("year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0)", "year % 4 === 0"),
        ("day >= 1 && day <=", "day <="),
        ("count < least || count > most", "count > most"),
        ("later >= earlier", "later > earlier"),
        ("gaps.length === 0 || gaps.length === fields.length", "gaps.length === 0"),
        ("text.slice(17, 19) <= '59'", "text.slice(17, 19) <= '60'"),
    ]),
    *_of("records/tags.js", VALUES, [("(letter.charCodeAt(0) - 64) % 10", "(letter.charCodeAt(0) - 65) % 10")]),
    *_of("log/merge.js", MERGE, [
        ("=== 'lower' ? Math.min(...numbers) : Math.max(...numbers)", "=== 'lower' ? Math.max(...numbers) : Math.min(...numbers)"),
        ("if (values.includes(way === 'higher')) return way === 'higher';", "if (values.includes(way !== 'higher')) return way !== 'higher';"),
        ("return values.includes(null) ? null : latest;", "return latest;"),
        (": isBackdated(other[0]));", ": isBackdated(eff));"),
        (".slice(-MOST_BASES)", ".slice(0, MOST_BASES + 1)"),
        ("if (!waiting.delete(id)) heads.set(", "heads.set("),
        ("(eff === other[0] && id < other[1])", "(eff === other[0] && id > other[1])"),
        ("const value = heads[heads.length - 1][2];", "const value = heads[0][2];"),
        ("(values.includes(null) ? null\n", "(values.includes(undefined) ? null\n"),
        ("(other < one ? other : one)", "(other > one ? other : one)"),
        ("normal(name, value), said.b", "value, said.b"),
        ("(values.includes(true) ? true : latest)", "latest"),
        ("if (kept.length > 1) open[name]", "if (kept.length > 2) open[name]"),
    ]),
    *_of("log/line.js", SYNC, [
        ("counter < COUNTER_MAX ?", "counter <= COUNTER_MAX ?"),
        ("if (nowMs > ms) return pack(nowMs, 0);", "if (nowMs >= ms) return pack(nowMs, 0);"),
        ("& 3) | 8).toString(16);\n  return dashed(`${digits.slice(0, 12)}5", "& 3) | 4).toString(16);\n  return dashed(`${digits.slice(0, 12)}5"),
    ]),
    *_of("alarm/state.js", ALARM, [
        ("const CALLS_MIN = [30, 15, 5, 0];", "const CALLS_MIN = [29, 15, 5, 0];"),
        ("atMs === null || out === 0 || nowMs <= beforeMs", "atMs === null || nowMs <= beforeMs"),
        ("nowMs >= backMs - BANNER_MS", "nowMs > backMs - BANNER_MS"),
        ("const isQuiet = nowMs < silencedMs;", "const isQuiet = nowMs <= silencedMs;"),
        ("Math.max(ms, silencedMs)", "ms"),
        ("rings: !isQuiet && (isMissed || callsSince(lookedMs))", "rings: !isQuiet && callsSince(lookedMs)"),
    ]),
    *_of("views/turn-back.js", CLOCK, [
        ("if (leftMs <= -MINUTE_MS)", "if (leftMs < -MINUTE_MS)"),
        ("leftMs <= GATHER_MIN * MINUTE_MS", "leftMs < GATHER_MIN * MINUTE_MS"),
        ("leftMs > 60 * MINUTE_MS ? 'quiet' : 'out'", "leftMs > 90 * MINUTE_MS ? 'quiet' : 'out'"),
    ]),
    *_of("views/shore.js", (*CLOCK, *PLAN), [
        ("Math.max(seenM, -Math.min(allowsM, allowanceM)) || 0", "Math.max(seenM, -allowsM) || 0"),
        (">= (msOf(visit.observed_at) ?? Infinity)", ">= 0"),
        ("tide.levelAt(ms) + (shore.seenM ?? 0)", "tide.levelAt(ms)"),
        ("Math.ceil(Math.max(0, people - MUSTERED) / 2)", "Math.ceil(Math.max(0, people - MUSTERED))"),
        ("visit.level_datum !== tide.station.chart_datum", "visit.level_datum === 'none'"),
    ]),
    *_of("views/floods.js", PLAN, [
        ("bedM - allowanceOf(site ?? {}) - shiftM", "bedM - allowanceOf(site ?? {})"),
        ("tide.levelAt(nowMs) > waterM && nowMs > lowMs", "false"),
        ("?.lowMs ?? nowMs - FLOODS_MS;", "?.lowMs ?? nowMs;"),
    ]),
    *_of("views/plan.js", PLAN, [
        ("const LATE_MS = 5 * MINUTE_MS;", "const LATE_MS = 45 * MINUTE_MS;"),
        ("(msOf(other.made_at) ?? 0) - (msOf(one.made_at) ?? 0)", "(msOf(one.made_at) ?? 0) - (msOf(other.made_at) ?? 0)"),
        ("stop.weight < worst.weight ||", "stop.weight > worst.weight ||"),
        ("Math.min(untilOf(stop.stopId) ?? Infinity, backMs ?? Infinity)", "untilOf(stop.stopId) ?? Infinity"),
    ]),
    *_of("views/unit-check.js", CHECK, [
        ("if (!this.found) for (const name of MEASURED)", "if (false) for (const name of MEASURED)"),
        ("MEASURED.some((name) => has(fields, name))", "false"),
    ]),
    *_of("views/unit-facts.js", CHECK, [
        ("check.found_state === 'seen' || check.found_state === 'probed';", "check.found_state === 'seen';"),
        ("'crest_datum', 'body_grade', 'stance_grade', 'toe_grade', 'cover_grade',", "'crest_datum',"),
    ]),
    *_of("store/retention.js", LETTING_GO, [
        ("const TEXT_DAYS = 90;", "const TEXT_DAYS = 80;"),
        ("> TEXT_DAYS * DAY_MS;", "< TEXT_DAYS * DAY_MS;"),
        ("durable < covered.n || nowMs", "nowMs"),
    ]),
    *_of("sync/photo-upload.js", PHOTOS, [
        ("one.size - other.size", "other.size - one.size"),
        ("restarts > MOST_RESTARTS", "restarts > 99"),
    ]),
)  # fmt: skip
