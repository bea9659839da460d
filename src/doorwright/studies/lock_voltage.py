"""Does a lock get the voltage it needs?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc import conductor, dc
from doorwright.calc.cable import CableUse
from doorwright.calc.dc import Collapse, Feed
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.run import feeding_run, line_of
from doorwright.studies.study import Study, Trail

TITLE: Final = "Voltage at the lock"


@dataclass(frozen=True, slots=True, kw_only=True)
class LockVoltage:
    """The voltage at a lock while it is energised, its cable warm, its supply at the output of its data sheet.

    A supply on its battery gives less; that, inrush and the contact in the loop are not counted.
    ``flows_always`` is true for a lock that takes its current all the time the door is locked.
    """

    supply_v: float
    lock_a: float
    minimum_v: float
    length_m: float
    temperature_c: float
    loop_ohm: float
    feed: Feed | Collapse
    flows_always: bool

    @property
    def lock_v(self) -> float:
        """The voltage at the lock, volts; 0 where the line cannot carry the current at all."""
        return self.feed.far_v if isinstance(self.feed, Feed) else 0.0

    @property
    def drop_v(self) -> float:
        """The voltage lost on the cable, volts."""
        return self.supply_v - self.lock_v

    @property
    def enough(self) -> bool:
        """Whether the lock gets the least voltage at which its maker promises operation."""
        return self.lock_v >= self.minimum_v


def lock_voltage(walk: Walk, door: Door) -> Study[LockVoltage]:
    """Study the voltage at a door's lock over the run from its supply."""
    missing: list[Missing] = []
    if door.lock_operate_a is None:
        missing.append(Missing(Door.KIND, "lock operating current"))
    if door.lock_minimum_v is None:
        missing.append(Missing(Door.KIND, "lock minimum voltage"))
    run = feeding_run(walk, door.id, Supply)
    if run is None:
        return Study(door.subject, TITLE, missing=(*missing, Missing(CableRun.KIND, "run to the door")))
    line = line_of(walk, run, CableUse.POWER)
    missing += line if isinstance(line, tuple) else ()
    supply = walk.get(Supply, run.near)
    profile = walk.profile(supply.profile)
    if profile is None:
        missing.append(Missing(Supply.KIND, "profile"))
    elif not profile.output_v:
        missing.append(Missing("profile", "output voltage"))
    if (
        isinstance(line, tuple)
        or profile is None
        or not profile.output_v
        or door.lock_operate_a is None
        or door.lock_minimum_v is None
    ):
        return Study(door.subject, TITLE, missing=tuple(missing))
    trail = Trail()
    loop_ohm = trail.run(
        conductor.two_wire_loop_ohm,
        conductor_ohm_per_km=line.cable.conductor_ohm_per_km,
        length_m=line.length_m,
        temperature_c=line.temperature_c,
    )
    feed = trail.run(dc.constant_current_feed, source_v=profile.output_v, load_a=door.lock_operate_a, loop_ohm=loop_ohm)
    value = LockVoltage(
        supply_v=profile.output_v,
        lock_a=door.lock_operate_a,
        minimum_v=door.lock_minimum_v,
        length_m=line.length_m,
        temperature_c=line.temperature_c,
        loop_ohm=loop_ohm,
        feed=feed,
        flows_always=flows_always(door),
    )
    return Study(door.subject, TITLE, value, steps=trail.steps)


def flows_always(door: Door) -> bool:
    """Say whether the lock takes its current all the time the door is locked: a magnet, or any fail-safe lock."""
    return door.lock is LockKind.MAGNET or door.fail_mode is FailMode.SAFE
