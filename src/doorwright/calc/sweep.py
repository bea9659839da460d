"""What flows in a radial direct-current network: every voltage, every current, or the proof that it collapses.

The network is solved by sweeps. Backward, from the ends to the output, each run and what hangs on it shrink to one
equivalent load (a conductance and a current); forward, from the output to the ends, the voltages follow. Without
loads of constant power one sweep is exact. With them, each sweep replaces such a load by the tangent of P/v at the
last voltage.

Why this always ends in an answer. Write A·v + P/v = b for the network, A the conductances, b the source less the
constant currents; a run without resistance joins its two nodes into one. A is symmetric with no positive entry off
its diagonal, so its inverse has no negative entry, and P/v is convex.

1. The first sweep leaves the constant powers out. Its voltages lie at or above every solution: v = A⁻¹(b - P/v) ≤ A⁻¹b.
2. Let v* be the highest solution, if there is one. There A - diag(P/v*²) has no negative eigenvalue: else there were a
   direction x > 0 in which the step v → A⁻¹(b - P/v) grows, and from v* + εx it would climb to a higher solution. Above
   v* the tangents are flatter, so the matrix is positive definite there, every pivot of the backward sweep is positive,
   and its inverse has no negative entry.
3. A sweep with tangents is Newton's step. From at or above v*, convexity keeps the next voltages at or above v* and at
   or below the last ones. A falling sequence with a floor converges, and its limit solves the equations.
4. So if a pivot is not positive, or a voltage falls to zero or below, there was no v*: the network collapses, and the
   node at which that happened is the one to name. If there is no solution the sequence cannot converge, so this
   happens. A constant current that would push its node below zero volts is no working point either, by the same word.

Newton's step closes in quadratically, and by halves at the very edge of collapse; there 60 steps exhaust the digits
of a number. At the edge the voltage is known to about 1e-8 of itself, like the root of a square.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.calc.circuit import Network
from doorwright.calc.flow import Flow, LoadFed, NetworkCollapse, RunState, along_run, load_current_a

_MOST_SWEEPS: Final = 400
_SETTLED: Final = 1e-14


@dataclass(frozen=True, slots=True)
class _Tree:
    """The network by number, each node after the one that feeds it; the output's inner resistance feeds node 0."""

    parent: list[int]
    ohm: list[float]
    conductance: list[float]
    current_a: list[float]
    power_w: list[float]
    open_v: float


@dataclass(frozen=True, slots=True)
class _Fails:
    """The number of the node at which no solution was proved."""

    node: int


def solve(network: Network) -> Flow | NetworkCollapse:
    """Return what flows in a network, or its collapse.

    The module tells the method and why it always ends in one or the other.
    """
    tree = _tree(network)
    settled = _settle(tree, 1.0)
    if not isinstance(settled, _Fails):
        return _flow(network, tree, settled)
    run = network.ordered_runs[settled.node - 1].name if settled.node else None
    return NetworkCollapse(node=network.nodes[settled.node], run=run, carried_ratio=_carried_ratio(tree))


def _tree(network: Network) -> _Tree:
    runs = network.ordered_runs
    number = {node: i for i, node in enumerate(network.nodes)}
    tree = _Tree(
        parent=[-1, *(number[run.near] for run in runs)],
        ohm=[network.output.inner_ohm, *(run.loop_ohm for run in runs)],
        conductance=[0.0] * len(number),
        current_a=[0.0] * len(number),
        power_w=[0.0] * len(number),
        open_v=network.output.open_v,
    )
    for load in network.loads:
        i = number[load.node]
        tree.conductance[i] += 1.0 / load.draw.resistance_ohm
        tree.current_a[i] += load.draw.current_a
        tree.power_w[i] += load.draw.power_w
    return tree


