"""Damm's check digit: its published check value and the two properties it is chosen for."""

from __future__ import annotations

from itertools import product

from fieldlog.records.tags import check_digit, check_tag, tag_for

DIGITS = "0123456789"
ALL_OF_FOUR = ["".join(digits) for digits in product(DIGITS, repeat=4)]


def test_the_published_check_value() -> None:
    assert check_digit("572") == "4"  # Damm 2004; also the usual worked example. From memory.


def test_a_number_with_its_check_digit_checks_to_zero() -> None:
    assert all(check_digit(digits + check_digit(digits)) == "0" for digits in ALL_OF_FOUR)


def test_every_single_wrong_digit_is_noticed() -> None:
    for digits in ALL_OF_FOUR:
        right = digits[:3] + check_digit(digits[:3])
        if right != digits:
            continue
        for place, wrong in product(range(4), DIGITS):
            if wrong != right[place]:
                assert check_digit(right[:place] + wrong + right[place + 1 :]) != "0"


def test_every_swap_of_two_neighbours_is_noticed() -> None:
    for digits in product(DIGITS, repeat=3):
        right = "".join(digits) + check_digit("".join(digits))
        for place in range(3):
            swapped = right[:place] + right[place + 1] + right[place] + right[place + 2 :]
            if swapped != right:
                assert check_digit(swapped) != "0"


def test_every_tag_of_a_row_passes_and_any_other_of_its_ten_endings_does_not() -> None:
    for letter, slot in product("ABCDEFGHIJKLMNOPQRSTUVWXYZ", range(1000)):
        tag = tag_for(letter, slot)
        assert tag is not None
        assert check_tag(tag) is None
        if slot < 20:
            assert [check_tag(tag[:-1] + digit) is None for digit in DIGITS].count(True) == 1


def test_a_row_letter_mistaken_for_one_of_the_nine_nearest_is_noticed() -> None:
    for slot in range(100):
        tag = tag_for("A", slot)
        assert tag is not None
        assert all(check_tag(letter + tag[1:]) is not None for letter in "BCDEFGHIJ")
