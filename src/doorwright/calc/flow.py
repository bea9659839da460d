"""What flows in a solved network: run by run and load by load, each step a calculation that a reader can repeat."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.calc.circuit import Load, Network
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

METHOD: Final = (
    Cite("kawambwa2021", "backward/forward sweep by Kirchhoff's laws along parents and children"),
    Cite("taheri2019", "falling iterates reach the high-voltage solution, if one exists"),
    Cite("jeeninga2020", "feasible powers and the stable operating point"),
)
"""Where the method comes from. The monotone Newton step is a theorem of Ortega and Rheinboldt, 1970 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongRun:
    """What happens along one run: the voltage lost, the voltage left, the heat."""

    drop_v: float
    far_v: float
    lost_w: float


@calculation("Voltage along a run", Cite("ohm1827"), *METHOD)
def along_run(*, near_v: float, current_a: float, loop_ohm: float) -> AlongRun:
    """Return the voltage at the far end of a run from that at its near end and the current of all loads beyond.

    Formula: drop = I·R, far = near - drop, lost = I²·R.

    Valid when: steady direct current. Run after run from the output to the load this repeats the solved network, and
    the inner resistance of the output counts as the first run.

    Args:
        near_v: voltage at the end towards the output, volts.
        current_a: current of everything beyond the run, amperes.
        loop_ohm: resistance of the run there and back, ohm.

    Returns:
        Drop and far voltage, volts; heat, watts.
    """
    drop_v = current_a * loop_ohm
    return AlongRun(drop_v=drop_v, far_v=near_v - drop_v, lost_w=current_a * drop_v)


@calculation("Current of a load", Cite("ohm1827"), Cite("taheri2019", "loads of constant current, power and impedance"))
def load_current_a(*, node_v: float, fixed_a: float, power_w: float, load_ohm: float) -> float:
    """Return the current that a load takes at the voltage of its node.

    Formula: I = I0 + P/V + V/R.

    Valid when: the voltage is above zero; a converter below its least input voltage stops instead of taking more.

    Args:
        node_v: voltage at the load, volts.
        fixed_a: its constant current, amperes.
        power_w: its constant power, watts.
        load_ohm: its resistance, ohm; infinite where it has none.

    Returns:
        Current, amperes.
    """
    return fixed_a + (power_w / node_v if power_w else 0.0) + node_v / load_ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class RunState:
    """One run of a solved network, its voltages, its current and its heat."""

    name: str
    near: str
    far: str
    loop_ohm: float
    near_v: float
    far_v: float
    current_a: float
    lost_w: float

    @property
    def inputs(self) -> Mapping[str, float]:
        """What ``along_run`` takes, for the annex of workings."""
        return {"near_v": self.near_v, "current_a": self.current_a, "loop_ohm": self.loop_ohm}


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadFed:
    """One load of a solved network."""

    load: Load
    node_v: float
    current_a: float
    power_w: float

    @property
    def inputs(self) -> Mapping[str, float]:
        """What ``load_current_a`` takes, for the annex of workings."""
        draw = self.load.draw
        return {
            "node_v": self.node_v,
            "fixed_a": draw.current_a,
            "power_w": draw.power_w,
            "load_ohm": draw.resistance_ohm,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """A solved network. Energy is kept: ``sent_w`` = ``delivered_w`` + ``lost_w`` + ``inner_lost_w``.

    ``current_a`` is the current of the output, ``inner_lost_w`` the heat in its inner resistance. ``runs`` stand in the
    order of feeding, ``loads`` in the order of the network.
    """

    network: Network
    current_a: float
    node_v: Mapping[str, float]
    runs: tuple[RunState, ...]
    loads: tuple[LoadFed, ...]
    sent_w: float
    delivered_w: float
    lost_w: float
    inner_lost_w: float

    @property
    def output_v(self) -> float:
        """The voltage at the terminals of the output, volts."""
        return self.node_v[self.network.output.node]

    @property
    def first_inputs(self) -> Mapping[str, float]:
        """What ``along_run`` takes for the inner resistance of the output, for the annex of workings."""
        output = self.network.output
        return {"near_v": output.open_v, "current_a": self.current_a, "loop_ohm": output.inner_ohm}

    def path_to(self, node: str) -> tuple[RunState, ...]:
        """Return the runs from the output to a node, in that order.

        Raises:
            LookupError: the network has no such node.
        """
        if node not in self.node_v:
            raise LookupError(f"no node {node!r} in the network of {self.network.output.node!r}")
        feeding = {run.far: run for run in self.runs}
        path: list[RunState] = []
        while node in feeding:
            path.append(feeding[node])
            node = feeding[node].near
        return tuple(reversed(path))


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkCollapse:
    """The network cannot carry its loads: no steady state exists.

    ``node`` is where the proof fell: what lies at and beyond it cannot be fed. ``run`` is the run that feeds it,
    None where it is the output itself. ``carried_ratio`` is the share of all constant currents and powers, each shrunk
    alike, that could just be carried.
    """

    node: str
    run: str | None
    carried_ratio: float
