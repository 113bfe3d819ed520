"""
Every case of every file of tests/vectors/outcomes through the product's functions, at the file's tolerance.

`mixed_model` alone is not run: no mixed model is in the product (its interval is too narrow with few programs), and its data are in
another library's files. What stands for it, slopes by plot and then t, is in repeated_visits. `coverage` is what the intervals on made
sites are compared with (covering.py).
"""

from __future__ import annotations

import pytest

from tests.outcomes import number_cases, sediment_cases, shore_cases
from tests.outcomes.cases import CASES, FOLDER, vectors

MODULES = (number_cases, sediment_cases, shore_cases)
NOT_RUN = {"mixed_model": "no mixed model is in the product"}
HELD_BY_SIMULATION = {"coverage"}

FILES = sorted(path.stem for path in FOLDER.glob("*.json"))
GIVEN = {(file, given["name"]): given for file in FILES if file not in {*NOT_RUN, *HELD_BY_SIMULATION} for given in vectors(file)["cases"]}


def test_each_case_of_each_file_is_run_by_one_function() -> None:
    assert all(module.__doc__ for module in MODULES)
    assert set(CASES) == set(GIVEN)
    assert len(GIVEN) > 70


def test_each_file_says_where_its_numbers_come_from_and_whose_they_are() -> None:
    for file in FILES:
        about = vectors(file)["about"]
        assert about["license"], file
        assert all(given.get("mark") for given in vectors(file).get("cases", ())), file


@pytest.mark.parametrize(("file", "name"), sorted(GIVEN), ids=[f"{file}: {name}" for file, name in sorted(GIVEN)])
def test_a_worked_value_comes_out(file: str, name: str) -> None:
    CASES[file, name](GIVEN[file, name])
