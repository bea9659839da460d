"""What a book keeps of rehearsals: only what changed, and nothing that a later rehearsal no longer says."""

from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import NONE, Aspect
from doorwright.model.rehearsed import (
    CALLS,
    Apart,
    Head,
    apart_of,
    call_aspect,
    called_of,
    is_all_as_proved,
    kept_of,
    news,
    sum_text,
)

PANEL, HOME = Subject("unit", "panel"), Subject("unit", "home")
FIRST = datetime(2031, 5, 5, 10, 0, tzinfo=UTC)
IDS = count()
APART = Apart(
    count=2, of_count=5, when="Mon 08:00, no answer", happened="nothing rang", proved="Home (left) rang; Desk took it"
)


def seen(**says: str) -> list[Observation]:
    """Return what a rehearsal says: the address of the home, the sum of the panel's calls, and calls gone astray."""
    facts = [(HOME, Aspect.ADDRESS, says["address"]), (PANEL, CALLS, says["calls"])]
    facts += [(PANEL, call_aspect("key 1.3 to 101"), says["call"])] if "call" in says else []
    return [
        Observation(
            id="not kept",
            stage=Stage.REHEARSED,
            subject=subject,
            aspect=aspect,
            value=value,
            seen_at=FIRST,
            seen_by="A",
        )
        for subject, aspect, value in facts
    ]


def rehearse(book: list[Observation], revision: int, at: datetime = FIRST, **says: str) -> tuple[Observation, ...]:
    """Keep a rehearsal in a book and return what that added."""
    head = Head(
        revision=revision, calls_count=5, proved_count=3 if "call" in says else 5, conditions="seed 1, loss 0 %"
    )
    added = news(book, head, seen(**says), new_id=lambda: f"o{next(IDS)}", at=at, by="A. Planner")
    book += added
    return added


def test_the_same_again_adds_one_line_alone() -> None:
    book: list[Observation] = []
    assert len(rehearse(book, 4, address="192.0.2.7", calls=sum_text(5, 5))) == 3  # the head, and two facts
    (again,) = rehearse(book, 6, FIRST + timedelta(days=1), address="192.0.2.7", calls=sum_text(5, 5))
    kept = kept_of(book)
    assert kept is not None
    assert (kept.head.revision, kept.at, kept.by) == (6, again.seen_at, "A. Planner")
    assert kept.head.conditions == "seed 1, loss 0 %"
    assert kept.seen[HOME][Aspect.ADDRESS].seen_at == FIRST  # it was seen so since


def test_what_is_no_longer_said_does_not_count() -> None:
    book: list[Observation] = []
    rehearse(book, 4, address="192.0.2.7", calls=sum_text(3, 5), call=str(APART))
    added = rehearse(book, 5, address="192.0.2.8", calls=sum_text(5, 5))
    assert {one.value for one in added} >= {NONE, "192.0.2.8", "5 of 5 as proved"}
    kept = kept_of(book)
    assert kept is not None
    assert set(kept.seen[PANEL]) == {CALLS}
    # and where it is said again, it counts again
    rehearse(book, 6, address="192.0.2.8", calls=sum_text(3, 5), call=str(APART))
    again = kept_of(book)
    assert again is not None
    assert again.seen[PANEL][call_aspect("key 1.3 to 101")].value == str(APART)
    assert again.head.proved_count == 3


def test_a_rehearsal_by_a_clock_that_was_put_back_still_counts() -> None:
    book: list[Observation] = []
    rehearse(book, 4, address="192.0.2.7", calls=sum_text(5, 5))
    rehearse(book, 5, FIRST - timedelta(days=900), address="192.0.2.8", calls=sum_text(5, 5))
    kept = kept_of(book)
    assert kept is not None
    assert (kept.head.revision, kept.seen[HOME][Aspect.ADDRESS].value) == (5, "192.0.2.8")


def test_what_was_found_in_the_real_building_is_left_alone() -> None:
    found = Observation(
        id="f", stage=Stage.FOUND, subject=HOME, aspect=Aspect.ADDRESS, value="192.0.2.9", seen_at=FIRST, seen_by="B"
    )
    book = [found]
    assert kept_of(book) is None
    added = rehearse(book, 4, address="192.0.2.7", calls=sum_text(5, 5))
    assert all(one.corrects is None for one in added)


@pytest.mark.parametrize(
    "apart",
    [
        APART,
        Apart(
            count=1, of_count=1, when="Hol 23:59", happened="no call goes through", proved="A rang; digit 1 freed B: C"
        ),
    ],
)
def test_calls_are_read_as_they_were_written(apart: Apart) -> None:
    assert apart_of(str(apart)) == apart


def test_other_values_are_no_calls() -> None:
    assert apart_of("192.0.2.7") is None
    assert called_of(Aspect.ADDRESS) is None
    assert called_of(call_aspect("number 12 to Desk")) == "number 12 to Desk"
    assert (is_all_as_proved("5 of 5 as proved"), is_all_as_proved("4 of 5 as proved"), is_all_as_proved("5")) == (
        True, False, False,
    )  # fmt: skip
