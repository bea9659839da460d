"""Findings in groups: the first few where there are many, a piece of one rule at a time, places a page at a time."""

from pathlib import Path

import pytest

from doorwright.kernel.verdict import Finding, Severity
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.store.book import Book
from doorwright.web.finding_groups import FIRST_MOST, PLACES_MOST, Wanted, groups, next_places
from doorwright.web.paging import PIECE_MOST

EVERYTHING = {"severity": "", "phase": "", "part": "", "place": "", "sought": ""}
RULE = RULES[0].id


@pytest.fixture(scope="module")
def walk(planned_book: Path) -> Walk:
    with Book.open(planned_book, read_only=True) as book:
        return Walk(book.site())


@pytest.fixture(scope="module")
def findings(walk: Walk) -> list[Finding]:
    """Five findings on each of the 64 dwellings of the medium example: 320."""
    return [
        Finding(RULE, Severity.ERROR, (dwelling.subject,), f"finding {number} on {dwelling.door_label}")
        for dwelling in walk.site.dwellings
        for number in range(5)
    ]


def test_the_first_few_stand_for_too_many(walk: Walk, findings: list[Finding]) -> None:
    (group,) = groups("b", walk, findings, Wanted(by="rule", rule="", **EVERYTHING), back=frozenset(), start=0)
    assert (len(group.findings.rows), group.findings.total_count) == (FIRST_MOST, 320)


def test_one_rule_comes_a_piece_at_a_time(walk: Walk, findings: list[Finding]) -> None:
    wanted = Wanted(by="rule", rule=RULE, **EVERYTHING)
    (first,) = groups("b", walk, findings, wanted, back=frozenset(), start=0)
    (second,) = groups("b", walk, findings, wanted, back=frozenset(), start=PIECE_MOST)
    assert (len(first.findings.rows), first.findings.next_start) == (PIECE_MOST, PIECE_MOST)
    assert (len(second.findings.rows), second.findings.next_start) == (320 - PIECE_MOST, None)


def test_places_come_a_page_at_a_time(walk: Walk, findings: list[Finding]) -> None:
    wanted = Wanted(by="place", rule="", **EVERYTHING)
    first = groups("b", walk, findings, wanted, back=frozenset(), start=0)
    assert next_places(walk, findings, wanted, 0) == PLACES_MOST
    rest = groups("b", walk, findings, wanted, back=frozenset(), start=PLACES_MOST)
    assert next_places(walk, findings, wanted, PLACES_MOST) is None
    assert len({group.key for group in (*first, *rest)}) == 64
