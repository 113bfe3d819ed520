"""The turn-back clock stepped through whole visits, a night when the clocks change included, and what may move it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from fieldlog.stations import find
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.predict import tide_extremes
from fieldlog.windows.daylight import daylight, sun_columns

pytestmark = pytest.mark.browser

SITE = {
    "record_id": "s", "name": "Alder Spit", "zone": "America/New_York", "lat_deg": 42.35, "lon_deg": -71.05, "work_level_m": 0.6,
    "route_low_level_m": 0.9, "allowance_m": 0.2, "walk_out_min": 12, "muster_min": 10, "latest_after_low_min": None,
    "least_usable_min": 30, "closures": [],
}  # fmt: skip

STEPPED = """async ({ numbers, sun, site, fromMs, toMs, events }) => {
  const { openTide } = await import('/tides/predict.js');
  const { accessWindows, lightOf } = await import('/tides/windows.js');
  const shoreOf = await import('/views/shore.js');
  const { calls } = await import('/alarm/state.js');
  const { clockState, surelyClock } = await import('/views/turn-back.js');
  const tide = openTide(numbers);
  tide.station ??= numbers.station;
  const light = lightOf(sun);
  const windows = accessWindows(tide, site, light, fromMs - 3600e3, toMs).map((one, n) => ({ ...one, id: `w${n}` }));
  const visit = { record_id: 'v', started_at: new Date(fromMs).toISOString(), window_id: null };
  const out = Array.from({ length: 4 }, () => ({}));
  const shore = { site, tide, light, windows, visit, party: out, words: [], slowestMin: null };
  const steps = [];
  for (let nowMs = fromMs; nowMs <= toMs; nowMs += 60e3) {
    for (const event of events.filter((one) => one.atMs === nowMs)) {
      if (event.seenM !== undefined) Object.assign(visit, { observed_at: new Date(nowMs).toISOString(), observed_level_m: tide.levelAt(nowMs) + event.seenM, level_datum: event.datum ?? 'MLLW' });
      if (event.allows_m !== undefined) shore.words.push({ of_visit_id: 'v', allows_m: event.allows_m, said_at: new Date(nowMs).toISOString() });
      if (event.slowest !== undefined) shore.slowestMin = event.slowest;
      if (event.out !== undefined) shore.party = Array.from({ length: event.out }, () => ({}));
    }
    shore.seenM = shoreOf.seenOf(visit, tide);
    shore.shiftM = shoreOf.shiftOf(shore.seenM, shoreOf.allowedOf(shore.words, visit), site.allowance_m);
    const back = shoreOf.turnBack(shore, nowMs);
    const of = { atMs: back?.atMs ?? null, nowMs, out: shore.party.length };
    steps.push({ nowMs, atMs: of.atMs, reason: back?.reason, readMin: back?.readMin, ...clockState(of), calls: calls({ ...of, beforeMs: nowMs - 60e3 }), said: of.atMs === null ? null : surelyClock(of.atMs, nowMs, site.zone), shiftM: shore.shiftM });
  }
  return steps;
}"""


def stepped(page, low_after: datetime, site: dict, events: list[dict] | None = None, hours: float = 6.0) -> list[dict]:
    """The clock a minute at a time, from an hour and a half before the first low after a moment."""
    station = find("noaa/8443970")
    start, end = low_after - timedelta(days=3), low_after + timedelta(days=4)
    numbers = phone_numbers(station, start, end)
    sun = sun_columns(daylight(SITE["lat_deg"], SITE["lon_deg"], SITE["zone"], start.date(), 8))
    low = next(one.at_utc for one in tide_extremes(station, low_after, end) if one.kind == "low").replace(second=0, microsecond=0)
    from_ms = int((low - timedelta(minutes=90)).timestamp() * 1000)
    told = [{**event, "atMs": from_ms + int(event["after_min"] * 60_000)} for event in events or []]
    return page.evaluate(STEPPED, {
        "numbers": numbers, "sun": sun, "site": site, "fromMs": from_ms, "toMs": from_ms + int(hours * 3_600_000), "events": told,
    })  # fmt: skip


def by_day(page, events: list[dict] | None = None, **site: object) -> list[dict]:
    return stepped(page, datetime(2026, 6, 14, 12, tzinfo=UTC), {**SITE, **site}, events)


def test_a_whole_visit_counts_down_by_the_minute_and_calls_as_it_should(modules_page) -> None:
    steps = by_day(modules_page)
    assert len({step["atMs"] for step in steps}) == 1
    lefts = [step["leftMs"] for step in steps]
    assert {before - after for before, after in pairwise(lefts)} == {60_000}
    phases = list(dict.fromkeys(step["phase"] for step in steps))
    assert phases == ["quiet", "out", "gather", "now", "past"]
    called = [step["leftMs"] / 60_000 for step in steps if step["calls"] and step["leftMs"] > -60_000]
    assert all(mark - 1 < minute <= mark for minute, mark in zip(called, (30, 15, 5, 0), strict=True))
    late = [step for step in steps if step["phase"] == "past"]
    assert all(step["calls"] for step in late)
    assert "4 people still out" in late[0]["sentence"]
    assert not any("safe" in step["sentence"] for step in steps)


@pytest.mark.parametrize(
    ("night", "names"),
    [(datetime(2026, 11, 1, 3, tzinfo=UTC), {"GMT-4", "GMT-5"}), (datetime(2027, 3, 14, 4, tzinfo=UTC), {"GMT-5", "GMT-4"})],
    ids=["autumn, an hour twice", "spring, an hour left out"],
)
def test_on_the_night_the_clocks_change_minutes_stay_minutes_and_times_name_their_zone(modules_page, night: datetime, names: set[str]) -> None:
    """A midsummer light is lent to the night, since only the clock is looked at."""
    site = {**SITE, "lat_deg": 42.35}
    steps = stepped(modules_page, night, site, hours=9.0)
    known = [step for step in steps if step["leftMs"] is not None]
    assert len(known) == len(steps)
    lefts = [step["leftMs"] for step in known]
    assert {before - after for before, after in pairwise(lefts)} == {60_000}
    assert all(step["said"].split()[-1] in names for step in known)
    local = {step["nowMs"]: step["said"] for step in known}
    assert len(set(local.values())) == 1, "the time to turn back is one and the same all night"


def test_where_the_light_decides_higher_water_is_not_said_to_have_moved_the_time(modules_page) -> None:
    """The low comes after dark, and those who are out went in daylight."""
    steps = stepped(modules_page, datetime(2026, 11, 10, 19, tzinfo=UTC), {**SITE, "work_level_m": 0.4, "route_low_level_m": 1.8}, [{"after_min": 2, "seenM": 0.1}], hours=2.0)
    assert steps[-1]["reason"].startswith("last light ")
    assert {step["atMs"] for step in steps} == {steps[0]["atMs"]}
    assert {step["readMin"] for step in steps} == {0}


def test_higher_water_brings_the_time_forward_at_once_and_lower_water_does_not_put_it_back(modules_page) -> None:
    plain = by_day(modules_page)[0]["atMs"]
    higher = by_day(modules_page, [{"after_min": 30, "seenM": 0.2}])
    assert higher[29]["atMs"] == plain
    assert 10 <= (plain - higher[30]["atMs"]) / 60_000 <= 60
    lower = by_day(modules_page, [{"after_min": 30, "seenM": -0.15}])
    assert {step["atMs"] for step in lower} == {plain}


def test_lower_water_counts_on_a_leads_word_only_as_far_as_it_goes_and_until_the_next_reading(modules_page) -> None:
    plain = by_day(modules_page)[0]["atMs"]
    steps = by_day(modules_page, [
        {"after_min": 30, "seenM": -0.15}, {"after_min": 40, "allows_m": 0.1}, {"after_min": 90, "seenM": -0.02}, {"after_min": 120, "seenM": 0.1},
    ])  # fmt: skip
    assert steps[39]["atMs"] == plain
    assert steps[40]["shiftM"] == pytest.approx(-0.1)
    assert steps[40]["atMs"] > plain
    assert steps[90]["shiftM"] == 0, "a newer reading wants a newer word"
    assert steps[120]["atMs"] < plain


def test_a_word_never_lets_more_count_than_the_allowance(modules_page) -> None:
    steps = by_day(modules_page, [{"after_min": 10, "seenM": -0.6}, {"after_min": 11, "allows_m": 0.5}])
    assert steps[11]["shiftM"] == pytest.approx(-0.2)


def test_a_reading_on_another_datum_moves_nothing(modules_page) -> None:
    steps = by_day(modules_page, [{"after_min": 30, "seenM": 0.5, "datum": "NAVD88"}])
    assert {step["atMs"] for step in steps} == {steps[0]["atMs"]}


def test_a_slower_walk_and_a_crowd_bring_it_forward_by_the_minute(modules_page) -> None:
    """By hand: 1.5 x (20 - 12) = 12 min; 16 people are 6 more than ten, half a minute each: 3 min."""
    steps = by_day(modules_page, [{"after_min": 20, "slowest": 20}, {"after_min": 40, "out": 16}, {"after_min": 60, "out": 4}])
    plain = steps[0]["atMs"]
    assert (plain - steps[20]["atMs"]) / 60_000 == 12
    assert (plain - steps[40]["atMs"]) / 60_000 == 15
    assert (plain - steps[60]["atMs"]) / 60_000 == 12


def test_with_everyone_in_it_stays_silent(modules_page) -> None:
    steps = by_day(modules_page, [{"after_min": 0, "out": 0}])
    assert {step["phase"] for step in steps} == {"back"}
    assert not any(step["calls"] for step in steps)


def test_the_27_minutes_that_20_cm_cost(modules_page) -> None:
    """
    A cosine of 12.42 h and 2.0 m range whose way floods 0.6 m above low: 2 h 17.5 min after low; with 0.2 m more water 1 h 50.0 min,
    27.5 min lost; with a walk of 15 min stretched by half, turn back at 1 h 27.5 min (worked from the cosine itself).
    """
    told = modules_page.evaluate("""async () => {
      const { accessWindows, shorten } = await import('/tides/windows.js');
      const low = Date.parse('2026-06-14T12:00:00Z');
      const period = 12.42 * 3600e3;
      const level = (ms) => 1 - Math.cos((2 * Math.PI * (ms - low)) / period);
      const at = (m) => (Math.acos(1 - m) / (2 * Math.PI)) * period;
      const tide = { extremes: () => [-1, 0, 1].flatMap((k) => [{ ms: low + k * period, level_m: 0, kind: 'low' }, { ms: low + (k + 0.5) * period, level_m: 2, kind: 'high' }]),
        crossings: (m) => (m <= 0 || m >= 2 ? [] : [-1, 0, 1].flatMap((k) => [{ ms: low + k * period - at(m), rising: false }, { ms: low + k * period + at(m), rising: true }])),
        fromMs: low - 2 * period, toMs: low + 2 * period, isEstimated: false, warnings: [], levelAt: level };
      const rules = { zone: 'UTC', work_level_m: 1.5, route_low_level_m: 0.6, allowance_m: 0, walk_out_min: 0, muster_min: 0, least_usable_min: 0 };
      const light = [{ startsMs: 0, endsMs: 1e15 }];
      const [one] = accessWindows(tide, rules, light, low - 1000, low + 1000);
      const higher = shorten(one, 0.2, tide, rules);
      const walk = shorten(accessWindows(tide, { ...rules, walk_out_min: 15 }, light, low - 1000, low + 1000)[0], 0.2, tide, { ...rules, walk_out_min: 15 });
      return [one, higher, walk].map(({ backMs }) => (backMs - low) / 60e3);
    }""")
    # Told in whole minutes, the flooding turned down and the walk up.
    assert [minutes // 1 for minutes in told] == told
    assert all(exact - 1.6 < minutes <= exact for minutes, exact in zip(told, (137.5, 110.0, 87.5), strict=True))
    assert told[0] - told[1] == pytest.approx(27.5, abs=1)


def test_the_water_now_is_as_much_higher_as_it_was_read(modules_page) -> None:
    """Predicted 0.60 m at 08:00 and read as 1.00 m: 0.40 m more also at 08:12, where 0.52 m was predicted."""
    told = modules_page.evaluate("""async () => {
      const { waterAt, waterNow } = await import('/views/shore.js');
      const [readMs, nowMs] = ['2026-06-14T08:00:00Z', '2026-06-14T08:12:00Z'].map(Date.parse);
      const tide = { fromMs: 0, toMs: nowMs + 3600e3, levelAt: (ms) => (ms === readMs ? 0.6 : 0.52) };
      const visit = { observed_at: new Date(readMs).toISOString(), observed_level_m: 1 };
      return [0.4, -0.1, null].map((seenM) => [waterAt({ tide, seenM }, nowMs),
        waterNow({ tide, visit, seenM }, nowMs, { zone: 'UTC', settings: { feet: false } }).sentence]);
    }""")
    assert [level for level, _ in told] == pytest.approx([0.92, 0.42, 0.52])
    assert [sentence for _, sentence in told] == [
        "read 1.00 m at 08:00, about 0.92 m now", "read 1.00 m at 08:00, about 0.42 m now", "predicted 0.52 m at 08:12",
    ]  # fmt: skip


STATES = """async (lefts) => {
  const { clockState } = await import('/views/turn-back.js');
  return lefts.map((left) => clockState({ atMs: 1e12, nowMs: 1e12 - left * 1000, out: 3 }).phase);
}"""


def test_the_clocks_word_changes_at_the_hour_the_quarter_the_minute_and_the_minute_past(modules_page) -> None:
    told = modules_page.evaluate(STATES, [3601, 3600, 901, 900, 1, 0, -59, -60, -3600])
    assert told == ["quiet", "out", "out", "gather", "gather", "now", "now", "past", "past"]


CALLED = """async (looks) => {
  const { calls } = await import('/alarm/state.js');
  return looks.map(([before, now, out]) => calls({ atMs: 1e12, beforeMs: 1e12 - before * 1000, nowMs: 1e12 - now * 1000, out: out ?? 1 }));
}"""


@pytest.mark.parametrize("minute", [30, 15, 5, 0])
def test_the_phone_calls_once_at_30_15_5_and_0_minutes_however_it_looks(modules_page, minute: int) -> None:
    at = minute * 60
    told = modules_page.evaluate(CALLED, [[at + 1, at], [at + 400, at - 20 if at else at], [at, at - 1 if at else at], [at + 20, at + 1], [at + 1, at, 0], [at - 1, at + 1]])
    assert told == [True, True, False, False, False, False]


def test_past_the_time_the_phone_calls_every_minute(modules_page) -> None:
    told = modules_page.evaluate(CALLED, [[-59, -60], [-60, -61], [-60, -120], [-61, -119], [-119, -121]])
    assert told == [False, True, True, False, True]


WALKS = """async ({ visits, running }) => {
  const { readShore } = await import('/views/shore.js');
  const tables = { visit: visits };
  const phone = { me: { site_id: 's' }, now: () => Date.parse('2026-11-27T17:00:00Z'), pack: () => null, tides: () => null, windows: () => [],
    row: async () => null, rows: async (kind) => tables[kind] ?? [] };
  return (await readShore(phone, visits.find((one) => one.record_id === running))).slowestMin;
}"""


def test_only_walks_timed_on_this_visit_and_those_joined_to_it_move_its_time(modules_page) -> None:
    """A walk of another day would bring the time forward at the start, and stand in no window that was planned with."""
    visits = [
        {"record_id": "old", "started_at": "2026-11-13T14:00:00Z", "ended_at": "2026-11-13T17:00:00Z", "walk_timed_min": 40},
        {"record_id": "runs", "started_at": "2026-11-27T14:00:00Z", "walk_timed_min": 14},
        {"record_id": "joined", "started_at": "2026-11-27T14:05:00Z", "walk_timed_min": 20, "joined_to": "runs"},
        {"record_id": "untimed", "started_at": "2026-11-27T14:00:00Z", "ended_at": "2026-11-27T14:10:00Z"},
    ]  # fmt: skip
    slowest = {name: modules_page.evaluate(WALKS, {"visits": visits, "running": name}) for name in ("runs", "untimed", "old")}
    assert slowest == {"runs": 20, "untimed": None, "old": 40}


LOWS = """async ({ visits, running }) => {
  const { plannedWindow, readShore } = await import('/views/shore.js');
  const tables = { visit: visits };
  const windows = ['2026-11-27T09:36:00Z', '2026-11-27T21:25:00Z'].map((at) => ({ id: at, lowMs: Date.parse(at), opensMs: null, closesMs: null }));
  const phone = { me: { site_id: 's' }, now: () => Date.parse('2026-11-27T17:30:00Z'), pack: () => null, tides: () => null, windows: () => windows,
    row: async () => null, rows: async (kind) => tables[kind] ?? [] };
  return plannedWindow(await readShore(phone, visits.find((one) => one.record_id === running)))?.id ?? null;
}"""


def test_a_join_gives_nobody_on_the_shore_a_later_time_to_turn_back_or_none(modules_page) -> None:
    """A lead joined the visit that ran to one that named no low, and every phone on it said that no time was known."""
    morning, evening = "2026-11-27T09:36:00Z", "2026-11-27T21:25:00Z"
    started = {"started_at": "2026-11-27T17:00:00Z"}

    def low(stands: str | None, joined: str | None) -> str | None:
        visits = [{"record_id": "stands", "window_id": stands, **started}, {"record_id": "joined", "window_id": joined, "joined_to": "stands", **started}]
        return modules_page.evaluate(LOWS, {"visits": visits, "running": "stands"})

    assert low(None, evening) == evening
    assert low(evening, None) == evening
    assert low(evening, morning) == low(morning, evening) == morning
    assert low(None, None) is None


WHY = """async ({ back, party }) => {
  const { backWords, whyBack } = await import('/views/shore.js');
  const shore = { shiftM: 0, slowestMin: 20, site: { zone: 'UTC', walk_out_min: 12 }, party: Array.from({ length: party }, () => ({})) };
  return [whyBack(back, shore, { settings: { feet: false } }), backWords(back, shore, { zone: 'UTC', settings: { feet: false } })];
}"""


def test_the_time_is_never_told_without_all_that_moved_it(modules_page) -> None:
    """12 people are two more than ten: 17:27 by last light less the walk is told as 17:26."""
    back = {
        "atMs": int(datetime(2026, 11, 27, 17, 26, tzinfo=UTC).timestamp()) * 1000, "reason": "last light is 17:45, and the walk in takes up to 18 min",
        "readMin": 0, "slowerMin": 0, "crowdMin": 1,
    }  # fmt: skip
    why, words = modules_page.evaluate(WHY, {"back": back, "party": 12})
    assert why == ["Last light is 17:45, and the walk in takes up to 18 min.", "1 min earlier: to gather 12 people."]
    assert words == "Turn back by 17:26: last light is 17:45, and the walk in takes up to 18 min. 1 min earlier: to gather 12 people."
    slow, _ = modules_page.evaluate(WHY, {"back": {**back, "slowerMin": 12, "crowdMin": 0}, "party": 4})
    assert slow[1] == "12 min earlier: the walk took 20 min, the site says 12."
    _, bare = modules_page.evaluate(WHY, {"back": {**back, "reason": None, "crowdMin": 0}, "party": 4})
    assert bare == "Turn back by 17:26."


PATHS = """async (windows) => {
  const { pathWords } = await import('/views/shore.js');
  return windows.map(([driesMs, usableMin, ...words]) => pathWords({ driesMs, usableMin, cautions: words.map((word) => ({ word })) }, 'UTC'));
}"""


def test_a_path_that_stays_dry_or_wet_is_known_to(modules_page) -> None:
    told = modules_page.evaluate(PATHS, [[0, 60], [None, 60, "route-stays-dry"], [None, 0, "route-wet"], [None, 60], [None, 0, "above-work"]])
    assert told == ["00:00", "dry all the time", "stays wet", "over a day before", "not known"]


KEPT = """async (sites) => {
  const { allowanceKept, basisKept, basisOf } = await import('/views/allowance.js');
  return sites.map((site) => [allowanceKept(site), basisOf({ allowance_m: allowanceKept(site), allowance_basis: basisKept(site) })]);
}"""


def test_an_allowance_that_stays_beside_another_tide_says_whose_it_was(modules_page) -> None:
    """Told as set by a lead, a record's number and our own proposal lost where they come from."""
    record = "exceeded by 5 of 100 lows of 90 days"
    of_another = f"said of another tide: {record}"
    long = "x" * 200
    told = modules_page.evaluate(KEPT, [
        {"allowance_m": 0.35, "allowance_basis": record}, {"allowance_m": 0.35, "allowance_basis": of_another}, {"allowance_m": 0.1, "allowance_basis": record},
        {"allowance_m": 0.35, "allowance_basis": None}, {"allowance_m": None}, {"allowance_m": 0.35, "allowance_basis": long},
    ])  # fmt: skip
    ours = "our suggestion"
    assert told[:5] == [
        [0.35, of_another], [0.35, of_another], [0.2, f"{ours}; the one for another tide is less"],
        [0.35, "set by a lead, without a record"], [0.2, f"{ours}, since this site has no record yet"],
    ]  # fmt: skip
    assert (len(told[5][1]), told[5][1][-1]) == (200, "\u2026")


def test_a_visit_is_begun_on_the_low_under_way_else_on_the_next_with_time_to_work(modules_page) -> None:
    """Before, the next low was chosen beforehand, also one in the middle of the night without usable time."""
    chosen = modules_page.evaluate("""async () => {
      const { lowToStart } = await import('/views/shore.js');
      const at = (id, opensMs, usable) => ({ id, opensMs, lowMs: opensMs + 2, closesMs: opensMs + 4, fromMs: usable ? opensMs + 1 : null, backMs: usable ? opensMs + 3 : null });
      const near = [at('night', 10, false), at('day', 22, true), at('next', 34, true)];
      return [lowToStart(near, 5), lowToStart(near, 11), lowToStart(near.slice(0, 1), 5), lowToStart([], 5)].map((one) => one?.id ?? null);
    }""")
    assert chosen == ["day", "night", "night", None]
