"""A site given 40 entrances that all serve every dwelling, with hours, diverts and rights of every sort."""

from dataclasses import replace
from typing import Final

from doorwright.model.calling import HOLIDAY, Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind

ENTRANCES_COUNT: Final = 40
_WORKDAYS: Final = (0, 1, 2, 3, 4)


def busy_site(site: Site) -> Site:
    """Return the site with 40 busy entrances in place of its own.

    Every seventh dwelling rings in turn, every tenth sends what it does not answer to the desk, every hundredth to its
    neighbour, and every other entrance's door is given to the cores by day and to the desk by night.
    """
    desk = Unit(id="desk", name="Desk", kind=UnitKind.SMU, profile="smu-desk", registrar=site.servers[0].id)
    entrances = tuple(
        Entrance(
            id=f"way-{n}",
            name=f"Way {n}",
            serves_buildings=tuple(building.id for building in site.buildings),
            calls_desk=n % 3 == 0,
        )
        for n in range(ENTRANCES_COUNT)
    )
    doors = tuple(Door(id=f"leaf-{n}", name=f"Leaf {n}", entrance=f"way-{n}") for n in range(ENTRANCES_COUNT))
    return replace(
        site,
        dwellings=tuple(
            replace(one, ring_mode=RingMode.IN_TURN) if n % 7 == 0 else one for n, one in enumerate(site.dwellings)
        ),
        entrances=entrances,
        doors=doors,
        units=(*site.units, desk),
        timetables=tuple(timetable for n in range(ENTRANCES_COUNT) for timetable in _hours(n)),
        diverts=_diverts(site),
        rights=tuple(right for n in range(0, ENTRANCES_COUNT, 2) for right in _rights(site, n)),
    )


def _hours(n: int) -> tuple[Timetable, ...]:
    night = Window(days=_WORKDAYS, start_min=1080 + n, end_min=420)
    weekend = Window(days=(5, 6, HOLIDAY), start_min=720, end_min=1320)
    trade = Window(days=(0, 1, 2, 3, 4, 5), start_min=360 + n, end_min=600)
    return (
        Timetable(
            id=f"night-{n}",
            name="Night",
            entrance=f"way-{n}",
            purpose=TimetablePurpose.DIVERT,
            windows=(night, weekend),
            divert_to="desk",
        ),
        Timetable(
            id=f"trade-{n}",
            name="Trade",
            entrance=f"way-{n}",
            purpose=TimetablePurpose.TRADE_RELEASE,
            windows=(trade,),
        ),
    )


def _diverts(site: Site) -> tuple[Divert, ...]:
    no_answer = DivertCause.NO_ANSWER
    homes = [dwelling.id for dwelling in site.dwellings]
    to_desk = [Divert(id=f"desk-{n}", cause=no_answer, dwelling=home, to_desk="desk") for n, home in enumerate(homes)]
    to_next = [
        Divert(id=f"next-{n}", cause=DivertCause.BUSY, dwelling=homes[n], to_dwelling=homes[n - 1])
        for n in range(1, len(homes), 100)
    ]
    return (*to_desk[::10], *to_next)


def _rights(site: Site, n: int) -> tuple[ReleaseRight, ...]:
    cores = tuple(core.id for core in site.cores)
    return (
        ReleaseRight(id=f"day-{n}", door=f"leaf-{n}", cores=cores),
        ReleaseRight(id=f"dark-{n}", door=f"leaf-{n}", desks=("desk",), timetable=f"night-{n}"),
    )
