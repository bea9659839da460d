"""The work of a firmware step as jobs, and what each dwelling needs to be reached meanwhile.

A visit to a dwelling is one job for all of its receivers that step; every other unit that steps is a job of its own, a
*station*. Dwellings that need the same of the stations and whose visits take equally long are interchangeable: they
make one group, so a site of 500 dwellings is a handful of groups.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil
from typing import Final, TypeAlias

from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.firmware.steps import Step, generation_now
from doorwright.plan.order import WalkingOrder
from doorwright.plan.runsheet import ENTER_MIN

END_MIN: Final = ENTER_MIN // 2
"""Minutes to enter one end of a pairing: half of what both ends take on the run sheet; common practice."""

ATTEND_MIN: Final = 1
"""Minutes to start the step of one unit; common practice, for planning only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """How long a job takes, in minutes: start it, let it load, enter what was cleared, let it register."""

    start_min: int
    load_min: int
    entry_min: int
    settle_min: int

    @property
    def down_min(self) -> int:
        """How long the units of the job are down."""
        return self.start_min + self.load_min + self.entry_min + self.settle_min

    @property
    def work_min(self) -> int:
        """How long a technician is busy with it."""
        return self.start_min + self.entry_min

    def slots(self, slot_min: int) -> int:
        """Return for how many slots the units are down; a part of a slot counts as a whole one."""
        return ceil(self.down_min / slot_min)

    def usage(self, slot_min: int) -> tuple[int, ...]:
        """Return the minutes that a technician is busy in each slot from the start."""
        entry_from = self.start_min + self.load_min
        busy = ((0, self.start_min), (entry_from, entry_from + self.entry_min))
        return tuple(
            sum(max(0, min(last, (slot + 1) * slot_min) - max(first, slot * slot_min)) for first, last in busy)
            for slot in range(self.slots(slot_min))
        )


