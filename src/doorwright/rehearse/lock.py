"""A lock in the rehearsed building: does the door open when it was freed and somebody pushes?

A relay that closes is not yet an open door. A lock that current frees must get the voltage at which its maker promises
operation, while it works and everything else on its branch stands; a leaf that presses on its strike asks for more
pull; and the visitor needs time to reach the door.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Final

from doorwright.calc.circuit import Load, Network
from doorwright.calc.flow import Flow
from doorwright.calc.loading import Duty
from doorwright.calc.sweep import solve
from doorwright.model.door import Door, LockKind
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branch_to, circuit_of
from doorwright.studies.dc_duty import flows_always
from doorwright.studies.study import Trail

PUSHES_AFTER_S: Final = 3.0
"""How long after the door was freed the visitor pushes it: they stand at the call unit beside it (our own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """The branch of a supply that feeds a lock: its wires, what hangs on them, and the node that is the lock."""

    wires: Network
    duties: tuple[Duty, ...]
    node: str

    @property
    def source(self) -> str:
        """The identifier of the supply."""
        return self.wires.output.node


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """What holds a door: its circuit, None where the plan does not know it, and when it lets go.

    ``current_frees`` says that it takes current to free it; else it is freed by taking its current away.
    ``side_load_ratio`` is the pull that it needs over that for which ``minimum_v`` is promised: 1 where the leaf is
    true in its frame. ``release_s`` is how long its relay frees it, None where nobody has said.
    """

    circuit: Circuit | None
    current_frees: bool
    minimum_v: float | None
    release_s: float | None
    side_load_ratio: float = 1.0

    def opens(self, *, pushed_after_s: float = PUSHES_AFTER_S) -> bool:
        """Say whether the door opens to somebody who pushes some seconds after it was freed."""
        if self.release_s is not None and pushed_after_s > self.release_s:
            return False
        if not self.current_frees or self.circuit is None or self.minimum_v is None:
            return True
        # the pull of a coil goes with the square of its current, as long as its iron is not saturated (from memory)
        return voltage_v(self.circuit) >= self.minimum_v * sqrt(self.side_load_ratio)


@lru_cache(maxsize=4096)
def voltage_v(circuit: Circuit) -> float:
    """Return the voltage at a lock while it works and all else on its branch stands, volts; 0 where that collapses."""
    loads = tuple(
        Load(name=duty.name, node=duty.node, draw=duty.working if duty.node == circuit.node else duty.standing)
        for duty in circuit.duties
    )
    flow = solve(circuit.wires.with_loads(loads))
    return flow.node_v[circuit.node] if isinstance(flow, Flow) else 0.0


def lock_of(walk: Walk, door: Door) -> Lock | None:
    """Return the lock of a door as planned; None where the door has none."""
    if door.lock is None:
        return None
    branch = branch_to(walk, door.id)
    found = circuit_of(walk, branch, Trail()) if branch is not None else ()
    circuit = None if isinstance(found, tuple) else Circuit(wires=found.wires, duties=found.duties, node=door.id)
    return Lock(
        circuit=circuit,
        current_frees=door.lock is not LockKind.MAGNET and not flows_always(door),
        minimum_v=door.lock_minimum_v,
        release_s=door.release_s,
    )
