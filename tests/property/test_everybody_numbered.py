"""Where an arrangement of numbers exists, everybody gets one: set beside a search that tries every arrangement."""

from itertools import islice

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from doorwright.model.place import Dwelling, Entrance
from doorwright.model.reserved import reserved_of
from doorwright.model.site import NumberPrefix, NumberScheme, Site
from doorwright.model.walk import Walk
from doorwright.plan.numbering import plan_numbers
from doorwright.plan.numbering.dialling import Dialling
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.order import WalkingOrder
from tests.unit.plan.block import block, drafted, plus, put, set_profile, unit

OFFERED_COUNT = 10
"""How many numbers of a dwelling the search tries; one that it finds with so few is one all the same."""

LABELS = ["1", "2", "3", "12", "21", "121", "122", "1A", "2B", "12A", "12B"]


@st.composite
def blocks(draw: st.DrawFn) -> Site:
    """One or two cores with labels that read alike, keypads with and without end key, and a gate with a narrow one."""
    labels = st.lists(st.sampled_from(LABELS), min_size=2, max_size=4, unique=True)
    site = block(
        {core: {1: draw(labels)} for core in "AB"[: draw(st.integers(1, 2))]},
        vcu="vcu-keypad",
        number_scheme=draw(st.sampled_from(NumberScheme)),
        number_prefix=draw(st.sampled_from(NumberPrefix)),
        reserved_numbers=tuple(draw(st.lists(st.sampled_from(["1", "3-9", "12", "102"]), max_size=2, unique=True))),
    )
    site = set_profile(site, "vcu-keypad", keypad_digits_max_count=4, keypad_dials_at_once=draw(st.booleans()))
    if draw(st.booleans()):  # who stands behind it can have short numbers only
        gate = Entrance(id="gate", name="Gate", serves_dwellings=(site.dwellings[-1].id,))
        site = plus(site, gate, unit("vcu gate", profile="vcu-direct", entrance="gate"))
        site = set_profile(site, "vcu-direct", keypad=True, keypad_digits_max_count=draw(st.integers(1, 3)))
    if draw(st.booleans()):
        site = put(site, site.dwellings[0].id, call_number=draw(st.sampled_from(["2", "12", "101", "7"])))
    return site


def plan_of(site: Site) -> NumberPlan:
    walk = Walk(site)
    return NumberPlan(walk, WalkingOrder(walk), site.choices, Dialling(walk))


def an_arrangement_exists(site: Site) -> bool:
    """Try every choice among the numbers that the scheme offers each dwelling, by the words of the rules."""
    walk = Walk(site)
    numbering = plan_of(site).numbering
    reserved = reserved_of(site.choices.reserved_numbers)
    carried = [one for one in site.dwellings if one.call_number]
    waiting = [one for one in site.dwellings if not one.call_number]
    offered = numbering.candidates(
        numbering.dwellings,
        lambda system: {one.call_number or "" for one in carried if numbering.domain_of(one) == system},
    )

    def keypads(one: Dwelling) -> dict[str, tuple[int, bool]]:
        vcus = [vcu for entrance in walk.entrances_serving(one) for vcu in walk.units_at(entrance.id)]
        profiles = {vcu.id: walk.profile(vcu.profile) for vcu in vcus}
        return {
            ident: (profile.keypad_digits_max_count, profile.keypad_dials_at_once)
            for ident, profile in profiles.items()
            if profile and profile.keypad
        }

    def at_once(one: Dwelling) -> set[str]:
        return {ident for ident, (_, ends_itself) in keypads(one).items() if ends_itself}

    def agree(one: Dwelling, mine: str, other: Dwelling, theirs: str) -> bool:
        if mine == theirs:
            return numbering.domain_of(one) != numbering.domain_of(other)
        one_begins_the_other = mine.startswith(theirs) or theirs.startswith(mine)
        return not (one_begins_the_other and at_once(one) & at_once(other))

    options = {
        one.id: list(
            islice(
                (
                    number
                    for number, _ in islice(offered(one), 200)
                    if not any(each.holds(number) for each in reserved)
                    and all(len(number) <= digits_max for digits_max, _ in keypads(one).values() if digits_max)
                ),
                OFFERED_COUNT,
            )
        )
        for one in waiting
    }

    def possible(left: list[Dwelling], given: list[tuple[Dwelling, str]]) -> bool:
        if not left:
            return True
        one, *rest = left
        return any(
            all(agree(one, number, other, theirs) for other, theirs in given)
            and possible(rest, [*given, (one, number)])
            for number in options[one.id]
        )

    return possible(waiting, [(one, one.call_number or "") for one in carried])


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(blocks())
# first come would give 12A the number 12, with which 122 begins: by its letter's place it can be 121
@example(set_profile(block({"A": {1: ["12A", "122"]}}, vcu="vcu-keypad"), "vcu-keypad", keypad_dials_at_once=True))
def test_everybody_gets_a_number_where_an_arrangement_exists(site: Site) -> None:
    if an_arrangement_exists(site):
        plan = plan_of(site)
        assert plan.stuck == []
        assert set(plan.issued) == {one.id for one in site.dwellings if not one.call_number}


def test_short_numbers_are_left_to_those_who_can_have_no_others() -> None:
    # running with 1 to 5 reserved and nine dwellings: 6 to 9 have one digit, then come 10, 11, ...; the keypad of the
    # gate, behind which i stands as the last in walking order, takes one digit
    names = "abcdefghi"
    site = block(
        {"A": {1: list(names)}},
        vcu="vcu-keypad",
        number_scheme=NumberScheme.RUNNING,
        reserved_numbers=("1-5",),
    )
    gate = Entrance(id="gate", name="Gate", serves_dwellings=("A/i",))
    site = set_profile(plus(site, gate, unit("vcu gate", profile="vcu-direct", entrance="gate")), "vcu-direct",
                       keypad=True, keypad_digits_max_count=1)  # fmt: skip
    numbers = plan_of(site).numbers
    assert sorted(numbers.values(), key=int) == ["6", "7", "8", "9", "10", "11", "12", "13", "14"]
    assert len(numbers["A/i"]) == 1


def test_who_can_have_no_number_leaves_the_others_what_they_would_have() -> None:
    site = block({"A": {1: ["Loft", "12", "13"]}}, vcu="vcu-keypad")
    assert plan_of(site).numbers == {"A/12": "12", "A/13": "13"}
    assert [one.id for one in plan_of(site).stuck] == ["A/Loft"]


def test_numbers_carried_already_stay_where_the_others_are_arranged_anew() -> None:
    site = block({"A": {1: ["12A", "122", "7"]}}, vcu="vcu-keypad")
    site = put(set_profile(site, "vcu-keypad", keypad_dials_at_once=True), "A/7", call_number="77")
    assert plan_of(site).numbers == {"A/12A": "121", "A/122": "122"}
    assert set(drafted(plan_numbers(Walk(site)), "call_number")) == {"A/12A", "A/122"}