@dataclass(frozen=True, slots=True)
class Path:
    """One way to ring a dwelling: the stations on it that move, and the generations of those that stay."""

    moving: frozenset[str]
    still: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A unit that steps and stands in no dwelling."""

    step: Step
    timing: Timing


Paths: TypeAlias = frozenset[Path]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Interchangeable dwellings, in walking order.

    ``timing`` is None where no receiver steps. ``before`` and ``after`` are the generations of the primary receiver,
    ``primary_steps`` says whether it is down during the visit. Without ``paths`` nobody is counted: the dwellings are
    reachable neither before nor after, or the book cannot tell.
    """

    dwellings: tuple[str, ...]
    timing: Timing | None
    primary_steps: bool
    before: int
    after: int
    paths: Paths


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Everything that the order of work is made from. ``unjudged`` says of dwellings why nobody counts them."""

    stations: Mapping[str, Station]
    groups: tuple[Group, ...]
    steps_in: Mapping[str, tuple[Step, ...]]
    unjudged: Mapping[str, str]
    technicians_count: int

    @property
    def work_min(self) -> int:
        """Minutes of work for one technician."""
        visits = sum(len(group.dwellings) * group.timing.work_min for group in self.groups if group.timing)
        return visits + sum(station.timing.work_min for station in self.stations.values())

    @property
    def counted(self) -> int:
        """How many dwellings are counted."""
        return sum(len(group.dwellings) for group in self.groups if group.paths)


def task_of(walk: Walk, steps: Iterable[Step], technicians_count: int) -> Task:
    """Return the jobs of a firmware step."""
    by_unit = {step.unit.id: step for step in steps}
    steps_in: dict[str, tuple[Step, ...]] = {}
    unjudged: dict[str, str] = {}
    alike: dict[tuple[Timing | None, bool, int, int, Paths], list[str]] = {}
    order = WalkingOrder(walk)
    for dwelling in order.dwellings():
        visit = tuple(by_unit[unit.id] for unit in order.units(walk.units_in(dwelling.id)) if unit.id in by_unit)
        if visit:
            steps_in[dwelling.id] = visit
        timing = timing_of(walk, visit) if visit else None
        paths, before, after, why = _needs(walk, dwelling, by_unit)
        if why:
            unjudged[dwelling.id] = why
        primary_steps = any(step.unit.position == 0 for step in visit)
        alike.setdefault((timing, primary_steps, before, after, paths), []).append(dwelling.id)
    at_home = {step.unit.id for visit in steps_in.values() for step in visit}
    stations = {
        step.unit.id: Station(step=step, timing=timing_of(walk, (step,)))
        for step in by_unit.values()
        if step.unit.id not in at_home
    }
    return Task(
        stations=stations,
        groups=tuple(
            Group(
                dwellings=tuple(idents),
                timing=timing,
                primary_steps=primary_steps,
                before=before,
                after=after,
                paths=paths,
            )
            for (timing, primary_steps, before, after, paths), idents in alike.items()
        ),
        steps_in=steps_in,
        unjudged=unjudged,
        technicians_count=technicians_count,
    )


def timing_of(walk: Walk, steps: tuple[Step, ...]) -> Timing:
    """Return how long units that are stepped together take: loading and settling side by side, hands one by one."""
    return Timing(
        start_min=ATTEND_MIN * len(steps),
        load_min=ceil(max(step.load_s for step in steps) / 60),
        entry_min=sum(END_MIN * (1 + len(walk.units_registered_with(s.unit.id))) for s in steps if s.clears),
        settle_min=ceil(max(step.settle_s for step in steps) / 60),
    )


def _needs(walk: Walk, dwelling: Dwelling, steps: Mapping[str, Step]) -> tuple[Paths, int, int, str]:
    """Return the ways to ring a dwelling, its primary's generations, and why it is not counted, if it is not."""
    nobody: Paths = frozenset()
    primary = next((unit for unit in walk.units_in(dwelling.id) if unit.position == 0), None)
    if primary is None:
        return nobody, 0, 0, "it has no primary receiver"
    now = generation_now(walk, primary)
    if now is None:
        return nobody, 0, 0, f"the pairing generation of {primary.name} is not known"
    step = steps.get(primary.id)
    after = step.generation_after if step else now
    ways = [way for vcu in _vcus_for(walk, dwelling) if (way := _way(walk, vcu, primary)) is not None]
    if not ways:
        return nobody, now, after, f"no entrance that serves it uses the registrar of {primary.name}"
    told = [way for way in ways if all(generation_now(walk, unit) is not None for unit in way)]
    if not told:
        return nobody, now, after, "the pairing generation of its entrances or their registrar is not known"
    if not any(
        {generation_now(walk, unit) for unit in way} == {now}
        or {_afterwards(walk, unit, steps) for unit in way} == {after}
        for way in told
    ):
        return nobody, now, after, "it is cut off before and after: pairing generations differ"
    paths = {
        Path(
            frozenset(unit.id for unit in way if unit.id in steps),
            frozenset(generation_now(walk, unit) or 0 for unit in way if unit.id not in steps),
        )
        for way in told
    }
    return _shortest(path for path in paths if len(path.still) < 2), now, after, ""


def _shortest(paths: Iterable[Path]) -> Paths:
    """Leave out every way that needs all that another needs, and more: whenever it is open, so is the other."""
    every = tuple(paths)
    return frozenset(
        path
        for path in every
        if not any(other != path and other.moving <= path.moving and other.still <= path.still for other in every)
    )


def _afterwards(walk: Walk, unit: Unit, steps: Mapping[str, Step]) -> int | None:
    return steps[unit.id].generation_after if unit.id in steps else generation_now(walk, unit)


def _vcus_for(walk: Walk, dwelling: Dwelling) -> list[Unit]:
    entrances = walk.entrances_serving(dwelling)
    return [unit for entrance in entrances for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU]


def _way(walk: Walk, vcu: Unit, receiver: Unit) -> tuple[Unit, ...] | None:
    """Return the units that a call passes before it rings the receiver, or None where the two share no registrar."""
    own = vcu.id if vcu.registrar is None else vcu.registrar
    if receiver.registrar is None or own != receiver.registrar:
        return None
    registrar = walk.find(Unit, own)
    if registrar is None:
        return (vcu,) if walk.find(SipServer, own) else None
    return (vcu,) if registrar.id == vcu.id else (vcu, registrar)
