"""The drawings of a site: their series, and what each is made of."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from doorwright.day.days import Played, play_days
from doorwright.model.walk import Walk
from doorwright.paths.proof import Proof, prove
from doorwright.plan.schedule import Pace, Schedule, Times, make_schedule, work_of
from doorwright.render.svg import Drawing, elevations, gantt, level_plans, network_tree, power_lines, riser
from doorwright.render.svg.blocking_chart import blocking_chart
from doorwright.render.svg.hours_chart import hours_chart
from doorwright.render.svg.link_bars import link_bars
from doorwright.render.svg.power_charts import power_charts
from doorwright.render.svg.week import week_strips
from doorwright.store.record import Revision
from doorwright.studies.annex import all_studies
from doorwright.studies.day_building import day_building
from doorwright.studies.study import Study

TECHNICIANS_COUNT: Final = 2
TECHNICIANS_MOST: Final = 60
"""How many technicians the work on site can be shared among."""
_SCHEDULE_S: Final = 1.0
"""The search for a schedule is kept short here; the command ``schedule`` searches longer."""
_DAYS_COUNT: Final = 100
_DAYS_SEED: Final = 1
"""So few days take a moment; the command ``day`` plays more."""
_SHEET: Final = re.compile(r"-\d+$")


class Material:
    """What the drawings of one revision are made of. What must be worked out is worked out when it is first needed."""

    def __init__(self, walk: Walk, revision: Revision, *, technicians: int = TECHNICIANS_COUNT) -> None:
        self.walk = walk
        self.stamp = {"revision": str(revision.number), "on": f"{revision.made_at:%Y-%m-%d}"}
        self._technicians = technicians

    @cached_property
    def schedule(self) -> Schedule:
        """The work on site, shared among the technicians."""
        work = work_of(self.walk, times=Times(), pace=Pace())
        return make_schedule(work, technicians=self._technicians, effort_s=_SCHEDULE_S)

    @cached_property
    def studies(self) -> tuple[Study[Any], ...]:
        """Every study of every part."""
        return tuple(all_studies(self.walk))

    @cached_property
    def proof(self) -> Proof:
        """What was proven of the calls of every entrance."""
        return prove(self.walk)

    @cached_property
    def days(self) -> tuple[Played, ...]:
        """Some days of the building, played; nothing where there is no day to play."""
        plan = day_building(self.walk)
        return (play_days(plan.building, days_count=_DAYS_COUNT, seed=_DAYS_SEED),) if plan is not None else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Drawings of one kind, on as many sheets as they need: the name that all of them begin with, what they show."""

    name: str
    title: str
    shows: str
    draw: Callable[[Material], tuple[Drawing, ...]]


SERIES: Final[tuple[Series, ...]] = (
    Series(
        name="riser",
        title="Riser",
        shows="the building in section: homes, units, switches, and the cables between them",
        draw=lambda made_of: riser(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="levels",
        title="Levels",
        shows="each level from above: cores, homes, entrances and places",
        draw=lambda made_of: level_plans(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="network",
        title="Network",
        shows="switches, ports and what hangs on them",
        draw=lambda made_of: network_tree(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="power",
        title="Power",
        shows="supplies, junctions, fuses and loads, with the voltage that arrives",
        draw=lambda made_of: power_lines(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="entrances",
        title="Entrances",
        shows="each entrance from outside: call units, heights, doors, locks",
        draw=lambda made_of: elevations(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="power-charts",
        title="Power charts",
        shows="voltage along the runs, and the power of the switches",
        draw=lambda made_of: power_charts(made_of.walk, **made_of.stamp),
    ),
    Series(
        name="schedule",
        title="Schedule of the work",
        shows="who does what when on site",
        draw=lambda made_of: gantt(made_of.schedule, made_of.walk, **made_of.stamp),
    ),
    Series(
        name="week",
        title="Weeks",
        shows="who rings and who may free the door, through the hours of a week",
        draw=lambda made_of: week_strips(made_of.walk, made_of.proof, **made_of.stamp),
    ),
    Series(
        name="blocking",
        title="Calls found taken",
        shows="how often a visitor finds the call unit taken",
        draw=lambda made_of: blocking_chart(made_of.studies, made_of.walk, **made_of.stamp),
    ),
    Series(
        name="hours",
        title="Hours of a day",
        shows="what visitors meet through the hours of a day",
        draw=lambda made_of: tuple(
            hours_chart(played, made_of.walk, seed=_DAYS_SEED, **made_of.stamp) for played in made_of.days
        ),
    ),
    Series(
        name="links",
        title="Links",
        shows="the streams on the links between switches, beside what the links carry",
        draw=lambda made_of: link_bars(made_of.studies, made_of.walk, **made_of.stamp),
    ),
)
"""The series in the order of the pack."""

SERIES_BY_NAME: Final = {series.name: series for series in SERIES}


def series_of(name: str) -> Series | None:
    """Return the series that a drawing belongs to by its name, or None where no series has such names."""
    return SERIES_BY_NAME.get(_SHEET.sub("", name))


def all_drawings(made_of: Material, progress: Callable[[str], None]) -> tuple[Drawing, ...]:
    """Return every drawing of a site, series by series; ``progress`` is told which is being drawn."""
    drawings: list[Drawing] = []
    for series in SERIES:
        progress(f"drawing: {series.title.lower()}")
        drawings += series.draw(made_of)
    return tuple(drawings)
