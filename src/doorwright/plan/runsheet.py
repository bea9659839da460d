"""The order of work on site for one technician: power up, pair, let settle, look again.

Order (common practice): switches from the root outwards, then what others register with, then what registers, level by
level; the primaries of a level are entered one after the other and looked at again when the last is in, so that the
minutes that each needs to register are not waited for.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby
from types import MappingProxyType
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


class Action(StrEnum):
    """What kind of thing a task asks for."""

    POWER_UP = "power up"
    ENTER_USERS = "enter users"
    SET_UP = "set up"
    PAIR = "pair"
    PAIR_SECONDARY = "pair secondary"
    LOOK = "look again"
    FIND = "find"
    CALL = "call"


STAGES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "network": "Network: switches, from the root outwards",
        "registrar": "Registrars: what others register with",
        "entrance": "Further units at the entrances",
        "desk": "Desks",
        "dwellings": "Dwellings",
        "test": "Tests",
    }
)
"""The stages in their order, and how each is headed."""


@dataclass(frozen=True, slots=True)
class Task:
    """One line of the run sheet: what to do where, on which parts, and how many minutes to allow."""

    number: int
    stage: str
    where: str
    action: str
    parts: tuple[Part, ...]
    minutes: int
    kind: Action

    @property
    def key(self) -> str:
        """The name of the task that a new plan leaves as it is: its number and its words may change, this does not.

        Stage, kind and the identifiers of its parts: "dwellings/pair/7k2m…". Another part is another task.
        """
        return f"{self.stage}/{self.kind}/{'+'.join(part.id for part in self.parts)}"


def run_sheet(walk: Walk) -> tuple[Task, ...]:
    """Return the work in order."""
    return tuple(
        Task(number, stage, where, action, parts, minutes, kind)
        for number, (stage, where, action, parts, minutes, kind) in enumerate(_tasks(walk), start=1)
    )


_Line = tuple[str, str, str, tuple[Part, ...], int, Action]


def _tasks(walk: Walk) -> Iterator[_Line]:
    order = WalkingOrder(walk)
    for switch in switches_from_root(walk):
        action = f"Power up and set {switch.name}"
        yield "network", where_is(walk, switch), action, (switch,), ENTER_MIN, Action.POWER_UP
    for server in sorted(walk.all(SipServer), key=lambda one: natural_key(one.name)):
        action = f"Enter all users in {server.name} and start it"
        yield "registrar", "", action, (server,), ENTER_MIN, Action.ENTER_USERS
    vcus = order.units(walk.units_of_kind(UnitKind.VCU))
    for vcu in sorted(vcus, key=lambda unit: unit.position != 0):
        stage = "registrar" if vcu.position == 0 else "entrance"
        action = "Set up the primary" if vcu.position == 0 else "Pair the secondary"
        kind = Action.SET_UP if vcu.position == 0 else Action.PAIR_SECONDARY
        yield stage, where_is(walk, vcu), f"{action} {vcu.name}", (vcu,), ENTER_MIN, kind
    for desk in order.units(walk.units_of_kind(UnitKind.SMU)):
        yield "desk", where_is(walk, desk), f"Pair {desk.name}", (desk,), ENTER_MIN, Action.PAIR
    yield from _dwelling_tasks(walk, order)
    for uru in order.units(walk.units_of_kind(UnitKind.URU)):
        if walk.find(Dwelling, uru.dwelling) is None:
            yield "dwellings", "", f"Find the dwelling of {uru.name}, then pair it", (uru,), ENTER_MIN, Action.FIND
    for vcu in vcus:
        entrance = walk.find(Entrance, vcu.entrance)
        doors = walk.doors_of(entrance.id) if entrance else ()
        freed = f" and free {', '.join(door.name for door in doors)}" if doors else ""
        action = f"Call every dwelling from {vcu.name}{freed}; fill in the test form"
        yield "test", where_is(walk, vcu), action, (vcu, *doors), 0, Action.CALL


def _dwelling_tasks(walk: Walk, order: WalkingOrder) -> Iterator[_Line]:
    for _, group in groupby(order.dwellings(), key=lambda dwelling: (dwelling.core, dwelling.level)):
        dwellings = tuple(group)
        urus = {dwelling.id: order.units(walk.units_in(dwelling.id)) for dwelling in dwellings}
        rounds = (
            ("Pair", Action.PAIR, tuple(u for d in dwellings for u in urus[d.id] if u.position == 0)),
            (
                "Pair the secondary",
                Action.PAIR_SECONDARY,
                tuple(u for d in dwellings for u in urus[d.id] if u.position != 0),
            ),
        )
        for action, kind, units in rounds:
            for unit in units:
                yield "dwellings", where_is(walk, unit), f"{action} {unit.name}", (unit,), ENTER_MIN, kind
            if units:
                settle_min = max(_settle_min(walk, unit) for unit in units)
                wait_min = max(0, settle_min - ENTER_MIN * (len(units) - 1))
                core, level = walk.get(Core, dwellings[0].core), walk.get(Level, dwellings[0].level)
                look = f"Look again: all {len(units)} registered" if len(units) > 1 else "Look again: registered"
                yield "dwellings", f"{core.name}, level {level.name}", look, units, wait_min, Action.LOOK


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
