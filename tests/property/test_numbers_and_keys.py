"""Call numbers for any block: sticky, told apart, never reserved; conflicts have no cause too many."""

from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from doorwright.model.place import Dwelling, Entrance
from doorwright.model.reserved import reserved_of
from doorwright.model.site import NumberPrefix, NumberScheme, Site
from doorwright.model.unit import Key
from doorwright.model.walk import Walk
from doorwright.plan.keys import plan_keys
from doorwright.plan.numbering import plan_numbers
from doorwright.plan.numbering.conflicts import Question
from doorwright.plan.numbering.dialling import Dialling, begins
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.numbering.planner import explain_numbers
from doorwright.plan.order import WalkingOrder
from tests.unit.plan.block import block, new_ids, plus, put, set_profile, unit

many = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

labels = st.lists(
    st.integers(1, 14).map(str) | st.sampled_from(["1A", "1B", "12a", "G01", "Loft"]),
    min_size=1,
    max_size=4,
    unique=True,
)


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """Blocks of one to three cores whose keypads are narrow, with a gate or without, some numbers carried."""
    cores: dict[str, dict[int, list[str]]] = {}
    for core in "ABC"[: draw(st.integers(1, 3))]:
        names = draw(labels)
        cores[core] = {draw(st.integers(0, 3)): names}
    site = block(
        cores,
        vcu=draw(st.sampled_from(["vcu-keypad", "vcu-direct"])),
        number_scheme=draw(st.sampled_from(NumberScheme)),
        number_prefix=draw(st.sampled_from(NumberPrefix)),
        reserved_numbers=tuple(draw(st.lists(st.sampled_from(["1", "12", "100-150", "2-5"]), max_size=2, unique=True))),
    )
    site = set_profile(
        site,
        "vcu-keypad",
        keypad_digits_max_count=draw(st.integers(1, 4)),
        keypad_dials_at_once=draw(st.booleans()),
    )
    if draw(st.booleans()):
        gate = Entrance(id="gate", name="Gate", serves_buildings=("block",))
        site = plus(site, gate, unit("vcu gate", profile="vcu-keypad", entrance="gate"))
    for number, dwelling in enumerate(site.dwellings):
        if draw(st.integers(0, 6)) == 0:
            site = put(site, dwelling.id, call_number=str(number + 11))
    return site


def numbered(site: Site) -> Site:
    walk = Walk(site)
    return walk.after(plan_numbers(walk).changes).site


@many
@given(sites())
def test_what_is_issued_is_told_apart_within_reach_and_not_reserved(site: Site) -> None:
    before = {dwelling.id for dwelling in site.dwellings if dwelling.call_number}
    after = numbered(site)
    walk = Walk(after)
    reserved = reserved_of(site.choices.reserved_numbers)
    issued = [dwelling for dwelling in after.dwellings if dwelling.call_number and dwelling.id not in before]
    for dwelling in issued:
        number = dwelling.call_number or ""
        assert not any(one.holds(number) for one in reserved)
        for entrance in walk.entrances_serving(dwelling):
            others = [one.call_number or "" for one in walk.dwellings_served(entrance) if one.id != dwelling.id]
            assert number not in others
            for vcu in walk.units_at(entrance.id):
                profile = walk.profile(vcu.profile)
                assert profile is not None
                if profile.keypad:
                    assert len(number) <= profile.keypad_digits_max_count
                    if profile.keypad_dials_at_once:
                        assert not any(other and begins(number, other) for other in others)


@many
@given(sites())
def test_numbering_again_changes_nothing(site: Site) -> None:
    after = numbered(site)
    assert plan_numbers(Walk(after)).changes == ()


@many
@given(sites(), st.sampled_from(["7", "12", "Flat 99", "1C"]))
def test_one_more_dwelling_gets_a_number_and_nobody_else_another(site: Site, label: str) -> None:
    after = numbered(site)
    assume(label not in {dwelling.door_label for dwelling in after.dwellings if dwelling.core == "A"})
    grown = plus(after, Dwelling(id="new", door_label=label, core="A", level=after.levels[0].id))
    changed = {change.id for change in plan_numbers(Walk(grown)).changes}  # type: ignore[union-attr]
    assert changed <= {"new"} | {dwelling.id for dwelling in after.dwellings if dwelling.call_number is None}


@many
@given(sites())
def test_a_conflict_has_no_cause_too_many(site: Site) -> None:
    walk = Walk(site)
    plan = NumberPlan(walk, WalkingOrder(walk), site.choices, Dialling(walk))
    question = Question(walk, plan)
    for explained in explain_numbers(walk):
        causes = explained.conflict.causes
        assert explained.conflict.proven
        assert question.possible(causes) is False
        for cause in causes:
            assert question.possible([other for other in causes if other != cause]) is True


@many
@given(sites())
def test_whoever_gets_no_number_is_told_of(site: Site) -> None:
    draft = plan_numbers(Walk(site))
    after = Walk(site).after(draft.changes).site
    without = {dwelling.id for dwelling in after.dwellings if dwelling.call_number is None}
    told: set[Any] = {subject.id for trouble in draft.troubles for subject in trouble.subjects}
    assert without == told


@many
@given(st.lists(st.integers(1, 9), min_size=1, max_size=6), st.integers(0, 6), st.integers(1, 7))
def test_a_key_plan_is_one_to_one_and_leaves_no_hole(storeys: list[int], module_max: int, built_in: int) -> None:
    cores = {"A": {level: [f"{level}{place:02d}" for place in range(count)] for level, count in enumerate(storeys)}}
    site = set_profile(block(cores, vcu="vcu-direct"), "vcu-direct", modules_max_count=module_max, keys_count=built_in)
    walk = Walk(site)
    draft = plan_keys(walk, new_ids())
    after = walk.after(draft.changes).site
    keys: tuple[Key, ...] = after.keys
    assert len({(key.module, key.slot) for key in keys}) == len({key.dwelling for key in keys}) == len(keys)
    capacity = built_in + 6 * module_max
    assert len(keys) == min(sum(storeys), capacity)
    # no more modules than the keys need, and in each the keys are the first ones
    assert len(after.modules) == -(-max(0, len(keys) - built_in) // 6)
    for module in {key.module for key in keys}:
        slots = sorted(key.slot for key in keys if key.module == module)
        assert slots == list(range(1, len(slots) + 1))
    assert plan_keys(Walk(after), new_ids("again ")).changes == ()
