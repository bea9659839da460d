"""The chart of the schedule: every job with its words, nothing over anything else, waiting to be seen."""

import pytest

from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.schedule import After, Pace, Schedule, Times, make_schedule, work_of
from doorwright.render.svg import sheet
from doorwright.render.svg.gantt import clock, gantt
from doorwright.render.svg.sheet import Drawing
from tests.documents import svg_reading as reading
from tests.documents import svg_sites
from tests.unit.plan.schedule.small import job, work


def scheduled(site: Site, technicians: int) -> Schedule:
    jobs = work_of(Walk(site), times=Times(), pace=Pace())
    return make_schedule(jobs, technicians=technicians, effort_s=0.0)


def drawn(schedule: Schedule, site: Site) -> tuple[Drawing, ...]:
    return gantt(schedule, Walk(site), revision="R7", on="2031-03-14")


SITES = {
    "orchard court, 2": (svg_sites.orchard_court(), 2),
    "orchard court, 1": (svg_sites.orchard_court(), 1),
    "grown, 5": (svg_sites.grown(cores=2, levels=6, per_level=6), 5),
    "grown, 45": (svg_sites.grown(cores=2, levels=6, per_level=6), 45),
}


@pytest.mark.parametrize("name", SITES)
def test_every_job_is_told(name: str) -> None:
    site, technicians = SITES[name]
    schedule = scheduled(site, technicians)
    words = reading.all_words(drawn(schedule, site))
    for visit in schedule.visits:
        told = f"{visit.job.number + 1} {visit.job.action}; {visit.job.where}; from {clock(visit.start_s)}"
        assert told in words
    for technician in range(technicians):
        assert f"Technician {technician + 1}" in words


@pytest.mark.parametrize("name", SITES)
def test_all_stands_inside_the_frame_and_no_words_overlap(name: str) -> None:
    site, technicians = SITES[name]
    for drawing in drawn(scheduled(site, technicians), site):
        lines = reading.letterings(drawing)
        assert reading.overlapping([(line.text, line.box) for line in lines]) == []
        assert all(sheet.FRAME.holds(line.box, slack_mm=0.3) for line in lines)
        assert all(sheet.FRAME.holds(box, slack_mm=0.3) for box in reading.shapes(drawing))


@pytest.mark.parametrize("name", SITES)
def test_no_words_are_cut(name: str) -> None:
    site, technicians = SITES[name]
    for drawing in drawn(scheduled(site, technicians), site):
        assert [line.text for line in reading.letterings(drawing) if "…" in line.text] == []


def test_a_bar_too_narrow_for_its_number_has_it_above() -> None:
    # 30 s of the 3 600 s of a strip are 3 mm, and "2" with an edge at either side takes as much: it stands above
    schedule = make_schedule(work(job(0, 900, at="a"), job(1, 20, at="b")), technicians=1, effort_s=0.0)
    (drawing,) = drawn(schedule, Site(name="Narrow"))
    by_text = {line.text: line.box for line in reading.letterings(drawing)}
    assert by_text["2"].bottom_mm < by_text["1"].y_mm


def test_waiting_is_told_and_hatched() -> None:
    # a batch of 600 s, then 900 s until it may be looked at, and nothing else to do
    schedule = make_schedule(
        work(job(0, 600, at="a"), job(1, 120, at="a", after=[After(0, 900)])), technicians=1, effort_s=0.0
    )
    (drawing,) = drawn(schedule, Site(name="Waiting"))
    assert "wait 15 min 0 s" in reading.all_words((drawing,))
    # 900 s are a quarter of the strip less its names: about 90 mm, with a stroke every 1.5 mm
    assert len(reading.shapes(drawing)) > 60


def test_long_work_is_cut_by_hours() -> None:
    schedule = make_schedule(work(job(0, 30_000)), technicians=1, effort_s=0.0)
    (drawing,) = drawn(schedule, Site(name="Long"))
    # 30 000 s are nine strips of 3 600 s: eight of them go on with the job
    assert reading.all_words((drawing,)).count("1, continued") == 8


def test_no_work_no_drawing() -> None:
    assert drawn(scheduled(Site(name=""), 2), Site(name="")) == ()
