"""What must hold of any schedule: it can be carried out, no bound is beaten, and nothing is worse than the list."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.schedule import After, Job, Pace, Spot, Times, Work, make_schedule, work_of
from tests.unit.plan.block import block, planned, plus, run, switch, unit
from tests.unit.plan.schedule.checker import problems, way_s
from tests.unit.plan.schedule.small import best_finish_s

SPOTS = tuple(
    Spot(building, core, storey, name)
    for building, core, storey, name in (
        ("h", "A", 0, "x"), ("h", "A", 0, "y"), ("h", "A", 4, "x"), ("h", "B", 2, "x"), ("g", "C", 1, "x"),
        (None, None, 0, "gate"),
    )
)  # fmt: skip


@st.composite
def works(draw: st.DrawFn, most: int = 5) -> Work:
    """Any small work: hands, spots, lags and menus at will."""
    jobs = []
    for number in range(draw(st.integers(1, most))):
        earlier = draw(st.sets(st.integers(0, number - 1), max_size=2)) if number else set()
        afters = tuple(After(other, draw(st.sampled_from((0, 0, 75, 400)))) for other in sorted(earlier))
        menu = draw(st.sampled_from((None, None, "m")))
        hands_s = draw(st.sampled_from((0, 30, 100, 240)))
        jobs.append(Job(number, "dwellings", "", str(number), (), draw(st.sampled_from(SPOTS)), hands_s, afters, menu))
    return Work(tuple(jobs), draw(st.sampled_from((Pace(), Pace(door_s=0, level_s=7, core_s=1, building_s=3)))))


@settings(max_examples=40)
@given(works(most=4), st.integers(1, 3))
def test_the_solver_finds_the_best_of_all_and_the_bound_stays_below(work: Work, technicians: int) -> None:
    best_s = best_finish_s(work, technicians)
    schedule = make_schedule(work, technicians=technicians, effort_s=0.2)
    assert schedule.bound_s <= best_s
    assert schedule.finish_s == best_s


@settings(max_examples=60)
@given(works(most=12), st.integers(1, 4))
def test_any_work_is_carried_out_as_its_jobs_ask(work: Work, technicians: int) -> None:
    schedule = make_schedule(work, technicians=technicians, effort_s=0.0)
    start_s = {visit.job.number: visit.start_s for visit in schedule.visits}
    assert sorted(start_s) == list(range(len(work.jobs)))
    for job in work.jobs:
        for after in job.after:
            assert start_s[job.number] >= start_s[after.job] + work.jobs[after.job].hands_s + after.lag_s
    held = sorted((visit.start_s, visit.end_s) for visit in schedule.visits if visit.job.menu)
    assert all(first[1] <= second[0] for first, second in pairwise(held))
    for technician in range(technicians):
        day = schedule.of(technician)
        for one, following in pairwise(day):
            assert following.start_s >= one.end_s + way_s(work.pace, one.job.spot, following.job.spot)
    assert schedule.bound_s <= schedule.finish_s


@given(works(most=8), st.integers(1, 3))
def test_more_technicians_do_not_raise_the_bound_above_what_fewer_reach(work: Work, technicians: int) -> None:
    fewer = make_schedule(work, technicians=technicians, effort_s=0.0)
    more = make_schedule(work, technicians=technicians + 1, effort_s=0.0)
    assert more.bound_s <= fewer.finish_s


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """A planned block with switches in a random tree, secondaries, and units of several types."""
    cores = draw(st.integers(1, 2))
    labels = {
        core: {
            level: [f"{core}{level}{flat:02d}" for flat in range(draw(st.integers(1, 10)))]
            for level in range(1, draw(st.integers(1, 3)) + 1)
        }
        for core in "AB"[:cores]
    }
    site = block(labels)
    for number in range(draw(st.integers(0, 3))):
        site = plus(site, switch(f"S{number}"))
        if number:
            site = plus(site, run(f"up {number}", f"S{draw(st.integers(0, number - 1))}", f"S{number}"))
    for i, fed in enumerate(site.units):
        is_fed = draw(st.booleans())
        if site.switches and is_fed:
            site = plus(site, run(f"run {i}", f"S{draw(st.integers(0, len(site.switches) - 1))}", fed.id))
    for i, dwelling in enumerate(site.dwellings):
        if draw(st.integers(0, 4)) == 0:
            profile = draw(st.sampled_from(("uru-video", "uru-audio")))
            site = plus(site, unit(f"uru more {i}", dwelling=dwelling.id, profile=profile))
    return planned(site).site


@settings(max_examples=25)
@given(sites(), st.integers(1, 4), st.booleans(), st.sampled_from((Times(), Times(unit_s=20, look_s=5, call_s=0))))
def test_any_site_s_schedule_can_be_carried_out(site: Site, technicians: int, remote: bool, times: Times) -> None:
    pace = Pace()
    work = work_of(Walk(site), times=times, pace=pace, remote_registrar=remote)
    schedule = make_schedule(work, technicians=technicians, effort_s=0.05)
    assert problems(site, schedule, pace=pace, times=times, remote=remote) == []
    assert schedule.bound_s <= schedule.finish_s
