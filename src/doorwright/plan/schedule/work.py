"""The work on site as jobs: where, how long, and what must be done before.

What is decided here (common practice, said again in ``docs/explain/run-sheet-schedule.md``):

* The receivers of a level of a core are entered in one go, ``BATCH_UNITS`` at most; then one look for all of them. In
  between they restart and register by themselves. Inside a batch the order is fixed, so nothing is lost by counting it
  as one job: its look may begin when the last of its units can have settled.
* What is entered at a unit that others register with is entered there beforehand, a whole batch in one go, one
  technician at a time. A SIP server is started beside the first switch, as its place is not known; its entries are made
  over its network page from where the technician stands, with each unit. So are those at units with
  ``remote_registrar``. A secondary receiver and its primary hang in the same dwelling: one visit enters both ends.
* Tests come last: the calls to a batch of dwellings from an entrance when every unit concerned was looked at again.

A job comes after jobs with lower numbers only, so that rings in what users give cannot tie a knot.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from math import ceil
from typing import Final

from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.plan.runsheet import switches_from_root
from doorwright.plan.schedule.places import OPEN_AIR, Ground, Pace, Spot

BATCH_UNITS: Final = 8
"""Receivers entered in one go at most: about half an hour, so that the work can be shared fairly."""
BATCH_CALLS: Final = 20
"""Dwellings called from one entrance in one go at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Seconds that hands are needed; common practice, for planning only. Both entries together make four minutes."""

    unit_s: int = 150
    """To enter one unit's settings at the unit."""
    registrar_s: int = 90
    """To enter one unit at what it registers with."""
    switch_s: int = 240
    """To power up and set a switch, or to start a SIP server."""
    look_s: int = 30
    """To see whether one unit has registered."""
    call_s: int = 45
    """To call one dwelling from one entrance, speak and look."""
    release_s: int = 120
    """To test the release of one door."""


@dataclass(frozen=True, slots=True)
class After:
    """That a job may begin ``lag_s`` after the end of another, not before."""

    job: int
    lag_s: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """Work of one technician at one spot, without a break.

    ``number`` counts from 0 in the order of the run sheet. ``where`` and ``action`` are words; ``hands_s`` is how long
    it takes; ``menu`` is the identifier of the unit that only one technician at a time can use. ``is_look`` says that
    units are looked at again, to see whether they have registered.
    """

    number: int
    stage: str
    where: str
    action: str
    parts: tuple[Part, ...]
    spot: Spot
    hands_s: int
    after: tuple[After, ...] = ()
    menu: str | None = None
    is_look: bool = False


@dataclass(frozen=True, slots=True)
class Work:
    """All jobs in the order of the run sheet, how fast people walk, and the parts whose place had to be assumed."""

    jobs: tuple[Job, ...]
    pace: Pace
    assumed: tuple[str, ...] = ()


def work_of(walk: Walk, *, times: Times, pace: Pace, remote_registrar: bool = False) -> Work:
    """Return the work on site as jobs.

    Args:
        walk: the site.
        times: how long hands are needed.
        pace: how fast people walk.
        remote_registrar: whether units that others register with are reached over their network page.
    """
    gathering = _Gathering(walk, times, pace, remote_registrar=remote_registrar)
    gathering.gather()
    return Work(tuple(gathering.jobs), pace, tuple(sorted(gathering.ground.assumed, key=natural_key)))


