"""Locks and their supplies. Expected figures by hand, the steps beside them."""

import pytest

from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.lock_voltage import lock_voltage
from doorwright.studies.supply_load import supply_load
from tests.unit.studies.building import SITE, part, walk_with, walk_with_profile, walk_without


def test_voltage_at_a_lock() -> None:
    study = lock_voltage(Walk(SITE), part(Door, "front"))
    found = study.value
    assert found is not None
    # 1.0 mm² flexible, IEC 60228: 19.5 ohm/km; 2 × 19.5 × 0.04 = 1.56 ohm; × 1.0786 at 40 °C = 1.682616 ohm
    assert found.loop_ohm == pytest.approx(1.682616)
    assert found.drop_v == pytest.approx(0.841308)  # × 0.5 A
    assert found.lock_v == pytest.approx(11.158692)
    assert found.enough
    assert found.flows_always
    assert [working.calculation.id for working in study.workings] == ["two_wire_loop_ohm", "along_run"]


def test_too_long_a_cable_starves_the_lock() -> None:
    # 0.841308 V at 40 m; 1.2 V are to spare, which 57 m still leave and 58 m do not (57.05 m)
    for length_m, enough in ((57.0, True), (58.0, False)):
        found = lock_voltage(walk_with(CableRun, "to-front", length_m=length_m), part(Door, "front")).value
        assert found is not None
        assert found.enough is enough


def test_a_cable_that_cannot_carry_the_current_leaves_nothing() -> None:
    found = lock_voltage(walk_with(CableRun, "to-front", length_m=2000.0), part(Door, "front")).value
    assert found is not None
    assert (found.lock_v, found.drop_v, found.enough) == (0.0, 12.0, False)


@pytest.mark.parametrize(
    ("lock", "fail_mode", "always"),
    [
        (LockKind.MAGNET, None, True),
        (LockKind.STRIKE, FailMode.SAFE, True),
        (LockKind.STRIKE, FailMode.SECURE, False),
        (LockKind.MOTOR, FailMode.SECURE, False),
        (None, None, False),
    ],
)
def test_which_locks_take_current_all_the_time(lock: LockKind | None, fail_mode: FailMode | None, always: bool) -> None:
    walk = walk_with(Door, "front", lock=lock, fail_mode=fail_mode)
    found = lock_voltage(walk, walk.get(Door, "front")).value
    assert found is not None
    assert found.flows_always is always
    load = supply_load(walk, part(Supply, "supply")).value
    assert load is not None
    assert load.standing_a == (0.5 if always else 0.0)


@pytest.mark.parametrize(
    ("walk", "missing"),
    [
        (walk_without(CableRun, "to-front"), [("cable run", "run to the door")]),
        (walk_with(CableRun, "to-front", length_m=None), [("cable run", "length")]),
        (walk_with(CableRun, "to-front", cable="cat6"), [("cable run", "cable")]),
        (walk_with(Door, "front", lock_operate_a=None), [("door", "lock operating current")]),
        (
            walk_with(Door, "front", lock_operate_a=None, lock_minimum_v=None),
            [("door", "lock operating current"), ("door", "lock minimum voltage")],
        ),
        (walk_with_profile("supply", output_v=None), [("profile", "output voltage")]),
        (walk_with_profile("supply", key="other"), [("supply", "profile")]),
    ],
)
def test_what_is_missing_is_named(walk: Walk, missing: list[tuple[str, str]]) -> None:
    study = lock_voltage(walk, walk.get(Door, "front"))
    assert study.value is None
    assert study.missing == tuple(Missing(*pair) for pair in missing)


def test_load_of_a_supply() -> None:
    found = supply_load(Walk(SITE), part(Supply, "supply")).value
    assert found is not None
    assert (found.locks_count, found.load_a, found.standing_a) == (1, 0.5, 0.5)
    assert found.spare_ratio == pytest.approx(0.75)  # 1 - 0.5/2


def test_a_door_with_two_runs_counts_once() -> None:
    second = CableRun(id="second", name="L2", near="supply", far="front")
    found = supply_load(Walk(SITE.with_tables({CableRun: (*SITE.runs, second)})), part(Supply, "supply")).value
    assert found is not None
    assert found.load_a == 0.5


@pytest.mark.parametrize(
    ("walk", "missing"),
    [
        (walk_with(Door, "front", lock_operate_a=None), Missing("door", "lock operating current")),
        (walk_with_profile("supply", output_a=None), Missing("profile", "output current")),
        (walk_with_profile("supply", key="other"), Missing("supply", "profile")),
        (walk_with(CableRun, "riser", near="supply"), Missing("profile", "DC draw")),
        (walk_with(CableRun, "to-desk", near="supply"), Missing("profile", "DC draw")),
        (walk_with(CableRun, "to-desk", near="supply", far="nobody"), Missing("cable run", "far end")),
    ],
)
def test_what_a_supply_waits_for(walk: Walk, missing: Missing) -> None:
    study = supply_load(walk, part(Supply, "supply"))
    assert (study.value, study.missing) == (None, (missing,))
