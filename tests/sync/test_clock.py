"""The stamp of entries. The rules checked are those of Kulkarni et al. 2014 (LNCS 8878, pp. 17-32), figure 5."""

from hypothesis import given
from hypothesis import strategies as st

from fieldlog.sync.clock import DRIFT_MS, START, effective, is_stamp, pack, tick, unpack

MS = st.integers(0, 2**47)
STAMP = st.builds(pack, MS, st.integers(0, 0x7FFF))


@given(MS, STAMP)
def test_a_tick_is_later_than_the_last_stamp_and_not_before_the_wall_clock(now_ms: int, last: str) -> None:
    stamp = tick(now_ms, last)
    assert stamp > last
    assert unpack(stamp)[0] >= now_ms
    assert is_stamp(stamp)


def test_a_clock_that_stands_still_counts() -> None:
    assert tick(1000, pack(1000, 4)) == pack(1000, 5)


def test_a_full_counter_carries_into_the_millisecond() -> None:
    assert tick(1000, pack(1000, 0x7FFF)) == pack(1001, 0)


def test_stamps_compare_as_text() -> None:
    assert pack(255, 3) == "0000000000ff0003" < pack(256, 0)


def test_a_stamp_within_five_minutes_of_the_server_keeps_its_claim() -> None:
    assert effective(pack(10**12 + DRIFT_MS, 0), 10**12, START) == pack(10**12 + DRIFT_MS, 0)


def test_a_stamp_from_the_far_future_is_ordered_by_the_server() -> None:
    assert effective(pack(10**12 + DRIFT_MS + 1, 0), 10**12, pack(10**12, 7)) == pack(10**12, 8)


def test_what_is_not_sixteen_hex_digits_is_no_stamp() -> None:
    for value in (None, 5, "", "0" * 15, "0" * 17, "G" + "0" * 15, "A" + "0" * 15, "0" * 12 + "8000"):
        assert not is_stamp(value)
