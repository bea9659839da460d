"""Severities, missing facts, waivers, refusals."""

from datetime import date, timedelta

import pytest

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.verdict import Missing, Severity, Subject
from doorwright.kernel.waiver import Waiver

RUN = Subject("cable run", "r1")
UNIT = Subject("unit", "u1")
FIRST, LAST = date(2026, 3, 1), date(2026, 6, 30)


def waiver(*subjects: Subject) -> Waiver:
    return Waiver(id="w", rule="link-too-long", subjects=subjects, reason="measured", by="A", on=FIRST, until=LAST)


def test_an_error_outranks_a_warning_and_a_warning_a_note() -> None:
    assert sorted(Severity, key=lambda severity: severity.rank) == [Severity.NOTE, Severity.WARNING, Severity.ERROR]


def test_a_missing_fact_is_told_in_words() -> None:
    assert str(Missing("cable run", "length")) == "length of cable run"


def test_a_waiver_covers_its_rule_and_subjects_in_any_order() -> None:
    both = waiver(RUN, UNIT)
    assert both.covers("link-too-long", (UNIT, RUN), FIRST)
    assert not both.covers("link-too-long", (RUN,), FIRST)
    assert not both.covers("link-too-long", (RUN, UNIT, Subject("unit", "u2")), FIRST)
    assert not both.covers("address-used-twice", (RUN, UNIT), FIRST)


@pytest.mark.parametrize(
    ("today", "covered"),
    [
        (FIRST - timedelta(days=1), False),
        (FIRST, True),
        (LAST, True),
        (LAST + timedelta(days=1), False),
    ],
)
def test_a_waiver_covers_from_its_first_day_to_its_last(today: date, covered: bool) -> None:
    assert waiver(RUN).covers("link-too-long", (RUN,), today) is covered


def test_a_mistake_says_where_what_and_what_to_do() -> None:
    mistake = Mistake(where='sheet "Units", row 3', read="12:99", problem="this is no time", remedy="Write 12:59.")
    assert str(mistake) == 'sheet "Units", row 3: this is no time (read: 12:99). Write 12:59.'
    nothing_read = Mistake(where="row 3", read="", problem="the cell is empty", remedy="Fill it in.")
    assert str(nothing_read) == "row 3: the cell is empty. Fill it in."


def test_a_refusal_carries_every_mistake() -> None:
    mistakes = (Mistake(where="a", read="", problem="b", remedy="c"),) * 2
    refused = Refused("two mistakes", remedy="Correct them.", mistakes=mistakes)
    assert (str(refused), refused.remedy, refused.mistakes) == ("two mistakes", "Correct them.", mistakes)
