"""The order of work on site (common practice): from the switches outwards, each unit set up once."""

from doorwright.model.door import Door
from doorwright.model.place import Entrance, Place, PlaceKind
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import Task, run_sheet, switches_from_root
from tests.unit.plan.block import block, planned, plus, run, server, set_profile, switch, unit


def site() -> Site:
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True)
    return plus(
        block({"A": {1: ["101", "102"], 2: ["201"]}, "B": {1: ["1"]}}),
        gate,
        unit("vcu gate", entrance="gate"),
        unit("smu desk"),
        unit("uru second", dwelling="A/101"),
        unit("uru stray"),
        switch("S1"),
        switch("S2"),
        run("up", "S2", "S1"),
        Door(id="leaf", name="Gate leaf", entrance="gate"),
    )


def work() -> tuple[Task, ...]:
    return run_sheet(Walk(planned(site()).site))


def test_every_unit_and_switch_is_set_up_exactly_once() -> None:
    setting_up = [
        part.id
        for task in work()
        if task.stage != "test" and not task.action.startswith("Look again")
        for part in task.parts
    ]
    assert sorted(setting_up) == sorted(part.id for part in (*site().units, *site().switches))


def test_what_others_depend_on_comes_first() -> None:
    at: dict[str, int] = {}
    for task in work():
        for part in task.parts:
            at.setdefault(part.id, task.number)
    assert at["S2"] < at["S1"] < at["vcu gate"] < min(at["vcu A"], at["vcu B"])
    assert max(at["vcu A"], at["vcu B"]) < at["smu desk"] < at["uru A/101"]
    # the secondary after its primary and after the primaries of its level
    assert at["uru A/102"] < at["uru second"] < at["uru A/201"] < at["uru B/1"]


def test_stages_follow_each_other() -> None:
    stages = list(dict.fromkeys(task.stage for task in work()))
    assert stages == ["network", "registrar", "entrance", "desk", "dwellings", "test"]
    assert [task.number for task in work()] == list(range(1, len(work()) + 1))


def test_after_each_level_all_are_looked_at_again_without_idle_minutes() -> None:
    looks = [task for task in work() if task.action.startswith("Look again")]
    # A level 1: two primaries, then one secondary; A level 2 and B level 1: one each
    assert [len(task.parts) for task in looks] == [2, 1, 1, 1]
    # a generic receiver settles in 240 s: four minutes, of which entering the second unit already took four
    assert [task.minutes for task in looks] == [0, 4, 4, 4]


def test_part_minutes_of_settling_count_as_whole_ones() -> None:
    slow = set_profile(site(), "uru-video", settle_s=241.0)
    looks = [task for task in run_sheet(Walk(planned(slow).site)) if task.action.startswith("Look again")]
    assert [task.minutes for task in looks] == [1, 5, 5, 5]


def test_a_server_is_entered_before_anything_registers() -> None:
    tasks = run_sheet(Walk(planned(plus(site(), server())).site))
    number = next(task.number for task in tasks if task.parts[0].id == "server")
    assert number < min(task.number for task in tasks if isinstance(task.parts[0], Unit))


def test_each_visitor_call_unit_is_tested_with_its_doors() -> None:
    tests = [task for task in work() if task.stage == "test"]
    assert {task.parts[0].id for task in tests} == {"vcu gate", "vcu A", "vcu B"}
    (at_gate,) = [task for task in tests if task.parts[0].id == "vcu gate"]
    assert [part.id for part in at_gate.parts] == ["vcu gate", "leaf"]
    assert "free Gate leaf" in at_gate.action


def test_switches_in_a_ring_are_each_listed_once() -> None:
    ring = plus(
        Site(name=""), switch("S1"), switch("S2"), switch("S3"),
        run("a", "S1", "S2"), run("b", "S2", "S3"), run("c", "S3", "S1"),
    )  # fmt: skip
    assert [one.id for one in switches_from_root(Walk(ring))] == ["S1", "S2", "S3"]


def test_where_to_go_is_said_in_words() -> None:
    cupboard = Place(id="cupboard", name="Riser A, level 2", kind=PlaceKind.RISER_CUPBOARD)
    tasks = run_sheet(Walk(plus(site(), cupboard, switch("S3", place="cupboard"))))
    where = {task.parts[0].id: task.where for task in tasks}
    assert where["S3"] == "Riser A, level 2"
    assert where["vcu gate"] == "Gate"
    assert all(word in where["uru second"] for word in ("A", "1", "101"))
