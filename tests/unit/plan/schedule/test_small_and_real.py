"""Schedules of small and real sites: they can be carried out, are as good as the best where all can be tried, and say
how they were made. Times are common practice; expected figures are worked out by hand beside each check."""

import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import count

import pytest

from doorwright.model.door import Door
from doorwright.model.place import Entrance, Place, PlaceKind
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import ENTER_MIN, run_sheet
from doorwright.plan.schedule import After, Pace, Schedule, Spot, Times, make_schedule, walk_s, work_of
from tests.unit.plan.block import block, planned, plus, run, server, switch, unit
from tests.unit.plan.schedule.checker import problems
from tests.unit.plan.schedule.small import best_finish_s, job, work

PACE, TIMES = Pace(), Times()


def site() -> Site:
    """Two cores with switches in a chain, a gate with a door, a desk, a second receiver, a stray one."""
    labels = {
        "A": {level: [f"A{level}{flat:02d}" for flat in range(1, 12)] for level in (1, 2)},
        "B": {1: ["B101", "B102"]},
    }
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True, place="yard")
    made = plus(
        block(labels),
        Place(id="yard", name="Yard", kind=PlaceKind.OUTDOORS),
        Place(id="riser", name="Riser", kind=PlaceKind.RISER_CUPBOARD, core="B", level="L2"),
        gate,
        unit("vcu gate", entrance="gate"),
        unit("smu desk", place="riser"),
        unit("uru second", dwelling="A/A101"),
        unit("uru stray"),
        switch("S1", place="riser"),
        switch("S2"),
        run("up", "S1", "S2"),
        run("to B", "S1", "uru B/B101"),
        run("to A", "S2", "uru A/A203"),
        Door(id="leaf", name="Gate leaf", entrance="gate"),
    )
    return planned(made).site


def made(some: Site, technicians: int, *, effort_s: float = 0.3, remote: bool = False) -> Schedule:
    jobs = work_of(Walk(some), times=TIMES, pace=PACE, remote_registrar=remote)
    return make_schedule(jobs, technicians=technicians, effort_s=effort_s)


@pytest.mark.parametrize("technicians", [1, 2, 3, 7])
@pytest.mark.parametrize("remote", [False, True])
def test_it_can_be_carried_out(technicians: int, *, remote: bool) -> None:
    schedule = made(site(), technicians, remote=remote)
    assert problems(site(), schedule, pace=PACE, times=TIMES, remote=remote) == []
    assert schedule.bound_s <= schedule.finish_s <= schedule.in_list_order_s


def test_the_check_itself_finds_wrong_hands_places_and_order() -> None:
    good = made(site(), 2)

    def told(number: int, **values: object) -> list[str]:
        changed = [replace(one, job=replace(one.job, **values)) if one.job.number == number else one  # type: ignore[arg-type]
                   for one in good.visits]  # fmt: skip
        return problems(site(), replace(good, visits=tuple(changed)), pace=PACE, times=TIMES)

    batch = next(visit.job for visit in good.visits if visit.job.action.startswith("Enter, "))
    assert any("are needed" in line for line in told(batch.number, hands_s=batch.hands_s - 20))
    assert any("is not done at" in line for line in told(batch.number, spot=replace(batch.spot, storey=9)))
    look = next(visit for visit in good.visits if visit.job.is_look)
    early = [replace(one, start_s=0, walk_s=0, wait_s=0) if one is look else one for one in good.visits]
    assert any("before it has settled" in line for line in
               problems(site(), replace(good, visits=tuple(early)), pace=PACE, times=TIMES))  # fmt: skip


def test_with_a_server_nothing_is_entered_elsewhere() -> None:
    some = planned(plus(site(), server())).site
    schedule = made(some, 2)
    assert problems(some, schedule, pace=PACE, times=TIMES) == []


def test_a_site_without_work_has_an_empty_schedule() -> None:
    schedule = made(Site(name=""), 2)
    assert (schedule.visits, schedule.finish_s, schedule.bound_s, schedule.gap_ratio) == ((), 0, 0, 0.0)


def test_both_entries_take_what_the_run_sheet_allows() -> None:
    # the run sheet counts both ends in one figure of whole minutes
    assert TIMES.unit_s + TIMES.registrar_s == 60 * ENTER_MIN


def test_it_covers_what_the_run_sheet_covers() -> None:
    walk = Walk(site())
    on_sheet = {part.id for task in run_sheet(walk) for part in task.parts}
    in_jobs = {part.id for job in work_of(walk, times=TIMES, pace=PACE).jobs for part in job.parts}
    assert on_sheet <= in_jobs


