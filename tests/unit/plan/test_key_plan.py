"""Keys and modules. The generic direct-key profile has one built-in key and takes 16 modules of six keys."""

import pytest

from doorwright.model.change import Add
from doorwright.model.place import Dwelling
from doorwright.model.site import KeyOrder, Site
from doorwright.model.unit import Key, KeyModule
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.keys import fill, plan_keys
from tests.unit.plan.block import Labels, block, new_ids, plus, put, set_profile, unit

TWO_LEVELS: Labels = {"A": {1: ["101", "102", "103", "110"], 2: ["201", "202", "203", "204"]}}


def draft_of(site: Site) -> Draft:
    return plan_keys(Walk(site), new_ids())


def keys_of(draft: Draft) -> dict[tuple[int, int], str | None]:
    added = [change.part for change in draft.changes if isinstance(change, Add)]
    return {(key.module, key.slot): key.dwelling or key.desk for key in added if isinstance(key, Key)}


def modules_of(draft: Draft) -> list[tuple[str, int, str]]:
    added = [change.part for change in draft.changes if isinstance(change, Add)]
    return [(module.unit, module.ordinal, module.profile) for module in added if isinstance(module, KeyModule)]


# eight keys: one built in, seven in two modules of six
APART = [(0, 1), *((1, slot) for slot in range(1, 4)), *((2, slot) for slot in range(1, 5))]
RUNNING_ON = [(0, 1), *((1, slot) for slot in range(1, 7)), (2, 1)]


@pytest.mark.parametrize(
    ("order", "labels", "slots"),
    [
        # the second level has room in the second module, which is needed in any case
        (KeyOrder.TOP_DOWN, ["201", "202", "203", "204", "101", "102", "103", "110"], APART),
        (KeyOrder.BOTTOM_UP, ["101", "102", "103", "110", "201", "202", "203", "204"], APART),
        (KeyOrder.DOOR, ["101", "102", "103", "110", "201", "202", "203", "204"], RUNNING_ON),
    ],
)
def test_keys_fill_the_unit_and_then_module_after_module(
    order: KeyOrder, labels: list[str], slots: list[tuple[int, int]]
) -> None:
    draft = draft_of(block(TWO_LEVELS, vcu="vcu-direct", key_order=order))
    assert keys_of(draft) == {slot: f"A/{label}" for slot, label in zip(slots, labels, strict=True)}
    assert modules_of(draft) == [("vcu A", 1, "key-module-6"), ("vcu A", 2, "key-module-6")]
    assert draft.troubles == []


@pytest.mark.parametrize(
    ("blocks", "sizes", "expected"),
    [
        # 3 + 4 + 4 need both modules of six: one level is cut either way, and then the spare key is the last
        ((3, 4, 4), (6, 6, 6), (6, 5)),
        # 4 and 4 fit two modules, which eight keys need anyway
        ((4, 4), (6, 6, 6), (4, 4)),
        # 2 + 4 fill the first exactly
        ((2, 4, 3), (6, 6), (6, 3)),
        # a level of eight must be cut once, wherever it begins: nothing is kept together by a gap
        ((8, 2), (6, 6), (6, 4)),
        # a module without keys, a lock module, takes none
        ((4, 4), (6, 0, 6), (4, 0, 4)),
        # more than there is room for: all keys are taken
        ((5, 5, 5), (6, 6), (6, 6)),
        ((), (6,), ()),
    ],
)
def test_levels_stay_in_one_module_where_that_costs_no_further_one(
    blocks: tuple[int, ...], sizes: tuple[int, ...], expected: tuple[int, ...]
) -> None:
    assert fill(blocks, sizes) == expected


def test_a_later_dwelling_takes_a_spare_key_in_the_module_of_its_level() -> None:
    site = block(TWO_LEVELS, vcu="vcu-direct")
    walk = Walk(site)
    before = walk.after(plan_keys(walk, new_ids()).changes).site
    # module 1 holds level 2 with three spare keys, module 2 level 1 with two
    for label, level, expected in (("105", "L1", (2, 5)), ("205", "L2", (1, 4))):
        grown = plus(before, Dwelling(id=label, door_label=label, core="A", level=level))
        draft = draft_of(grown)
        assert keys_of(draft) == {expected: label}
        assert modules_of(draft) == []


def test_modules_alone_carry_keys_too() -> None:
    site = set_profile(block({"A": {1: ["1"]}}, vcu="vcu-direct"), "vcu-direct", keys_count=0)
    assert keys_of(draft_of(site)) == {(1, 1): "A/1"}


def test_by_door_label_levels_do_not_count() -> None:
    labels: Labels = {"A": {1: ["10"], 2: ["9"]}}
    draft = draft_of(block(labels, vcu="vcu-direct", key_order=KeyOrder.DOOR))
    assert keys_of(draft) == {(0, 1): "A/9", (1, 1): "A/10"}


def test_the_built_in_key_rings_the_desk_where_the_entrance_calls_one() -> None:
    site = put(plus(block({"A": {1: ["1"]}}, vcu="vcu-direct"), unit("smu desk")), "at A", calls_desk=True)
    assert keys_of(draft_of(site)) == {(0, 1): "smu desk", (1, 1): "A/1"}


def test_units_without_keys_get_none() -> None:
    assert draft_of(block(TWO_LEVELS, vcu="vcu-directory")).changes == ()


def test_a_key_once_given_stays_and_new_dwellings_take_the_free_ones() -> None:
    site = block({"A": {1: ["1", "2", "3"]}}, vcu="vcu-direct")
    site = plus(
        site,
        KeyModule(id="m", unit="vcu A", profile="key-module-6", ordinal=1),
        Key(id="k1", unit="vcu A", module=1, slot=2, dwelling="A/1"),
        Key(id="k2", unit="vcu A", module=0, slot=1, dwelling="A/3"),
    )
    draft = draft_of(site)
    assert keys_of(draft) == {(1, 1): "A/2"}
    assert modules_of(draft) == []


def test_a_lock_module_carries_no_keys_but_takes_its_place_in_the_row() -> None:
    site = block({"A": {1: ["1", "2"]}}, vcu="vcu-direct")
    site = plus(site, KeyModule(id="m", unit="vcu A", profile="lock-module", ordinal=1))
    draft = draft_of(site)
    assert keys_of(draft) == {(0, 1): "A/1", (2, 1): "A/2"}
    assert modules_of(draft) == [("vcu A", 2, "key-module-6")]


def test_more_dwellings_than_keys_are_told_of_and_the_rest_is_planned() -> None:
    labels: Labels = {"A": {1: [str(number) for number in range(1, 10)]}}
    site = set_profile(block(labels, vcu="vcu-direct"), "vcu-direct", modules_max_count=1)
    draft = draft_of(site)
    # one built-in key and one module of six: seven of nine
    assert len(keys_of(draft)) == 7
    (trouble,) = draft.troubles
    assert "at most 7 keys: 2 more are wanted, for 8, 9" in trouble.problem
    assert {subject.id for subject in trouble.subjects} == {"vcu A", "A/8", "A/9"}


def test_a_unit_that_takes_no_modules_carries_its_own_keys_alone() -> None:
    site = set_profile(block({"A": {1: ["1", "2"]}}, vcu="vcu-direct"), "vcu-direct", module=None)
    draft = draft_of(site)
    assert keys_of(draft) == {(0, 1): "A/1"}
    assert len(draft.troubles) == 1
