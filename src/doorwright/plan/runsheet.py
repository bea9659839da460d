"""The order of work on site for one technician: power up, pair, let settle, look again.

Order (common practice): switches from the root outwards, then what others register with, then what registers, level by
level; the primaries of a level are entered one after the other and looked at again when the last is in, so that the
minutes that each needs to register are not waited for.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder

ENTER_MIN: Final = 4
"""Minutes to enter one unit's settings at both ends; common practice, for planning only."""


@dataclass(frozen=True, slots=True)
class Task:
    """One line of the run sheet: what to do where, on which parts, and how many minutes to allow."""

    number: int
    stage: str
    where: str
    action: str
    parts: tuple[Part, ...]
    minutes: int


def run_sheet(walk: Walk) -> tuple[Task, ...]:
    """Return the work in order."""
    return tuple(
        Task(number, stage, where, action, parts, minutes)
        for number, (stage, where, action, parts, minutes) in enumerate(_tasks(walk), start=1)
    )


_Line = tuple[str, str, str, tuple[Part, ...], int]


def _tasks(walk: Walk) -> Iterator[_Line]:
    order = WalkingOrder(walk)
    for switch in switches_from_root(walk):
        yield "network", where_is(walk, switch), f"Power up and set {switch.name}", (switch,), ENTER_MIN
    for server in sorted(walk.all(SipServer), key=lambda one: natural_key(one.name)):
        yield "registrar", "", f"Enter all users in {server.name} and start it", (server,), ENTER_MIN
    vcus = order.units(walk.units_of_kind(UnitKind.VCU))
    for vcu in sorted(vcus, key=lambda unit: unit.position != 0):
        stage = "registrar" if vcu.position == 0 else "entrance"
        action = "Set up the primary" if vcu.position == 0 else "Pair the secondary"
        yield stage, where_is(walk, vcu), f"{action} {vcu.name}", (vcu,), ENTER_MIN
    for desk in order.units(walk.units_of_kind(UnitKind.SMU)):
        yield "desk", where_is(walk, desk), f"Pair {desk.name}", (desk,), ENTER_MIN
    yield from _dwelling_tasks(walk, order)
    for uru in order.units(walk.units_of_kind(UnitKind.URU)):
        if walk.find(Dwelling, uru.dwelling) is None:
            yield "dwellings", "", f"Find the dwelling of {uru.name}, then pair it", (uru,), ENTER_MIN
    for vcu in vcus:
        entrance = walk.find(Entrance, vcu.entrance)
        doors = walk.doors_of(entrance.id) if entrance else ()
        freed = f" and free {', '.join(door.name for door in doors)}" if doors else ""
        action = f"Call every dwelling from {vcu.name}{freed}; fill in the test form"
        yield "test", where_is(walk, vcu), action, (vcu, *doors), 0


def _dwelling_tasks(walk: Walk, order: WalkingOrder) -> Iterator[_Line]:
    for _, group in groupby(order.dwellings(), key=lambda dwelling: (dwelling.core, dwelling.level)):
        dwellings = tuple(group)
        urus = {dwelling.id: order.units(walk.units_in(dwelling.id)) for dwelling in dwellings}
        rounds = (
            ("Pair", tuple(u for d in dwellings for u in urus[d.id] if u.position == 0)),
            ("Pair the secondary", tuple(u for d in dwellings for u in urus[d.id] if u.position != 0)),
        )
        for action, units in rounds:
            for unit in units:
                yield "dwellings", where_is(walk, unit), f"{action} {unit.name}", (unit,), ENTER_MIN
            if units:
                settle_min = max(_settle_min(walk, unit) for unit in units)
                wait_min = max(0, settle_min - ENTER_MIN * (len(units) - 1))
                core, level = walk.get(Core, dwellings[0].core), walk.get(Level, dwellings[0].level)
                look = f"Look again: all {len(units)} registered" if len(units) > 1 else "Look again: registered"
                yield "dwellings", f"{core.name}, level {level.name}", look, units, wait_min


def switches_from_root(walk: Walk) -> tuple[Switch, ...]:
    """Return the switches so that each comes after the switch that feeds it; ties by name; loops are broken."""
    switches = sorted(walk.all(Switch), key=lambda switch: natural_key(switch.name))
    by_id = {switch.id: switch for switch in switches}
    feeders = {
        switch.id: {run.near for run in walk.runs_to(switch.id) if run.near in by_id and run.near != switch.id}
        for switch in switches
    }
    ordered: list[Switch] = []
    waiting = [switch.id for switch in switches]
    while waiting:
        ready = [ident for ident in waiting if not feeders[ident] & set(waiting)] or waiting[:1]
        ordered += [by_id[ident] for ident in ready]
        waiting = [ident for ident in waiting if ident not in ready]
    return tuple(ordered)


def _settle_min(walk: Walk, unit: Unit) -> int:
    profile = walk.profile(unit.profile)
    return -(-int(profile.settle_s) // 60) if profile else 0
