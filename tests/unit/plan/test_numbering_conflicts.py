"""Conflicts of call numbers: causes and remedies. Worked out by hand from the schemes' words (common practice)."""

from dataclasses import replace
from typing import Any

import pytest

from doorwright.model.place import Entrance
from doorwright.model.site import NumberPrefix, NumberScheme, Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.numbering import plan_numbers
from doorwright.plan.numbering.assignment import can_agree, can_all_have_one
from doorwright.plan.numbering.planner import Explained, explain_numbers
from tests.unit.plan.block import Labels, block, drafted, plus, put, set_profile, unit

TWELVES: Labels = {"A": {1: ["12"]}, "B": {1: ["12"]}}


def gated(labels: Labels, *, digits: int = 3, at_once: bool = False, **choices: Any) -> Site:
    """Return a block with direct keys at its cores, and a gate to all of them with a keypad."""
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",))
    site = plus(
        block(labels, vcu="vcu-direct", **choices), gate, unit("vcu gate", profile="vcu-keypad", entrance="gate")
    )
    return set_profile(site, "vcu-keypad", keypad_digits_max_count=digits, keypad_dials_at_once=at_once)


def explained(site: Site) -> Explained:
    (one,) = explain_numbers(Walk(site))
    return one


def causes_of(site: Site) -> list[tuple[str, str]]:
    return [(cause.kind.name, cause.ident) for cause in explained(site).conflict.causes]


def fits_of(site: Site) -> dict[str, tuple[int | None, bool]]:
    return {remedy.words: (remedy.digits_count, remedy.fits) for remedy in explained(site).remedies}


def draft_of(site: Site) -> Draft:
    return plan_numbers(Walk(site))


def test_two_doors_that_read_the_same_are_each_others_cause() -> None:
    site = gated(TWELVES, number_prefix=NumberPrefix.NONE)
    assert causes_of(site) == [("WANTING", "B/12"), ("WANTING", "A/12")]
    draft = draft_of(site)
    assert drafted(draft, "call_number") == {}
    (trouble,) = draft.troubles
    assert "dwelling 12 (B, level 1) and dwelling 12 (A, level 1) both read 12" in trouble.problem
    # cores 1 and 2: 112 and 212 have three digits, which the keypad takes; one digit for the level and two for the
    # place make 101 and 102, the cores run on in one count
    fits = fits_of(site)
    assert fits["prefix 'core'"] == (3, True)
    assert fits["scheme 'level and position'"] == (3, True)
    # level by core: core, level, two digits of place
    assert fits["scheme 'level and position' with prefix 'core'"] == (4, False)
    assert "(needs 3 digits: fits)" in trouble.remedy


def test_a_prefix_that_the_keypad_has_no_room_for_makes_the_keypad_a_cause() -> None:
    site = gated(TWELVES, digits=2)
    assert causes_of(site) == [("KEYPAD_DIGITS", "vcu gate"), ("WANTING", "B/12"), ("WANTING", "A/12")]
    fits = fits_of(site)
    assert fits["choose a type for vcu gate (Gate) that takes 3 digits"] == (3, True)
    assert fits["scheme 'running'"] == (1, True)
    assert fits["prefix 'core'"] == (3, False)


def test_where_one_keypad_of_several_does_not_help_another_type_for_all_is_tried() -> None:
    # one digit at both: 1 in both cores needs 11 and 21, and so two digits at each of the two keypads
    site = block({"A": {1: ["1"]}, "B": {1: ["1"]}}, vcu="vcu-keypad")
    fits = fits_of(set_profile(site, "vcu-keypad", keypad_digits_max_count=1))
    assert fits["choose a type for vcu B (Entrance B) that takes 2 digits"] == (2, False)
    assert fits["choose a type for vcu A (Entrance A) and vcu B (Entrance B) that takes 2 digits"] == (2, True)


def test_a_number_given_by_hand_frees_the_other() -> None:
    site = gated(TWELVES, number_prefix=NumberPrefix.NONE)
    words = next(remedy.words for remedy in explained(site).remedies)
    assert words == "give one of them another number by hand, such as 01 for dwelling 12 (A, level 1)"
    assert drafted(draft_of(put(site, "A/12", call_number="01")), "call_number") == {"B/12": "12"}


def test_a_number_carried_already_is_a_cause_and_the_doors_own_is_not_lost() -> None:
    site = put(gated({"A": {1: ["12", "13"]}}, number_prefix=NumberPrefix.NONE), "A/13", call_number="12")
    assert causes_of(site) == [("CARRIED", "A/13"), ("WANTING", "A/12")]
    # emptied, both doors get what they read
    assert fits_of(site)["empty the number of dwelling 13 (A, level 1), which its labels may carry, and plan again"][1]


def test_a_reserved_number_is_not_issued_and_is_the_cause() -> None:
    site = gated({"A": {1: ["911", "12"]}}, reserved_numbers=("112", "900-999"))
    assert drafted(draft_of(site), "call_number") == {"A/12": "12"}
    assert causes_of(site) == [("RESERVED", "900-999"), ("WANTING", "A/911")]
    assert fits_of(site)["reserve 900-999 no longer"] == (None, True)


