"""When the turn-back alarm sounds, is silenced, and says that it was silent: its state over times, as numbers."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

BACK_S = 1_000_000
ASKED = """async (looks) => {
  const { alarmState } = await import('/alarm/state.js');
  const ms = (s) => (s === null ? null : s * 1000);
  return looks.map((of) => alarmState({ nowMs: ms(of.now), backMs: ms(of.back), out: of.out, heardMs: ms(of.heard), lookedMs: ms(of.looked), awaySinceMs: ms(of.away) }));
}"""


def state(page, minutes_left: float, *, looked_left: float | None = None, heard_left: float | None = None, away_left: float | None = None, out: int = 3) -> dict:
    """The state so many minutes before turning back; the look before, "Heard" and the leaving are told by the same count."""

    def at(left: float | None) -> float | None:
        return None if left is None else BACK_S - left * 60

    looked = minutes_left + 1 / 12 if looked_left is None else looked_left
    (found,) = page.evaluate(ASKED, [
        {"now": at(minutes_left), "back": BACK_S, "out": out, "looked": at(looked), "heard": at(heard_left), "away": at(away_left)}
    ])  # fmt: skip
    return found


@pytest.mark.parametrize(("left", "shows", "is_due"), [(15.02, False, False), (15, True, False), (0.02, True, False), (0, True, True), (-600, True, True)])
def test_the_banner_stands_from_15_minutes_before_for_as_long_as_someone_is_out(modules_page, left: float, shows: bool, is_due: bool) -> None:
    found = state(modules_page, left)
    assert (found["shows"], found["isDue"]) == (shows, is_due)
    assert not state(modules_page, left, out=0)["shows"]


def test_without_a_time_to_turn_back_nothing_shows_and_nothing_sounds(modules_page) -> None:
    (found,) = modules_page.evaluate(ASKED, [{"now": 1e6, "back": None, "out": 3, "looked": 9e5, "heard": None, "away": 9e5}])
    assert not (found["shows"] or found["isDue"] or found["rings"])
    assert found["silentFromMs"] is None


@pytest.mark.parametrize(("left", "rings"), [(30, True), (29, False), (15, True), (5, True), (0, True), (-0.5, False), (-1, False), (-1.02, True), (-2, False), (-2.02, True)])
def test_it_sounds_at_30_15_5_and_0_minutes_and_then_every_minute(modules_page, left: float, rings: bool) -> None:
    assert state(modules_page, left)["rings"] is rings
    assert not state(modules_page, left, out=0)["rings"]


@pytest.mark.parametrize(("heard_left", "left", "rings"), [(-2.5, -3.02, False), (-2.5, -7.02, False), (-2.5, -8.02, True), (-3.5, -9.02, True), (4.9, 0, False), (5.1, 0, True)])
def test_heard_silences_it_for_five_minutes_and_no_longer(modules_page, heard_left: float, left: float, rings: bool) -> None:
    found = state(modules_page, left, heard_left=heard_left)
    assert found["rings"] is rings
    assert (found["quietUntilMs"] is None) is rings
    assert found["shows"], "the banner stays"
    assert state(modules_page, -8, heard_left=-3)["quietUntilMs"] is None


def test_back_from_the_background_it_sounds_and_says_since_when_it_was_silent(modules_page) -> None:
    found = state(modules_page, -20.5, looked_left=-20.4, away_left=3)
    assert found["rings"]
    assert found["silentFromMs"] == (BACK_S - 180) * 1000


@pytest.mark.parametrize(("left", "away_left"), [(25, 29), (45, 90), (-0.9, -0.2)])
def test_who_missed_no_call_is_not_told_of_any_silence(modules_page, left: float, away_left: float) -> None:
    found = state(modules_page, left, away_left=away_left)
    assert (found["rings"], found["silentFromMs"]) == (False, None)


def test_what_it_was_told_to_keep_silent_about_was_not_missed(modules_page) -> None:
    silenced = state(modules_page, -6, heard_left=-2, away_left=-2.5)
    assert (silenced["rings"], silenced["silentFromMs"]) == (False, None)
    later = state(modules_page, -9, heard_left=-2, away_left=-2.5)
    assert later["rings"]
    assert later["silentFromMs"] == (BACK_S + 7 * 60) * 1000


def test_a_gap_longer_than_the_slowest_look_means_that_the_phone_slept(modules_page) -> None:
    told = modules_page.evaluate("""async () => {
      const { asleepSince } = await import('/alarm/state.js');
      return [asleepSince(1000, 6000), asleepSince(1000, 91_000), asleepSince(1000, 91_001), asleepSince(1000, 500)];
    }""")
    assert told == [None, None, 1000, None]


PARTY = """async ({ visit, visits, out }) => {
  const { partyOf } = await import('/views/heads.js');
  return partyOf(visit, visits, out.map((signIn) => ({ signIn, person: {} }))).map(({ signIn }) => signIn.person_id);
}"""


def test_the_party_is_who_came_with_the_visit_and_nobody_of_an_earlier_day(modules_page) -> None:
    visit = {"record_id": "v", "started_at": "2026-11-27T15:00:00Z"}
    others = [visit, {"record_id": "joined", "joined_to": "v"}, {"record_id": "yesterday"}, {"record_id": "others"}]
    out = [
        {"person_id": "on it", "visit_id": "v", "in_at": "2026-11-27T15:05:00Z"},
        {"person_id": "on one that was joined", "visit_id": "joined", "in_at": "2026-11-27T15:04:00Z"},
        {"person_id": "before it was started", "visit_id": None, "in_at": "2026-11-27T14:10:00Z"},
        {"person_id": "forgotten yesterday", "visit_id": "yesterday", "in_at": "2026-11-26T14:00:00Z"},
        {"person_id": "forgotten this morning", "visit_id": None, "in_at": "2026-11-27T08:59:00Z"},
        {"person_id": "on another visit", "visit_id": "others", "in_at": "2026-11-27T15:05:00Z"},
    ]
    told = modules_page.evaluate(PARTY, {"visit": visit, "visits": others, "out": out})
    assert told == ["on it", "on one that was joined", "before it was started"]
    assert modules_page.evaluate(PARTY, {"visit": None, "visits": others, "out": out}) == []


PARTED = """async ({ visit, visits, out, now }) => {
  const { partedOut } = await import('/views/heads.js');
  const { leftFrom } = await import('/views/left-out.js');
  const told = partedOut(visit, { visits, parts: [] }, out.map((signIn) =>
    ({ signIn, person: {}, leftMs: leftFrom(signIn, visits) })), Date.parse(now));
  return Object.fromEntries(Object.entries(told).map(([name, list]) => [name, list.map(({ signIn }) => signIn.person_id)]));
}"""


def test_heads_of_a_visit_are_its_own_and_who_was_left_open_stands_apart(modules_page) -> None:
    visit = {"record_id": "v", "started_at": "2026-11-27T15:00:00Z"}
    visits = [
        visit, {"record_id": "runs too", "started_at": "2026-11-27T04:00:00Z"}, {"record_id": "joined to that", "joined_to": "runs too"},
        {"record_id": "over", "started_at": "2026-11-27T04:00:00Z", "ended_at": "2026-11-27T08:00:00Z"},
    ]  # fmt: skip
    out = [
        {"person_id": "on it", "visit_id": "v", "in_at": "2026-11-27T15:05:00Z"},
        {"person_id": "on another that runs", "visit_id": "joined to that", "in_at": "2026-11-27T04:05:00Z"},
        {"person_id": "on one not here yet", "visit_id": "unknown", "in_at": "2026-11-27T15:05:00Z"},
        {"person_id": "left by one that is over", "visit_id": "over", "in_at": "2026-11-27T04:05:00Z"},
        {"person_id": "left this morning", "visit_id": None, "in_at": "2026-11-27T04:05:00Z"},
        {"person_id": "left a day ago", "visit_id": "unknown", "in_at": "2026-11-26T14:00:00Z"},
    ]
    told = modules_page.evaluate(PARTED, {"visit": visit, "visits": visits, "out": out, "now": NOW})
    assert told["party"] == ["on it"]
    assert told["elsewhere"] == ["on another that runs", "on one not here yet"]
    assert told["left"] == ["left by one that is over", "left this morning", "left a day ago"]
    none = modules_page.evaluate(PARTED, {"visit": None, "visits": visits, "out": out, "now": NOW})
    assert (none["party"], none["elsewhere"], none["left"]) == ([], [], ["left a day ago"])
    assert len(none["out"]) == 5, "without a visit nobody is of one: all who came today are out"


CLOCK_OF = """async ({ visits, signIn, now }) => {
  const { runningOf } = await import('/views/visits.js');
  const { partyOf } = await import('/views/heads.js');
  const { leftFrom } = await import('/views/left-out.js');
  const visit = runningOf({ now: () => Date.parse(now) }, { visits, parts: [] });
  return [visit?.record_id ?? null, partyOf(visit, visits, [{ signIn, person: {} }]).length, leftFrom(signIn, visits) > Date.parse(now)];
}"""


@pytest.mark.parametrize("joined_to", [None, "last week", "removed", "v"], ids=["none", "of last week", "that is not here", "itself"])
def test_a_crew_on_the_shore_keeps_its_clock_whatever_its_visit_was_joined_to(modules_page, joined_to: str | None) -> None:
    visits = [
        {"record_id": "v", "started_at": "2026-11-27T15:00:00Z", "joined_to": joined_to},
        {"record_id": "last week", "started_at": "2026-11-20T15:00:00Z", "ended_at": "2026-11-20T17:00:00Z"},
    ]
    sign_in = {"visit_id": "v", "person_id": "p", "in_at": "2026-11-27T15:05:00Z"}
    assert modules_page.evaluate(CLOCK_OF, {"visits": visits, "signIn": sign_in, "now": "2026-11-27T16:00:00Z"}) == ["v", 1, True]


def test_two_phones_that_join_their_visits_to_each_other_have_one_clock(modules_page) -> None:
    visits = [{"record_id": one, "started_at": f"2026-11-27T15:0{n}:00Z", "joined_to": other} for n, (one, other) in enumerate((("b", "a"), ("a", "b")))]
    sign_in = {"visit_id": "b", "person_id": "p", "in_at": "2026-11-27T15:05:00Z"}
    assert modules_page.evaluate(CLOCK_OF, {"visits": visits, "signIn": sign_in, "now": "2026-11-27T16:00:00Z"}) == ["a", 1, True]


TABS = """async (wanted) => {
  const { OneTab } = await import('/alarm/one-tab.js');
  const [one, other, late] = [new OneTab(), new OneTab(), new OneTab()];
  const told = [];
  const now = () => [one, other, late].map((tab) => tab.isHere);
  // A tab learns of another's lock a moment later, on a busy machine more than that.
  const tell = async () => {
    for (let turn = 0; turn < 500 && String(now()) !== String(wanted[told.length]); turn++) await new Promise((done) => setTimeout(done, 20));
    told.push(now());
  };
  await one.begin(); await other.begin(); await tell();
  other.take(); await tell();
  one.take(); one.take(); await tell();
  await late.begin(); await tell();
  late.take(); await tell();
  Object.defineProperty(navigator, 'locks', { value: undefined });
  const alone = new OneTab();
  await alone.begin();
  return [...told, alone.isHere];
}"""


def test_who_was_signed_in_late_is_left_when_the_visit_is_over_and_not_hours_after_its_alarm(modules_page) -> None:
    visit = {"record_id": "v", "started_at": "2026-11-26T19:20:00Z"}
    late = {"person_id": "late", "visit_id": "v", "in_at": "2026-11-26T21:50:00Z"}
    for now, left in (("2026-11-27T11:19:00Z", []), ("2026-11-27T11:20:00Z", ["late"])):
        told = modules_page.evaluate(PARTED, {"visit": None, "visits": [visit], "out": [late], "now": now})
        assert told["left"] == left


def test_of_several_tabs_one_has_the_alarm_and_without_locks_each(modules_page) -> None:
    here = [[True, False, False], [False, True, False], [True, False, False], [True, False, False], [False, False, True]]
    assert modules_page.evaluate(TABS, here) == [*here, True]


WHOSE = """async ({ visits, signIns, now }) => {
  const { alarmVisit } = await import('/views/shore.js');
  const tables = { visit: visits, sign_in: signIns, person: [], visit_part: [] };
  const phone = { me: { site_id: 's' }, now: () => Date.parse(now), rows: async (kind) => tables[kind] };
  return (await alarmVisit(phone))?.record_id ?? null;
}"""
NOW = "2026-11-27T17:00:00Z"
RUNS = {"record_id": "runs", "started_at": "2026-11-27T14:00:00Z"}
ENDED = {"record_id": "ended", "started_at": "2026-11-27T13:00:00Z", "ended_at": "2026-11-27T16:50:00Z"}
LEFT = {"record_id": "i", "person_id": "p", "visit_id": "ended", "in_at": "2026-11-27T13:30:00Z"}


@pytest.mark.parametrize(
    ("visits", "sign_ins", "whose"),
    [
        ([RUNS, ENDED], [LEFT], "runs"),
        ([ENDED], [LEFT], "ended"),
        ([ENDED], [{**LEFT, "out_at": "2026-11-27T16:40:00Z"}], None),
        ([ENDED], [{**LEFT, "no_out_reason": "stays for the night"}], None),
        ([{**ENDED, "started_at": "2026-11-26T13:00:00Z", "ended_at": "2026-11-26T16:00:00Z"}], [{**LEFT, "in_at": "2026-11-26T13:30:00Z"}], None),
    ],
    ids=["the one that runs", "ended with one still out", "all are out", "one with a reason", "yesterday's"],
)
def test_the_alarm_is_of_the_visit_that_runs_or_that_left_somebody_out(modules_page, visits: list, sign_ins: list, whose: str | None) -> None:
    assert modules_page.evaluate(WHOSE, {"visits": visits, "signIns": sign_ins, "now": NOW}) == whose
