"""The order in which people read labels."""

import pytest

from doorwright.model.label import natural_key


@pytest.mark.parametrize(
    "ordered",
    [
        ["2", "10", "100"],
        ["G01", "G2", "G10"],
        ["flat 2", "Flat 10"],
        ["A1", "a2", "A10"],
        ["1.2", "1.10"],
        ["7", "12B", "101", "A"],  # digits before letters
        ["12", "12A", "12B"],
    ],
)
def test_runs_of_digits_count_as_numbers(ordered: list[str]) -> None:
    backwards = ordered[::-1]
    assert sorted(backwards, key=natural_key) == ordered


def test_an_empty_label_comes_first() -> None:
    assert sorted(["A", "", "1"], key=natural_key) == ["", "1", "A"]


def test_labels_that_differ_have_different_keys_but_for_case() -> None:
    assert natural_key("G01") != natural_key("G1")
    assert natural_key("g01") == natural_key("G01")