def test_at_a_keypad_without_end_key_no_number_begins_another() -> None:
    labels: Labels = {"A": {1: ["1", "12"]}}
    assert drafted(draft_of(gated(labels)), "call_number") == {"A/1": "1", "A/12": "12"}
    site = gated(labels, at_once=True)
    assert drafted(draft_of(site), "call_number") == {"A/1": "1"}
    assert causes_of(site) == [("KEYPAD_AT_ONCE", "vcu gate"), ("WANTING", "A/1"), ("WANTING", "A/12")]
    fits = fits_of(site)
    assert fits["choose a type for vcu gate (Gate) that dials on an end key"] == (None, True)
    assert fits["scheme 'level and position'"] == (3, True)  # 101 and 102 have one length


def test_too_many_dwellings_for_the_digits_are_told_as_one_conflict() -> None:
    # one digit: 1 to 9 for eleven dwellings, with 5 carried by one and 7 reserved: seven get a number, three do not
    site = gated({"A": {1: [f"h{n}" for n in range(11)]}}, digits=1, number_scheme=NumberScheme.RUNNING)
    wide = draft_of(site)
    assert drafted(wide, "call_number") == {}  # eleven dwellings need two digits each
    site = gated({"A": {1: [f"h{n}" for n in "abcdefghi"]}}, digits=1, number_scheme=NumberScheme.RUNNING,
                 reserved_numbers=("7",))  # fmt: skip
    assert len(drafted(draft_of(site), "call_number")) == 8
    causes = causes_of(site)
    assert ("RESERVED", "7") in causes
    assert ("KEYPAD_DIGITS", "vcu gate") in causes
    assert sum(kind == "WANTING" for kind, _ in causes) == 9  # nine dwellings, eight numbers


def test_many_that_stay_without_for_one_reason_are_told_once() -> None:
    site = gated({"A": {1: ["12 X", "12 Y", "12 Z", "Penthouse"]}}, number_prefix=NumberPrefix.NONE)
    one, two = explain_numbers(Walk(site))
    assert [dwelling.id for dwelling in one.conflict.stuck] == ["A/12 X", "A/12 Y", "A/12 Z"]
    assert [dwelling.id for dwelling in two.conflict.stuck] == ["A/Penthouse"]
    assert "no digits" in two.problem


@pytest.mark.parametrize(
    ("scheme", "prefix", "expected"),
    [
        (NumberScheme.DOOR, NumberPrefix.CORE, {"A/1": "11", "A/2": "12", "B/1": "201", "B/10": "210"}),
        (NumberScheme.RUNNING, NumberPrefix.CORE, {"A/1": "11", "A/2": "12", "B/1": "21", "B/10": "22"}),
        (NumberScheme.LEVEL, NumberPrefix.CORE, {"A/1": "1101", "A/2": "1102", "B/1": "2101", "B/10": "2102"}),
        # one building: nothing to put in front, and the storey's places run on through both cores
        (NumberScheme.LEVEL, NumberPrefix.BUILDING, {"A/1": "101", "A/2": "102", "B/1": "103", "B/10": "104"}),
    ],
)
def test_prefixes_stand_in_front_of_every_number(
    scheme: NumberScheme, prefix: NumberPrefix, expected: dict[str, str]
) -> None:
    labels: Labels = {"A": {1: ["1", "2"]}, "B": {1: ["1", "10"]}}
    site = block(labels, number_scheme=scheme, number_prefix=prefix)
    assert drafted(draft_of(site), "call_number") == expected


def test_buildings_are_counted_in_order_of_name() -> None:
    site = block({"A": {1: ["7"]}, "B": {1: ["7"]}}, number_prefix=NumberPrefix.BUILDING)
    second = replace(site.buildings[0], id="annex", name="Annex")
    cores = (replace(site.cores[0]), replace(site.cores[1], building="annex"))
    site = replace(site, buildings=(*site.buildings, second), cores=cores)
    # Annex stands before Block
    assert drafted(draft_of(site), "call_number") == {"A/7": "27", "B/7": "17"}


def test_without_prefix_a_number_comes_again_only_where_nothing_is_shared() -> None:
    apart = block(TWELVES, number_prefix=NumberPrefix.NONE)
    assert drafted(draft_of(apart), "call_number") == {"A/12": "12", "B/12": "12"}
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",))
    assert drafted(draft_of(plus(apart, gate)), "call_number") == {}
    desk = put(put(apart, "at A", calls_desk=True), "at B", calls_desk=True)
    assert drafted(draft_of(desk), "call_number") == {}


def test_matching_finds_the_way_that_a_first_come_order_misses() -> None:
    # the first must leave 1 to the second, who can have nothing else
    assert can_all_have_one([["1", "2"], ["1"], ["2", "3"]])
    # three who share two: Hall's condition fails
    assert not can_all_have_one([["1", "2"], ["1", "2"], ["2", "1"]])
    assert can_agree([["1", "2"], ["12"]], lambda _, mine, __, theirs: theirs.startswith(mine)) is True
    assert can_agree([["1"], ["12"]], lambda _, mine, __, theirs: mine[0] == theirs[0]) is False
