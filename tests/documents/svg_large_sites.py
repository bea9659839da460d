"""Sites as large as they come, with everything on them that drawings and charts show, under names that are long."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from doorwright.model.calling import HOLIDAY, Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, Junction
from doorwright.model.part import Part
from doorwright.model.place import Entrance
from doorwright.model.power import Supply
from doorwright.model.profile import Profile
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.rules.sound import sound_site
from tests.documents import svg_sites


def with_parts(site: Site, parts: list[Part]) -> Site:
    for kind in {type(part): None for part in parts}:
        site = site.with_tables({kind: (*site.table(kind), *(part for part in parts if type(part) is kind))})
    return site


def powered(site: Site, *, supplies_count: int, doors_each: int) -> Site:
    """Add supplies with a junction and many doors each, and measure everything that the new drawings show."""
    parts: list[Part] = []
    entrance = site.entrances[0].id
    for s in range(supplies_count):
        parts += [
            Supply(id=f"p{s}", name=f"PS-{s + 1}", profile="psu", battery_ah=7.0, battery_rate_h=20.0, standby_h=24.0),
            Junction(id=f"j{s}", name=f"Junction with a long name {s}"),
            CableRun(id=f"pj{s}", name=f"P{s}", near=f"p{s}", far=f"j{s}", cable="2x2.5", length_m=18.0, fuse_a=2.0),
        ]
        for d in range(doors_each):
            ident = f"x{s}.{d}"
            parts.append(
                Door(
                    id=ident, name=f"Store door of the long corridor {s}.{d}", entrance=entrance,
                    lock=LockKind.MAGNET, fail_mode=FailMode.SAFE, escape_route=True, exit_button=d % 2 == 0,
                    lock_operate_a=0.5, lock_inrush_a=1.25, lock_hold_a=0.25, lock_rated_v=12.0, lock_minimum_v=10.8,
                )
            )  # fmt: skip
            near = f"j{s}" if d % 3 else f"p{s}"
            parts.append(CableRun(id=f"r{ident}", name=f"W{ident}", near=near, far=ident, cable="2x1.5", length_m=9.5))
    site = with_parts(site, parts)
    return replace(
        site,
        cores=tuple(replace(core, x_m=21.5 * i, y_m=6.0 * (i % 2)) for i, core in enumerate(site.cores)),
        levels=tuple(replace(level, crosses=level.order == 0) for level in site.levels),
        dwellings=tuple(replace(one, run_m=3.5 + i % 30) for i, one in enumerate(site.dwellings)),
        units=tuple(
            replace(unit, height_mm=900 + 20 * (i % 20)) if unit.kind is UnitKind.VCU else unit
            for i, unit in enumerate(site.units)
        ),
    )


def lived_in(site: Site, *, entrances_count: int = 30, absences_count: int = 4) -> Site:
    """Add side entrances of every load and number of call units, hours of all purposes, a desk, and homes away.

    The profiles become those of the library, whose data sheets leave no study without a figure.
    """
    homes = [dwelling.id for dwelling in site.dwellings]
    parts: list[Part] = [
        Unit(
            id="desk", name="Desk of the concierge by the river gate", kind=UnitKind.SMU, profile="smu",
            place=site.places[0].id, call_number="9001",
        )
    ]  # fmt: skip
    for number in range(entrances_count):
        parts += _side_entrance(number, site.switches[0].id, tuple(homes[: 16 * (number + 1)]))
    for number in range(absences_count):
        parts += _absences(number, homes)
    known = replace(
        site,
        profiles=_of_library(site.profiles),
        supplies=tuple(replace(supply, standby_busy_h=2.0) for supply in site.supplies),
    )
    return with_parts(known, parts)


def _side_entrance(number: int, switch: str, homes: tuple[str, ...]) -> Iterator[Part]:
    ident = f"side{number}"
    name = f"Side entrance {number + 1} towards the garden court and the river"
    yield Entrance(id=ident, name=name, serves_dwellings=homes, calls_desk=number % 2 == 0)
    yield Door(
        id=f"{ident}d", name=f"Side door {number + 1} with closer", entrance=ident, fail_mode=FailMode.SECURE,
        freed_by=f"{ident}u0",
    )  # fmt: skip
    for k in range(1 + number % 3):
        unit = f"{ident}u{k}"
        title = f"Call unit {k + 1} of side entrance {number + 1}"
        yield Unit(id=unit, name=title, kind=UnitKind.VCU, profile="vcu", entrance=ident)
        yield CableRun(id=f"{unit}r", name=f"S{number}.{k}", near=switch, far=unit, cable="cat6", length_m=40.0)
    weekdays = (0, 1, 2, 3, 4)
    yield Timetable(
        id=f"{ident}t", name=f"Trade {number}", entrance=ident, purpose=TimetablePurpose.TRADE_RELEASE,
        windows=(Window(days=weekdays, start_min=420, end_min=600 + number),),
    )  # fmt: skip
    if number % 3 == 0:
        yield Timetable(
            id=f"{ident}c", name=f"Calls {number}", entrance=ident, purpose=TimetablePurpose.CALL,
            windows=(
                Window(days=(*weekdays, 5), start_min=360, end_min=1380),
                Window(days=(HOLIDAY,), start_min=600, end_min=660),
            ),
        )  # fmt: skip
    if number % 2 == 0:
        yield Timetable(
            id=f"{ident}x", name=f"Desk hours {number}", entrance=ident, purpose=TimetablePurpose.DIVERT,
            windows=(Window(days=weekdays, start_min=480, end_min=1080),), divert_to="desk",
        )  # fmt: skip


def _absences(number: int, homes: list[str]) -> Iterator[Part]:
    """Three homes that are away for short times, their calls going to neighbours."""
    times = f"away{number}"
    yield Timetable(
        id=times, name=f"Away {number}", entrance="nowhere", purpose=TimetablePurpose.CALL,
        windows=(
            Window(days=(number % 7,), start_min=61 * number, end_min=61 * number + 45),
            Window(days=((number + 3) % 7,), start_min=11 * number, end_min=11 * number + 5),
        ),
    )  # fmt: skip
    for at in range(50 * number, min(50 * number + 3, len(homes))):
        neighbour = homes[(at + 7) % len(homes)]
        yield Divert(
            id=f"{times}.{at}", cause=DivertCause.ALWAYS, dwelling=homes[at], timetable=times, to_dwelling=neighbour
        )


_IN_LIBRARY = {
    "vcu": "vcu-directory", "uru": "uru-video", "smu": "smu-desk", "sw24": "switch-16", "psu": "supply-24v-5a",
}  # fmt: skip


def _of_library(profiles: tuple[Profile, ...]) -> tuple[Profile, ...]:
    """The library's profiles under the keys of these, with their ports, each as fast as the others."""
    library = {profile.key: profile for profile in sound_site().profiles}
    found = []
    for profile in profiles:
        known = replace(library[_IN_LIBRARY[profile.key]], key=profile.key)
        if profile.ports_count:
            known = replace(known, ports_count=profile.ports_count, port_mbps=1000.0, uplink_mbps=None)
        found.append(known)
    return tuple(found)


SITES: dict[str, Callable[[], Site]] = {
    "nothing at all": lambda: Site(name="Empty"),
    "a real plan": svg_sites.orchard_court,
    "500 dwellings in one core": lambda: powered(
        svg_sites.grown(levels=25, per_level=20), supplies_count=6, doors_each=30
    ),
    "500 dwellings in five cores": lambda: powered(
        svg_sites.grown(cores=5, levels=10, per_level=10), supplies_count=2, doors_each=4
    ),
    "200 dwellings on one level": lambda: svg_sites.grown(levels=1, per_level=200),
}
