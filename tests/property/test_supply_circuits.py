"""Circuits of a supply as a site tells them: one lock is the closed form, more load never helps, order is nothing."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.calc.dc import Collapse, constant_current_feed
from doorwright.model.door import Door
from doorwright.model.network import CableRun, Junction
from doorwright.model.power import Supply
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.studies.lock_voltage import lock_voltage
from doorwright.studies.supply_network import supply_network

CONDUCTOR_OHM_PER_KM = 19.5  # 2x1.0 is flexible, IEC 60228 class 5, 1 mm²
LENGTHS_M = st.floats(0.0, 200.0)
CURRENTS_A = st.floats(0.05, 2.0)


def site(lengths_m: list[float], currents_a: list[float], trunk_m: float | None) -> Site:
    """Return doors behind a junction at the end of a trunk, or each on its own run where there is no trunk."""
    near = "supply" if trunk_m is None else "box"
    runs = [
        CableRun(id=f"r{i}", name=f"R{i}", near=near, far=f"d{i}", cable="2x1.0", length_m=length_m, temperature_c=20.0)
        for i, length_m in enumerate(lengths_m)
    ]
    if trunk_m is not None:
        runs.append(
            CableRun(id="t", name="T", near="supply", far="box", cable="2x1.0", length_m=trunk_m, temperature_c=20.0)
        )
    return Site(
        name="Invented House",
        profiles=(Profile(key="p", title="p", kind=ProfileKind.SUPPLY, output_v=24.0, output_a=5.0),),
        supplies=(Supply(id="supply", name="S", profile="p"),),
        junctions=(Junction(id="box", name="Box"),),
        doors=tuple(
            Door(id=f"d{i}", name=f"D{i}", entrance="e", lock_operate_a=current_a, lock_minimum_v=20.0)
            for i, current_a in enumerate(currents_a)
        ),
        runs=tuple(runs),
    )


def volts(book: Site, door: str) -> float:
    walk = Walk(book)
    found = lock_voltage(walk, walk.get(Door, door)).value
    assert found is not None
    return found.lock_v


@given(LENGTHS_M, CURRENTS_A)
def test_one_lock_on_one_run_is_the_closed_form(length_m: float, current_a: float) -> None:
    loop_ohm = 2.0 * CONDUCTOR_OHM_PER_KM * length_m / 1000.0
    feed = constant_current_feed(source_v=24.0, load_a=current_a, loop_ohm=loop_ohm)
    expected_v = 0.0 if isinstance(feed, Collapse) else feed.far_v
    assert abs(volts(site([length_m], [current_a], None), "d0") - expected_v) < 1e-9


@settings(max_examples=50)
@given(st.lists(st.tuples(LENGTHS_M, CURRENTS_A), min_size=2, max_size=5), st.floats(0.0, 50.0))
def test_more_load_behind_a_junction_never_raises_a_voltage(doors: list[tuple[float, float]], trunk_m: float) -> None:
    lengths_m, currents_a = [list(each) for each in zip(*doors, strict=True)]
    with_all = site(lengths_m, currents_a, trunk_m)
    alone = site(lengths_m[:1], currents_a[:1], trunk_m)
    assert volts(with_all, "d0") <= volts(alone, "d0") + 1e-9


@settings(max_examples=50)
@given(st.lists(st.tuples(LENGTHS_M, CURRENTS_A), min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_runs_of_their_own_do_not_disturb_each_other_and_order_means_nothing(
    doors: list[tuple[float, float]], chance: object
) -> None:
    lengths_m, currents_a = [list(each) for each in zip(*doors, strict=True)]
    book = site(lengths_m, currents_a, None)
    assert volts(book, "d0") == volts(site(lengths_m[:1], currents_a[:1], None), "d0")
    runs = list(book.runs)
    chance.shuffle(runs)  # type: ignore[attr-defined]
    mixed = replace(book, runs=tuple(runs), doors=book.doors[::-1])
    studied = [supply_network(Walk(each), each.supplies[0]).value for each in (book, mixed)]
    assert studied[0] == studied[1]