def test_parts_without_a_place_are_told() -> None:
    assert set(work_of(Walk(site()), times=TIMES, pace=PACE).assumed) == {
        "S2", "Entrance A", "Entrance B", "uru stray",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("start", "end", "seconds"),
    [
        # by hand from door 20, level 30, core 120, building 300
        (Spot("h", "A", 3, "x"), Spot("h", "A", 3, "x"), 0),
        (Spot("h", "A", 3, "x"), Spot("h", "A", 3, "y"), 20),
        (Spot("h", "A", 3, "x"), Spot("h", "A", 5, "x"), 20 + 2 * 30),
        (Spot("h", "A", 3, "x"), Spot("h", "B", 2, "x"), 20 + 3 * 30 + 120 + 2 * 30),
        (Spot("h", "A", -1, "x"), Spot("h", None, 0, "x"), 20 + 30 + 60),
        (Spot("h", "A", 1, "x"), Spot("g", "C", 0, "x"), 20 + 30 + 60 + 150 + 150 + 60),
        (Spot("h", None, 0, "x"), Spot(None, None, 0, "gate"), 20 + 150),
    ],
)
def test_walks(start: Spot, end: Spot, seconds: int) -> None:
    assert walk_s(PACE, start, end) == walk_s(PACE, end, start) == seconds


def test_waiting_is_used() -> None:
    # One technician: two batches of 100 s on one level, each looked at (10 s) no sooner than 100 s after.
    # 0-100 first, 20 s walk, 120-220 second, 20 s back, 240-250 look at the first, 20 s, 320-330 look at the second.
    some = work(
        job(0, 100, at="a"), job(1, 10, at="a", after=[After(0, 100)]),
        job(2, 100, at="b"), job(3, 10, at="b", after=[After(2, 100)]),
    )  # fmt: skip
    schedule = make_schedule(some, technicians=1, effort_s=0.5)
    assert schedule.finish_s == 330
    # in list order: 100 + 100 wait + 10, walk 20, then the same again
    assert schedule.in_list_order_s == 210 + 20 + 210
    assert schedule.made_by.endswith("nothing can be sooner")


SMALL = {
    "two storeys": work(*(job(i, 100 + 30 * i, at=str(i), storey=i % 3) for i in range(5))),
    "one menu": work(*(job(i, 200, at="m", menu="m") for i in range(3)), job(3, 50, at="y"), job(4, 70, at="z")),
    "a chain": work(
        job(0, 60), job(1, 60, after=[After(0, 90)]), job(2, 300, at="far", core="B"),
        job(3, 10, at="far", core="B", after=[After(2, 200)]), job(4, 45, after=[After(1, 0), After(3, 0)]),
    ),
}  # fmt: skip


@pytest.mark.parametrize("technicians", [1, 2, 3])
@pytest.mark.parametrize("name", SMALL)
def test_small_work_is_as_good_as_the_best_of_all(name: str, technicians: int) -> None:
    best_s = best_finish_s(SMALL[name], technicians)
    schedule = make_schedule(SMALL[name], technicians=technicians, effort_s=1.0)
    assert schedule.bound_s <= best_s == schedule.finish_s
    assert "nothing can be sooner" in schedule.made_by


def test_the_same_input_gives_the_same_schedule() -> None:
    assert made(site(), 3, effort_s=1.0) == made(site(), 3, effort_s=1.0)


def test_without_the_solver_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)
    schedule = made(site(), 2)
    assert problems(site(), schedule, pace=PACE, times=TIMES) == []
    assert "not installed" in schedule.made_by


def test_when_told_to_stop_it_hands_over_what_it_has() -> None:
    jobs = work_of(Walk(site()), times=TIMES, pace=PACE)
    asked: Iterator[int] = count()
    schedule = make_schedule(jobs, technicians=2, effort_s=1e9, stop=lambda: next(asked) >= 3)
    assert problems(site(), schedule, pace=PACE, times=TIMES) == []
    assert "alone" in schedule.made_by


def test_loops_in_what_users_give_do_not_stop_it() -> None:
    one, other = unit("uru A/1", dwelling="d", registrar="uru A/2"), unit("uru A/2", dwelling="d", registrar="uru A/1")
    ring = plus(Site(name=""), one, other, switch("S1"), switch("S2"), run("a", "S1", "S2"), run("b", "S2", "S1"))
    assert {part.id for visit in made(ring, 1).visits for part in visit.job.parts} == {"uru A/1", "uru A/2", "S1", "S2"}
