"""Shorter legends and reserved numbers: worked out by hand from the words of the functions."""

import pytest

from doorwright.model.legend import shortened
from doorwright.model.reserved import reserved_of, unreadable


@pytest.mark.parametrize(
    ("legend", "at_most", "expected"),
    [
        ("Flat 12", 7, None),  # it fits as it is
        ("Flat 12 (rear stair)", 7, "Flat 12"),
        ("The Example Company", 8, "Example"),
        ("Apartment 12", 6, "Apt 12"),
        ("Doe and Roe", 9, "Doe & Roe"),
        ("Ada Example", 10, "A. Example"),
        ("Impossiblename", 6, "Impos."),
        ("Flat 123456", 3, None),  # digits are the dwelling: never cut
    ],
)
def test_a_legend_is_shortened_no_further_than_needed(legend: str, at_most: int, expected: str | None) -> None:
    assert shortened(legend, lambda text: len(text) <= at_most) == expected


def test_digits_are_reserved_as_they_are_written() -> None:
    one, span, short = reserved_of(("112", "900 - 999", "8-12"))
    assert [one.holds(number) for number in ("112", "0112", "1120", "12")] == [True, False, False, False]
    assert [span.holds(number) for number in ("900", "999", "0950", "9000", "899", "9A0")] == [True, True, *[False] * 4]
    assert [short.holds(number) for number in ("8", "12", "08", "7", "13")] == [True, True, True, False, False]


def test_what_is_no_number_or_range_is_named() -> None:
    assert unreadable(("112", "999-900", "12A", "1-2-3", "", "5-10")) == ("999-900", "12A", "1-2-3", "")
