"""A direct-current network that spreads from one output like a tree: its runs, its junctions and its loads.

Nodes are names: the output, junctions, doors, units. Each is fed by one run at most; a load hangs on a node.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, isfinite, isnan


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What a load takes: a constant current, a constant power, a resistance, or several of these side by side.

    A coil near its rated voltage is told as a current (the safe way) or as its resistance, a unit with a switching
    converter as a power. An infinite resistance takes nothing.
    """

    current_a: float = 0.0
    power_w: float = 0.0
    resistance_ohm: float = inf

    def __add__(self, other: "Draw") -> "Draw":
        """Both at once, at one node."""
        conductance = 1.0 / self.resistance_ohm + 1.0 / other.resistance_ohm
        return Draw(
            current_a=self.current_a + other.current_a,
            power_w=self.power_w + other.power_w,
            resistance_ohm=1.0 / conductance if conductance else inf,
        )

    def __str__(self) -> str:
        said = [f"{self.current_a:g} A"] if self.current_a else []
        said += [f"{self.power_w:g} W"] if self.power_w else []
        said += [f"{self.resistance_ohm:g} Ω"] if isfinite(self.resistance_ohm) else []
        return " and ".join(said) or "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One output of a supply: the node it makes, its voltage without load, and its inner resistance."""

    node: str
    open_v: float
    inner_ohm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Two wires from the node ``near`` the output to the node ``far`` from it; ``loop_ohm`` counts there and back."""

    name: str
    near: str
    far: str
    loop_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Something that draws current at a node."""

    name: str
    node: str
    draw: Draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """An output, the runs that spread from it, and the loads.

    Raises:
        ValueError: the runs do not form a tree from the output, a load hangs on an unknown node, two runs or two loads
            share a name, or a figure is negative, infinite or no number. The text names every fault.
    """

    output: Output
    runs: tuple[Run, ...] = ()
    loads: tuple[Load, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what is no radial network, naming every fault at once."""
        faults = [*_bad_figures(self), *_bad_names(self), *_bad_shape(self)]
        if faults:
            raise ValueError(f"no radial network: {'; '.join(faults)}")

    @property
    def nodes(self) -> tuple[str, ...]:
        """The names of all nodes, each after the one that feeds it."""
        return (self.output.node, *(run.far for run in self.ordered_runs))

    @property
    def ordered_runs(self) -> tuple[Run, ...]:
        """The runs, each after the one that feeds it."""
        return tuple(_spread(self))

    def fed_at(self, open_v: float) -> "Network":
        """The same network with another voltage at its output, such as the one at the end of standby."""
        return replace(self, output=replace(self.output, open_v=open_v))

    def with_loads(self, loads: tuple[Load, ...]) -> "Network":
        """The same wires with other loads."""
        return replace(self, loads=loads)


def _spread(network: Network) -> Iterator[Run]:
    leaving: dict[str, list[Run]] = {}
    for run in network.runs:
        leaving.setdefault(run.near, []).append(run)
    reached = {network.output.node}
    front = [network.output.node]
    for node in front:
        for run in leaving.get(node, ()):
            # a node fed twice is a fault told elsewhere; it must not make this walk endless
            if run.far not in reached:
                reached.add(run.far)
                front.append(run.far)
                yield run


def _bad_figures(network: Network) -> Iterator[str]:
    output = network.output
    if not (isfinite(output.open_v) and output.open_v > 0.0):
        yield f"the output {output.node!r} has {output.open_v:g} V; it needs a voltage above 0"
    if not (isfinite(output.inner_ohm) and output.inner_ohm >= 0.0):
        yield f"the output {output.node!r} has an inner resistance of {output.inner_ohm:g} Ω; it needs 0 or more"
    for run in network.runs:
        if not (isfinite(run.loop_ohm) and run.loop_ohm >= 0.0):
            yield f"the run {run.name!r} has {run.loop_ohm:g} Ω; it needs 0 or more"
    for load in network.loads:
        draw = load.draw
        if not (isfinite(draw.current_a) and draw.current_a >= 0.0):
            yield f"the load {load.name!r} takes {draw.current_a:g} A; it needs 0 or more"
        if not (isfinite(draw.power_w) and draw.power_w >= 0.0):
            yield f"the load {load.name!r} takes {draw.power_w:g} W; it needs 0 or more"
        if isnan(draw.resistance_ohm) or draw.resistance_ohm <= 0.0:
            yield f"the load {load.name!r} has {draw.resistance_ohm:g} Ω; it needs more than 0"


def _bad_names(network: Network) -> Iterator[str]:
    for word, names in (
        ("runs", [run.name for run in network.runs]),
        ("loads", [load.name for load in network.loads]),
    ):
        seen: set[str] = set()
        for name in names:
            if name in seen:
                yield f"two {word} are named {name!r}"
            seen.add(name)


def _bad_shape(network: Network) -> Iterator[str]:
    feeders: dict[str, list[Run]] = {}
    for run in network.runs:
        feeders.setdefault(run.far, []).append(run)
    for node, runs in feeders.items():
        names = " and ".join(repr(run.name) for run in runs)
        if node == network.output.node:
            yield f"the output {node!r} is fed by the run {names}"
        elif len(runs) > 1:
            yield f"{node!r} is fed by the runs {names}; each node is fed by one"
    reached = {network.output.node, *(run.far for run in _spread(network))}
    lost = {run.far: run.near for run in network.runs if run.near not in reached}
    for run in network.runs:
        if run.near not in reached and run.near not in feeders:
            yield f"the run {run.name!r} starts at {run.near!r}, which nothing feeds"
    for ring in _rings(lost):
        yield f"the runs feed each other in a ring: {' → '.join(map(repr, ring))}"
    for load in network.loads:
        if load.node not in reached and load.node not in feeders:
            yield f"the load {load.name!r} hangs on {load.node!r}, which no run reaches"


def _rings(lost: dict[str, str]) -> Iterator[tuple[str, ...]]:
    """Yield each closed chain among nodes that the output does not reach; ``lost`` names what feeds each of them."""
    done: set[str] = set()
    for start in lost.values():
        trail: list[str] = []
        node: str | None = start
        while node is not None and node not in done:
            done.add(node)
            trail.append(node)
            node = lost.get(node)
        if node in trail:
            ring = trail[trail.index(node) :]
            yield (ring[0], *reversed(ring))