class _Gathering:
    """Collects the jobs and remembers which job has made which part ready."""

    def __init__(self, walk: Walk, times: Times, pace: Pace, *, remote_registrar: bool) -> None:
        self.walk = walk
        self.times = times
        self.pace = pace
        self.remote_registrar = remote_registrar
        self.order = WalkingOrder(walk)
        self.ground = Ground(walk)
        self.jobs: list[Job] = []
        self.ready: dict[str, After] = {}
        """From when a switch feeds, or a unit or server takes registrations."""
        self.seen: dict[str, int] = {}
        """The job in which a unit was looked at again."""

    def gather(self) -> None:
        times = self.times
        for switch in switches_from_root(self.walk):
            spot, action = self.ground.of_switch(switch), f"Power up and set {switch.name}"
            job = self._add("network", spot, action, (switch,), times.switch_s, after=self._feeders((switch,)))
            self.ready[switch.id] = After(job, self._restart_s(switch))
        root = self.jobs[0] if self.jobs else None
        spot, first = (root.spot, [self.ready[root.parts[0].id]]) if root else (OPEN_AIR, [])
        for server in sorted(self.walk.all(SipServer), key=lambda one: natural_key(one.name)):
            job = self._add("registrar", spot, f"Start {server.name}", (server,), times.switch_s, after=first)
            self.ready[server.id] = After(job)
        vcus = self.order.units(self.walk.units_of_kind(UnitKind.VCU))
        for vcu in sorted(vcus, key=lambda unit: unit.position != 0):
            self._one("registrar" if vcu.position == 0 else "entrance", vcu)
        for desk in self.order.units(self.walk.units_of_kind(UnitKind.SMU)):
            self._one("desk", desk)
        for dwellings in self._batches():
            self._batch(dwellings)
        for uru in self.order.units(self.walk.units_of_kind(UnitKind.URU)):
            if self.walk.find(Dwelling, uru.dwelling) is None:
                self._one("dwellings", uru)
        for vcu in vcus:
            self._tests(vcu)

    # setting up

    def _one(self, stage: str, unit: Unit) -> None:
        """Set up a unit that stands alone, and look at it again if it registers."""
        spot = self.ground.of_unit(unit)
        self._enter(stage, spot, f"Enter {unit.name}", (unit,))
        if unit.registrar is not None:
            after = (self._settled((unit,)),)
            action = f"Look again: {unit.name}"
            self.seen[unit.id] = self._add(stage, spot, action, (unit,), self.times.look_s, after=after, is_look=True)

    def _batch(self, dwellings: tuple[Dwelling, ...]) -> None:
        units = [self.order.units(self.walk.units_in(dwelling.id)) for dwelling in dwellings]
        first = tuple(unit for group in units for unit in group if unit.position == 0)
        further = tuple(unit for group in units for unit in group if unit.position != 0)
        core, level = self.walk.get(Core, dwellings[0].core), self.walk.get(Level, dwellings[0].level)
        labels = dwellings[0].door_label
        if len(dwellings) > 1:
            labels += f" to {dwellings[-1].door_label}"
        spot = self.ground.of_dwelling(dwellings[0], labels)
        where = f"{core.name}, level {level.name}: {labels}"
        afters = []
        for words, group in (("Enter", first), ("Enter the secondaries", further)):
            if group:
                self._enter("dwellings", spot, f"{words}, {len(group)} units", group, where)
                afters.append(self._settled(group))
        both = (*first, *further)
        job = self._add(
            "dwellings", spot, f"Look again, {len(both)} units", both, self._each(self.times.look_s, both),
            after=afters, where=where, is_look=True,
        )  # fmt: skip
        self.seen |= {unit.id: job for unit in both}

    def _enter(self, stage: str, spot: Spot, action: str, units: tuple[Unit, ...], where: str = "") -> None:
        """Enter units at a spot, and beforehand at those of their registrars that stand elsewhere."""
        after = self._feeders(units)
        here_s = self._each(self.times.unit_s, units)
        elsewhere: dict[str, list[Unit]] = {}
        for unit in units:
            if unit.registrar in self.ready:
                after.append(self.ready[unit.registrar])
            registrar = self.walk.find(Unit, unit.registrar)
            if registrar is None or self.remote_registrar or _together(unit, registrar):
                here_s += self.times.registrar_s if unit.registrar else 0
            else:
                elsewhere.setdefault(registrar.id, []).append(unit)
        for ident, group in elsewhere.items():
            registrar = self.walk.get(Unit, ident)
            words = group[0].name if len(group) == 1 else f"{len(group)} units of {where or spot.name}"
            first = [self.ready[ident]] if ident in self.ready else []
            job = self._add(
                stage, self.ground.of_unit(registrar), f"At {registrar.name}, enter {words}", (registrar, *group),
                self.times.registrar_s * len(group), after=first, menu=ident,
            )  # fmt: skip
            after.append(After(job))
        job = self._add(stage, spot, action, units, here_s, after=after, where=where)
        for unit in units:
            self.ready[unit.id] = After(job, self._restart_s(unit))

    def _settled(self, units: tuple[Unit, ...]) -> After:
        """From when all units of a job have registered: each restarts and settles while the next are entered."""
        waits_s = [
            self._restart_s(unit) + self._settle_s(unit) - self.times.unit_s * (len(units) - i)
            for i, unit in enumerate(units, start=1)
        ]
        return After(self.ready[units[-1].id].job, max(0, *waits_s))

    def _batches(self) -> Iterator[tuple[Dwelling, ...]]:
        """Yield dwellings that have receivers, of one level of one core, about ``BATCH_UNITS`` receivers at a time."""
        for _, group in groupby(self.order.dwellings(), key=lambda dwelling: (dwelling.core, dwelling.level)):
            counts = [(dwelling, len(self.walk.units_in(dwelling.id))) for dwelling in group]
            batch: list[Dwelling] = []
            units_count = 0
            for dwelling, count in counts:
                if batch and units_count + count > BATCH_UNITS:
                    yield tuple(batch)
                    batch, units_count = [], 0
                if count:
                    batch.append(dwelling)
                    units_count += count
            if batch:
                yield tuple(batch)

    # tests

    def _tests(self, vcu: Unit) -> None:
        entrance = self.walk.find(Entrance, vcu.entrance)
        doors: tuple[Door, ...] = self.walk.doors_of(entrance.id) if entrance else ()
        served = {dwelling.id for dwelling in self.walk.dwellings_served(entrance)} if entrance else set()
        called = [
            dwelling for dwelling in self.order.dwellings() if dwelling.id in served and self.walk.units_in(dwelling.id)
        ]
        spot = self.ground.of_unit(vcu)
        ready = [After(self.seen[vcu.id])] if vcu.id in self.seen else [self.ready[vcu.id]]
        for _, group in groupby(called, key=lambda dwelling: dwelling.core):
            dwellings = list(group)
            for at in range(0, len(dwellings), BATCH_CALLS):
                part = dwellings[at : at + BATCH_CALLS]
                urus = [unit for dwelling in part for unit in self.walk.units_in(dwelling.id)]
                words = part[0].door_label
                if len(part) > 1:
                    words += f" to {part[-1].door_label}, {len(part)} dwellings"
                after = [*ready, *(After(self.seen[uru.id]) for uru in urus)]
                action = f"From {vcu.name}, call {words}"
                self._add("test", spot, action, (vcu, *part), self.times.call_s * len(part), after=after, menu=vcu.id)
        if doors:
            action = f"From {vcu.name}, free {', '.join(door.name for door in doors)}"
            release_s = self.times.release_s * len(doors)
            self._add("test", spot, action, (vcu, *doors), release_s, after=ready, menu=vcu.id)

    # parts of a job

    def _add(
        self, stage: str, spot: Spot, action: str, parts: tuple[Part, ...], hands_s: int,
        *, after: Iterable[After] = (), where: str = "", menu: str | None = None, is_look: bool = False,
    ) -> int:  # fmt: skip
        lags: dict[int, int] = {}
        for one in after:
            lags[one.job] = max(one.lag_s, lags.get(one.job, 0))
        afters = tuple(After(job, lag_s) for job, lag_s in sorted(lags.items()))
        number = len(self.jobs)
        where = where or where_is(self.walk, parts[0])
        self.jobs.append(Job(number, stage, where, action, parts, spot, hands_s, afters, menu, is_look))
        return number

    def _each(self, one_s: int, units: tuple[Unit, ...]) -> int:
        """So long for each of the units, and the way from one dwelling's door to the next."""
        doors = {unit.dwelling or unit.id for unit in units}
        return one_s * len(units) + self.pace.door_s * (len(doors) - 1)

    def _feeders(self, parts: Iterable[Part]) -> list[After]:
        feeders = dict.fromkeys(run.near for part in parts for run in self.walk.runs_to(part.id))
        return [self.ready[ident] for ident in feeders if ident in self.ready]

    def _restart_s(self, part: Unit | Switch) -> int:
        profile = self.walk.profile(part.profile)
        return ceil(profile.restart_s) if profile else 0

    def _settle_s(self, unit: Unit) -> int:
        profile = self.walk.profile(unit.profile)
        return ceil(profile.settle_s) if profile and unit.registrar else 0


def _together(unit: Unit, registrar: Unit) -> bool:
    """Whether both hang in the same dwelling."""
    return unit.dwelling is not None and unit.dwelling == registrar.dwelling
