"""The charts of visitors and links: nothing outside its frame, no words over others, and the right figures told."""

import pytest

from doorwright.day.days import play_days
from doorwright.model.habits import CallHabits
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.axes import round_top, ticks
from doorwright.render.svg.blocking_chart import blocking_chart
from doorwright.render.svg.hours_chart import hours_chart
from doorwright.render.svg.link_bars import link_bars
from doorwright.render.svg.sheet import Drawing
from doorwright.rules.example import put_site
from doorwright.rules.sound import sound_site
from doorwright.studies.annex import all_studies
from doorwright.studies.day_building import day_building
from tests.documents import svg_reading as reading

STAMP = {"revision": "R7", "on": "2031-03-14"}


def drawn(calls_count: float) -> tuple[Drawing, ...]:
    walk = Walk(put_site(habits=CallHabits(calls_per_dwelling_count=calls_count))(sound_site()))
    plan = day_building(walk)
    assert plan is not None
    studies = tuple(all_studies(walk))
    return (
        *blocking_chart(studies, walk, **STAMP),
        hours_chart(play_days(plan.building, days_count=20, seed=1), walk, seed=1, **STAMP),
        *link_bars(studies, walk, **STAMP),
    )


@pytest.mark.parametrize("calls_count", [0.0, 3.0, 400.0])
def test_all_stands_inside_the_frame_and_no_words_overlap(calls_count: float) -> None:
    drawings = drawn(calls_count)
    assert [drawing.name for drawing in drawings] == ["blocking", "hours", "links"]
    for drawing in drawings:
        lines = reading.letterings(drawing)
        assert reading.overlapping([(line.text, line.box) for line in lines]) == []
        assert all(sheet.FRAME.holds(line.box, slack_mm=0.3) for line in lines)
        assert all(sheet.FRAME.holds(box, slack_mm=0.3) for box in reading.shapes(drawing))


def test_the_figures_are_told() -> None:
    blocking, hours, links = drawn(300.0)
    # 4 · 100 · 10/98 · 34.9/3600 = 0.3957 E on one line: 28.4 %
    assert "Gate, Rear entrance: 28.4 % at 1, 0.396 E" in reading.all_words((blocking,))
    assert "20 days played with seed 1, 3 call units." in reading.all_words((hours,))
    words = reading.all_words((links,))
    assert "U1: S1 to S2" in words
    assert "as full as a link may be: 50 %, beyond this scale" in words


@pytest.mark.parametrize(
    ("value", "top"), [(0.0, 1.0), (0.7, 0.8), (1.0, 1.0), (11.0, 15.0), (102.0, 150.0), (97.0, 100.0)]
)
def test_round_numbers_up_the_side(value: float, top: float) -> None:
    assert round_top(value) == pytest.approx(top)
    marks = list(ticks(round_top(value)))
    assert marks[0] == 0.0
    assert marks[-1] == pytest.approx(top)


def test_nothing_studied_nothing_drawn() -> None:
    walk = Walk(sound_site())
    assert blocking_chart((), walk, **STAMP) == link_bars((), walk, **STAMP) == ()
