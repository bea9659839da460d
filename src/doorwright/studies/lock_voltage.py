"""Does a lock get the voltage it needs?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.flow import Flow, NetworkCollapse, along_run
from doorwright.calc.loading import Moment, worst
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door
from doorwright.model.network import CableRun
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branch_to, circuit_of
from doorwright.studies.dc_duty import flows_always
from doorwright.studies.study import Study, Trail

TITLE: Final = "Voltage at the lock"


@dataclass(frozen=True, slots=True, kw_only=True)
class LockVoltage:
    """The voltage at a lock while everything on its branch is operated, cables warm, output as on its data sheet.

    ``length_m`` and ``loop_ohm`` count the whole way from the supply, ``temperature_c`` is its warmest run's.
    ``collapse`` is there where the branch cannot carry its loads. The battery's end and inrush are the business of the
    supply's own study; the contact in the loop is not counted. ``flows_always`` is true for a lock that takes its
    current all the time the door is locked.
    """

    supply_v: float
    lock_a: float
    minimum_v: float
    length_m: float
    temperature_c: float
    loop_ohm: float
    runs_count: int
    lock_v: float
    collapse: NetworkCollapse | None
    flows_always: bool

    @property
    def drop_v(self) -> float:
        """The voltage lost on the cable, volts."""
        return self.supply_v - self.lock_v

    @property
    def enough(self) -> bool:
        """Whether the lock gets the least voltage at which its maker promises operation."""
        return self.lock_v >= self.minimum_v


def lock_voltage(walk: Walk, door: Door) -> Study[LockVoltage]:
    """Study the voltage at a door's lock over the runs from its supply, with all that shares them."""
    missing: dict[Missing, None] = {}
    if door.lock_operate_a is None:
        missing[Missing(Door.KIND, "lock operating current")] = None
    if door.lock_minimum_v is None:
        missing[Missing(Door.KIND, "lock minimum voltage")] = None
    branch = branch_to(walk, door.id)
    if branch is None:
        return Study(door.subject, TITLE, missing=(*missing, Missing(CableRun.KIND, "run to the door")))
    trail = Trail()
    circuit = circuit_of(walk, branch, trail)
    if isinstance(circuit, tuple):
        return Study(door.subject, TITLE, missing=tuple(missing | dict.fromkeys(circuit)))
    if missing or door.lock_minimum_v is None or door.lock_operate_a is None:
        return Study(door.subject, TITLE, missing=tuple(missing))
    supply_v = circuit.wires.output.open_v
    outcome = worst(circuit.solved_at(supply_v), door.id, Moment.STANDING, Moment.ALL_OPERATED)
    way = circuit.way_to(door.id)
    on_way = {run.name for run in way}
    lines = [line for run, line in zip(branch.runs, circuit.lines, strict=True) if run.id in on_way]
    lock_a = door.lock_operate_a
    if isinstance(outcome.flow, Flow):
        lock_a = next(fed.current_a for fed in outcome.flow.loads if fed.load.name == door.id)
        for run in outcome.flow.path_to(door.id):
            trail.run(along_run, near_v=run.near_v, current_a=run.current_a, loop_ohm=run.loop_ohm)
    value = LockVoltage(
        supply_v=supply_v,
        lock_a=lock_a,
        minimum_v=door.lock_minimum_v,
        length_m=sum(line.length_m for line in lines),
        temperature_c=max(line.temperature_c for line in lines),
        loop_ohm=sum(run.loop_ohm for run in way),
        runs_count=len(way),
        lock_v=max(0.0, outcome.voltage_v(door.id)),
        collapse=outcome.flow if isinstance(outcome.flow, NetworkCollapse) else None,
        flows_always=flows_always(door),
    )
    return Study(door.subject, TITLE, value, steps=trail.steps)
