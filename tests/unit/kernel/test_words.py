"""Counts in words; expected plurals are those of any English grammar."""

import pytest

from doorwright.kernel.words import counted


@pytest.mark.parametrize(
    ("count", "word", "told"),
    [
        (1, "switch", "1 switch"),
        (0, "switch", "0 switches"),
        (2, "hash", "2 hashes"),
        (2, "box", "2 boxes"),
        (2, "entry", "2 entries"),
        (2, "key", "2 keys"),
        (2, "bill of materials", "2 bills of materials"),
    ],
)
def test_a_noun_stands_in_the_right_number(count: int, word: str, told: str) -> None:
    assert counted(count, word) == told
