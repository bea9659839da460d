"""Charts, week strips and the schedule of work, on sites of 500 dwellings: nothing on another, outside or too small."""

from collections.abc import Callable

import pytest

from doorwright.day.days import play_days
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.schedule import Pace, Times, make_schedule, work_of
from doorwright.render.svg import Drawing, gantt
from doorwright.render.svg.blocking_chart import blocking_chart
from doorwright.render.svg.hours_chart import hours_chart
from doorwright.render.svg.ladder import Caption, ladder_sheets
from doorwright.render.svg.link_bars import link_bars
from doorwright.render.svg.power_charts import power_charts
from doorwright.render.svg.week import week_strips
from doorwright.studies.annex import all_studies
from doorwright.studies.day_building import day_building
from tests.documents import svg_reading as reading
from tests.documents.ladder_of_units import ladder_of_units
from tests.documents.svg_large_sites import SITES, lived_in

STAMP = {"revision": "R7", "on": "2031-03-14"}
CALL = Caption("A call", "URU 1 rang; " * 60, "nothing rang", as_proved=False, conditions="seed 1")


def hours(walk: Walk) -> tuple[Drawing, ...]:
    plan = day_building(walk)
    return () if plan is None else (hours_chart(play_days(plan.building, days_count=5, seed=1), walk, seed=1, **STAMP),)


def schedule(walk: Walk, technicians: int) -> tuple[Drawing, ...]:
    jobs = work_of(walk, times=Times(), pace=Pace())
    return gantt(make_schedule(jobs, technicians=technicians, effort_s=0.0), walk, **STAMP)


CHARTS: dict[str, Callable[[Walk], tuple[Drawing, ...]]] = {
    "power": lambda walk: power_charts(walk, **STAMP),
    "blocking": lambda walk: blocking_chart(tuple(all_studies(walk)), walk, **STAMP),
    "links": lambda walk: link_bars(tuple(all_studies(walk)), walk, **STAMP),
    "hours": hours,
    "week": lambda walk: week_strips(walk, prove(walk), **STAMP),
    "schedule for one": lambda walk: schedule(walk, 1),
    "schedule for thirty": lambda walk: schedule(walk, 30),
    "ladder of many": lambda walk: ladder_sheets(ladder_of_units(walk, 40), walk, CALL, **STAMP),
}


@pytest.mark.parametrize("what", CHARTS)
@pytest.mark.parametrize("site", ["500 dwellings in one core", "500 dwellings in five cores"])
def test_a_large_site_is_drawn_whole_and_legibly(site: str, what: str) -> None:
    drawings = CHARTS[what](Walk(lived_in(SITES[site]())))
    assert drawings
    for drawing in drawings:
        assert reading.misplaced(drawing) == []
        assert [words for words in reading.legend(drawing) if "…" in words] == []
        assert min(letter.size_mm for letter in reading.letterings(drawing)) >= 1.8


@pytest.mark.parametrize("what", CHARTS)
@pytest.mark.parametrize("site", ["nothing at all", "a real plan", "200 dwellings on one level"])
def test_whatever_a_site_tells_is_drawn_legibly(site: str, what: str) -> None:
    for drawing in CHARTS[what](Walk(SITES[site]())):
        assert reading.misplaced(drawing) == []


def test_a_name_that_is_cut_leaves_the_figures_of_its_curve_whole() -> None:
    (chart,) = CHARTS["blocking"](Walk(lived_in(SITES["500 dwellings in one core"]())))
    names = [letter.text for letter in reading.letterings(chart) if " E" in letter.text and "%" in letter.text]
    assert len(names) > 20
    assert any("…:" in name for name in names)
    assert [name for name in names if not name.endswith(" E")] == []