def _settle(tree: _Tree, ratio: float) -> list[float] | _Fails:
    """Sweep until the voltages stand still, with ``ratio`` of the constant currents and powers."""
    fixed_a = [ratio * current_a for current_a in tree.current_a]
    power_w = [ratio * load_w for load_w in tree.power_w]
    volts = _sweep(tree, tree.conductance, fixed_a)
    for _ in range(_MOST_SWEEPS):
        if isinstance(volts, _Fails):
            return volts
        for i, node_v in enumerate(volts):
            if node_v < 0.0 or (power_w[i] > 0.0 and node_v == 0.0):
                return _Fails(i)
        slopes = [load_w / (node_v * node_v) if load_w else 0.0 for load_w, node_v in zip(power_w, volts, strict=True)]
        lower = _sweep(
            tree,
            [plain - slope for plain, slope in zip(tree.conductance, slopes, strict=True)],
            [i_a + 2.0 * slope * node_v for i_a, slope, node_v in zip(fixed_a, slopes, volts, strict=True)],
        )
        if isinstance(lower, _Fails):
            return lower
        # the sequence falls; what rises is rounding
        lower = [min(pair) for pair in zip(lower, volts, strict=True)]
        if all(was - now <= _SETTLED * tree.open_v for was, now in zip(volts, lower, strict=True)):
            return lower
        volts = lower
    raise AssertionError("a falling sequence of voltages neither settled nor collapsed")


def _sweep(tree: _Tree, conductance: list[float], fixed_a: list[float]) -> list[float] | _Fails:
    """Return the voltages of a network of conductances and currents, or the node whose pivot is not positive."""
    seen = list(conductance)
    taken_a = list(fixed_a)
    pivots = [1.0] * len(seen)
    for i in range(len(seen) - 1, -1, -1):
        pivots[i] = 1.0 + seen[i] * tree.ohm[i]
        if pivots[i] <= 0.0:
            return _Fails(i)
        if i:
            seen[tree.parent[i]] += seen[i] / pivots[i]
            taken_a[tree.parent[i]] += taken_a[i] / pivots[i]
    volts: list[float] = []
    for i, pivot in enumerate(pivots):
        near_v = volts[tree.parent[i]] if i else tree.open_v
        volts.append((near_v - tree.ohm[i] * taken_a[i]) / pivot)
    return volts


def _carried_ratio(tree: _Tree) -> float:
    """Return the largest share of the constant loads that has a solution; solvable shares lie below the others."""
    carried, refused = 0.0, 1.0
    while refused - carried > 1e-9:
        middle = (carried + refused) / 2.0
        if isinstance(_settle(tree, middle), _Fails):
            refused = middle
        else:
            carried = middle
    return carried


def _flow(network: Network, tree: _Tree, settled: list[float]) -> Flow:
    """Sweep once more by Kirchhoff's laws alone, so that currents and voltages add up to the last digit."""
    number = {node: i for i, node in enumerate(network.nodes)}
    loads_a = [
        load_current_a(
            node_v=settled[number[load.node]],
            fixed_a=load.draw.current_a,
            power_w=load.draw.power_w,
            load_ohm=load.draw.resistance_ohm,
        )
        for load in network.loads
    ]
    flowing_a = [0.0] * len(settled)
    for load, load_a in zip(network.loads, loads_a, strict=True):
        flowing_a[number[load.node]] += load_a
    for i in range(len(settled) - 1, 0, -1):
        flowing_a[tree.parent[i]] += flowing_a[i]
    first = along_run(near_v=tree.open_v, current_a=flowing_a[0], loop_ohm=tree.ohm[0])
    node_v = {network.output.node: first.far_v}
    runs: list[RunState] = []
    for run in network.ordered_runs:
        current_a = flowing_a[number[run.far]]
        along = along_run(near_v=node_v[run.near], current_a=current_a, loop_ohm=run.loop_ohm)
        node_v[run.far] = along.far_v
        runs.append(
            RunState(
                name=run.name,
                near=run.near,
                far=run.far,
                loop_ohm=run.loop_ohm,
                near_v=node_v[run.near],
                far_v=along.far_v,
                current_a=current_a,
                lost_w=along.lost_w,
            )
        )
    loads = tuple(
        LoadFed(load=load, node_v=node_v[load.node], current_a=load_a, power_w=node_v[load.node] * load_a)
        for load, load_a in zip(network.loads, loads_a, strict=True)
    )
    return Flow(
        network=network,
        current_a=flowing_a[0],
        node_v=MappingProxyType(node_v),
        runs=tuple(runs),
        loads=loads,
        sent_w=tree.open_v * flowing_a[0],
        delivered_w=sum(fed.power_w for fed in loads),
        lost_w=sum(run.lost_w for run in runs),
        inner_lost_w=first.lost_w,
    )
