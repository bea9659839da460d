"""What was issued never moves: planning a planned site changes nothing, and one more dwelling moves nobody else."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from doorwright.model.change import Add, Remove, Set, apply, diff, inverse
from doorwright.model.network import SipServer
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import PARTS, KeyOrder, NumberScheme, Site
from doorwright.model.unit import Key, Unit
from doorwright.model.walk import INDEXES, Walk
from tests.unit.plan.block import block, planned, plus, run, subnet, switch, unit

VCUS = ("vcu-direct", "vcu-keypad", "vcu-directory")

many = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

labels = st.lists(
    st.one_of(
        st.integers(1, 120).map(str),
        st.integers(1, 20).map(lambda number: f"Flat {number}"),
        st.sampled_from(["1A", "1B", "12a", "G01", "Penthouse", "", "2 C"]),
    ),
    min_size=1,
    max_size=5,
    unique=True,
)

levels = st.lists(st.integers(-1, 10), min_size=1, max_size=3, unique=True)


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """Blocks of one to three cores, with and without gate, desk, server, switches and subnets."""
    cores = {
        core: {
            level: draw(labels) for level in draw(st.lists(st.integers(-1, 10), min_size=1, max_size=3, unique=True))
        }
        for core in "ABC"[: draw(st.integers(1, 3))]
    }
    cores = {core: _each_label_once(storeys) for core, storeys in cores.items()}
    site = block(
        cores,
        vcu=draw(st.sampled_from(VCUS)),
        number_scheme=draw(st.sampled_from(NumberScheme)),
        key_order=draw(st.sampled_from(KeyOrder)),
        number_digits_count=draw(st.none() | st.integers(1, 4)),
    )
    site = plus(site, subnet(draw(st.sampled_from(["192.0.2.0/24", "192.0.2.0/29"])), gateway="192.0.2.1"))
    site = plus(site, switch("S1"), switch("S2"), run("up", "S1", "S2"))
    site = plus(site, *(run(f"to {one.id}", "S2", one.id) for one in site.units if draw(st.booleans())))
    if draw(st.booleans()):
        gate = Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True)
        site = plus(site, gate, unit("vcu gate", entrance="gate"), unit("smu desk"))
    if draw(st.booleans()):
        site = plus(site, SipServer(id="server", name="Server", address="192.0.2.2", registrations_max=12))
    for number, dwelling in enumerate(site.dwellings):
        if draw(st.integers(0, 9)) == 0:
            site = plus(site, unit(f"uru more {number}", profile="uru-audio", dwelling=dwelling.id))
    return site


def _each_label_once(storeys: dict[int, list[str]]) -> dict[int, list[str]]:
    seen: set[str] = set()
    once: dict[int, list[str]] = {}
    for level, names in storeys.items():
        once[level] = [name for name in names if name not in seen]
        seen.update(names)
    return once


@many
@given(sites())
def test_planning_a_planned_site_changes_nothing(site: Site) -> None:
    first = planned(site)
    again = planned(first.site, prefix="again ")
    assert again.changes == ()
    assert again.site == first.site
    assert again.secrets == {}


@many
@given(sites())
def test_a_plan_only_adds_and_fills_in(site: Site) -> None:
    plan = planned(site)
    for change in plan.changes:
        assert not isinstance(change, Remove)
        if isinstance(change, Set):
            assert change.old is None
    assert apply(site, plan.changes) == Walk(site).after(plan.changes).site == plan.site
    assert len(plan.issues) == len(plan.changes)


@many
@given(sites())
def test_nothing_is_issued_twice(site: Site) -> None:
    _nothing_twice(planned(site).site)


def _nothing_twice(after: Site) -> None:
    _each_once([d.call_number for d in after.dwellings] + [u.call_number for u in after.units])
    servers = [server.address for server in after.servers]
    _each_once([*(unit.address for unit in after.units), *(one.address for one in after.switches), *servers])
    assert "192.0.2.1" not in [unit.address for unit in after.units] + [one.address for one in after.switches]
    _each_once([(key.unit, key.module, key.slot) for key in after.keys])
    _each_once([(run.near, run.near_port) for run in after.runs if run.near_port])
    _each_once([mark.line for mark in after.secrets])
    _each_once([(unit.dwelling, unit.position) for unit in after.units if unit.dwelling])


def _each_once(values: list[Any]) -> None:
    given_out = [value for value in values if value is not None]
    assert len(given_out) == len(set(given_out))


@many
@given(sites(), st.data())
def test_one_more_dwelling_moves_nobody_else(site: Site, data: st.DataObject) -> None:
    before = planned(site).site
    level = data.draw(st.sampled_from(before.levels)).id
    newcomer = Dwelling(id="new", door_label=data.draw(st.sampled_from(["7", "Flat 200", "1C"])), core="A", level=level)
    assume(newcomer.door_label not in {dwelling.door_label for dwelling in before.dwellings if dwelling.core == "A"})
    grown = plus(before, newcomer, unit("uru new", dwelling="new"))
    plan = planned(grown, prefix="grown ")
    # no more than: its number, address and subnet, position and registrar, and a key at each entrance of its core
    touched = {change.id for change in plan.changes if isinstance(change, Set)}
    assert touched <= {"new", "uru new"} | _still_waiting(before)
    for kind in PARTS:
        kept = {part.id: part for part in plan.site.table(kind)}
        for part in before.table(kind):
            if part.id not in _still_waiting(before):
                assert kept[part.id] == part
    _nothing_twice(plan.site)
    keys = [change.part for change in plan.changes if isinstance(change, Add) and isinstance(change.part, Key)]
    assert all(key.dwelling == "new" for key in keys)


def _still_waiting(site: Site) -> set[str]:
    """Parts that the plan could not give everything: a new width or level may free what they wait for."""
    waiting = {dwelling.id for dwelling in site.dwellings if dwelling.call_number is None}
    waiting |= {unit.id for unit in site.units if None in (unit.address, unit.position)}
    waiting |= {unit.id for unit in site.units if unit.registrar is None and unit.position != 0}
    return waiting


# sites and the changes between them


def edits(site: Site) -> st.SearchStrategy[Site]:
    """Sites that differ from this one: parts gone, changed and new."""
    changed: dict[type[Part], Callable[[Any, str], Part]] = {
        Dwelling: lambda part, text: replace(part, door_label=text, call_number=text or None),
        Entrance: lambda part, text: replace(part, serves_cores=("A", "A"), serves_dwellings=(text,)),
        Unit: lambda part, text: replace(part, address=text or None, registrar=None, name=f"uru {text}"),
    }
    words = st.sampled_from(["", "1", "A", "A/1", "192.0.2.5"])

    @st.composite
    def edited(draw: st.DrawFn) -> Site:
        after = replace(site, name=draw(words))
        for kind, change in changed.items():
            table = [part for part in after.table(kind) if draw(st.integers(0, 5))]
            table = [part if draw(st.integers(0, 3)) else change(part, draw(words)) for part in table]
            for number in range(draw(st.integers(0, 2))):
                place = draw(st.integers(0, len(table)))
                if kind is Unit:
                    table.insert(place, unit(f"vcu more {number}", entrance="at A", address=draw(words) or None))
                elif kind is Dwelling:
                    table.insert(place, Dwelling(id=f"more {number}", door_label=draw(words), core="A", level="L1"))
            after = after.with_tables({kind: tuple(table)})
        return after

    return edited()


@many
@given(sites().flatmap(lambda site: st.tuples(st.just(site), edits(site))))
def test_changes_lead_there_and_back(both: tuple[Site, Site]) -> None:
    before, after = both
    changes = diff(before, after)
    assert apply(before, changes) == after
    assert apply(after, inverse(changes)) == before
    assert diff(after, after) == ()
    assert (changes == ()) == (before == after)


@many
@given(sites().flatmap(lambda site: st.tuples(st.just(site), edits(site))))
def test_a_mended_walk_answers_like_a_fresh_one(both: tuple[Site, Site]) -> None:
    before, after = both
    walk, fresh = Walk(before), Walk(after)
    keys = _every_look(before) | _every_look(after)
    for table, key in keys:
        walk._look(table, key)  # so that every index is there to be mended
    changes = diff(before, after)
    mended = walk.after(changes)
    assert mended.site == after
    touched = Walk.touched_by(walk, changes)
    for table, key in keys:
        answer = sorted(mended._look(table, key), key=lambda part: part.id)
        assert answer == sorted(fresh._look(table, key), key=lambda part: part.id), (table, key)
        if (table, key) not in touched:
            assert answer == sorted(walk._look(table, key), key=lambda part: part.id), (table, key)


def _every_look(site: Site) -> set[tuple[str, str]]:
    by_index = {
        (index.name, key)
        for index in INDEXES
        for part in site.table(index.kind)
        for key in index.keys(part)
        if key is not None
    }
    return by_index | {(kind.KIND, part.id) for kind in PARTS for part in site.table(kind)}


def test_a_part_may_be_added_and_set_in_one_list_of_changes() -> None:
    site = block({"A": {1: ["1"]}})
    added = Add(Dwelling(id="new", door_label="2", core="A", level="L1"), 1)
    number = Set(Dwelling.KIND, "new", "call_number", None, "2")
    walk = Walk(site)
    assert walk.dwellings_numbered("2") == ()
    (found,) = walk.after((added, number)).dwellings_numbered("2")
    assert found.id == "new"
    assert ("dwellings numbered", "2") in Walk.touched_by(walk, (added, number))
