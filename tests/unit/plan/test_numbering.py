"""Call numbers. Expected numbers are worked out by hand from the schemes' words; the schemes are common practice."""

from typing import Any

import pytest

from doorwright.model.site import NumberScheme, Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.numbering import plan_numbers
from tests.unit.plan.block import Labels, block, drafted, plus, put, server, set_profile, unit


def draft_of(site: Site) -> Draft:
    return plan_numbers(Walk(site))


def numbers_of(labels: Labels, **choices: Any) -> dict[str, str]:
    return drafted(draft_of(block(labels, **choices)), "call_number")


@pytest.mark.parametrize(
    ("labels", "expected"),
    [
        # what a visitor reads is what they dial
        ({"A": {1: ["101", "102"]}, "B": {2: ["201"]}}, {"A/101": "101", "A/102": "102", "B/201": "201"}),
        ({"A": {1: ["Flat 12", "G03"]}}, {"A/Flat 12": "12", "A/G03": "03"}),
        # 1 is on two doors: core A is the first, B the second; 2 is on one door
        ({"A": {1: ["1", "2"]}, "B": {1: ["1"]}}, {"A/1": "11", "A/2": "2", "B/1": "21"}),
        # a letter counts by its place in the alphabet where the digits clash, and only there
        ({"A": {1: ["12A", "12b", "13C"]}}, {"A/12A": "121", "A/12b": "122", "A/13C": "13"}),
        # in both cores: the core in front, the letter behind
        ({"A": {1: ["4A"]}, "B": {1: ["4A"]}}, {"A/4A": "141", "B/4A": "241"}),
        # core A's 5 as two digits would be 105, which is on a door of core B: one more 0
        ({"A": {1: ["5", "12"]}, "B": {1: ["5", "105"]}}, {"A/5": "1005", "A/12": "12", "B/5": "2005", "B/105": "105"}),
    ],
)
def test_numbers_are_as_on_the_door(labels: Labels, expected: dict[str, str]) -> None:
    assert numbers_of(labels) == expected


def test_digits_are_filled_with_zeros_where_the_site_asks() -> None:
    assert numbers_of({"A": {1: ["1", "64"]}}, number_digits_count=2) == {"A/1": "01", "A/64": "64"}


@pytest.mark.parametrize("labels", [{"A": {1: ["Penthouse"]}}, {"A": {1: ["12 X", "12 Y"]}}])
def test_a_label_that_makes_no_number_is_told_of(labels: Labels) -> None:
    draft = draft_of(block(labels))
    assert draft.changes == ()
    (trouble,) = draft.troubles
    assert [subject.id for subject in trouble.subjects] == [f"A/{label}" for label in labels["A"][1]]
    assert ("no digits" if len(trouble.subjects) == 1 else "both read 12") in trouble.problem


def test_level_and_position_count_up_each_level_and_lead_basements_by_nine() -> None:
    labels = {"A": {-1: ["x"], 0: ["y"], 2: ["z", "a"]}}
    # level 2: a stands before z by name
    expected = {"A/x": "9101", "A/y": "001", "A/a": "201", "A/z": "202"}
    assert numbers_of(labels, number_scheme=NumberScheme.LEVEL) == expected


def test_level_and_position_lead_by_the_core_where_there_are_several() -> None:
    labels = {"A": {1: ["x"]}, "B": {1: ["x"], 10: ["y"]}}
    expected = {"A/x": "10101", "B/x": "20101", "B/y": "21001"}
    assert numbers_of(labels, number_scheme=NumberScheme.LEVEL) == expected


def test_level_and_position_pass_over_a_number_that_is_taken() -> None:
    site = put(block({"A": {1: ["x", "y"]}}, number_scheme=NumberScheme.LEVEL), "A/y", call_number="101")
    assert drafted(draft_of(site), "call_number") == {"A/x": "102"}


def test_running_numbers_are_as_wide_as_the_greatest() -> None:
    assert numbers_of({"A": {1: ["a", "b"]}}, number_scheme=NumberScheme.RUNNING) == {"A/a": "1", "A/b": "2"}
    wide = numbers_of({"A": {1: ["a"]}}, number_scheme=NumberScheme.RUNNING, number_digits_count=3)
    assert wide == {"A/a": "001"}


def test_the_tenth_running_number_is_ten_and_not_a_wider_one() -> None:
    site = block({"A": {1: [f"h{place}" for place in range(1, 11)]}}, number_scheme=NumberScheme.RUNNING)
    for place in range(1, 10):
        site = put(site, f"A/h{place}", call_number=str(place))
    assert drafted(draft_of(site), "call_number") == {"A/h10": "10"}


def test_a_number_too_long_for_one_keypad_is_still_there_for_others() -> None:
    site = block({"A": {1: ["x"]}, "B": {1: ["y"]}}, number_scheme=NumberScheme.RUNNING, number_digits_count=3)
    site = put(set_profile(site, "vcu-keypad", keypad_digits_max_count=2), "vcu A", profile="vcu-keypad")
    draft = draft_of(site)
    assert drafted(draft, "call_number") == {"B/y": "001"}
    assert [trouble.subjects[0].id for trouble in draft.troubles] == ["A/x"]


def test_a_number_longer_than_a_keypad_takes_is_told_of() -> None:
    # the keypad of the generic profile takes six digits
    draft = draft_of(block({"A": {1: ["1234567"]}}, vcu="vcu-keypad"))
    assert draft.changes == ()
    assert "1234567 is longer than the 6 digits" in draft.troubles[0].problem


def test_direct_keys_limit_no_digits() -> None:
    assert drafted(draft_of(block({"A": {1: ["1234567"]}}, vcu="vcu-direct")), "call_number") == {
        "A/1234567": "1234567"
    }


def test_what_was_issued_stays_and_is_given_to_nobody_else() -> None:
    site = put(block({"A": {1: ["1", "7"]}, "B": {1: ["2"]}}), "A/1", call_number="7")
    assert drafted(draft_of(site), "call_number") == {"A/7": "17", "B/2": "2"}


def test_desks_get_the_first_free_number_from_eight_on() -> None:
    site = plus(block({"A": {1: ["80", "81"]}}), unit("smu one"), unit("smu two"))
    numbers = drafted(draft_of(site), "call_number")
    assert (numbers["smu one"], numbers["smu two"]) == ("82", "83")


def test_visitor_call_units_have_numbers_only_beside_a_server() -> None:
    site = block({"A": {1: ["101"]}})
    assert "vcu A" not in drafted(draft_of(site), "call_number")
    assert drafted(draft_of(plus(site, server())), "call_number")["vcu A"] == "700"
