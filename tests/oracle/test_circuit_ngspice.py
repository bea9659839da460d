"""Our networks against ngspice, a circuit simulator written by others: node by node, current by current.

Many networks share one netlist, each with its own source and its own nodes. Constant power is a behavioural source,
``P/v`` above a tenth of the source's voltage. Where a network collapses it has no resting point at all; there each load
is ``P·v/(v² + g²)``, which hungers below ``g`` and lets ngspice settle somewhere.
"""

import math
import os
import re
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random

import pytest

from doorwright.calc.circuit import Draw, Load, Network, Output, Run
from doorwright.calc.flow import Flow, NetworkCollapse
from doorwright.calc.sweep import solve

NGSPICE = shutil.which("ngspice")
GUARD_RATIO = 0.1
HUNGER_RATIO = 0.05
IN_ONE_NETLIST = 60


@pytest.fixture(scope="module", autouse=True)
def _installed() -> None:
    if NGSPICE is None:
        if "CI" in os.environ:
            pytest.fail("CI must have ngspice: install Debian's package ngspice")
        pytest.skip("ngspice is not installed (Debian: apt-get install ngspice)")


def random_network(chance: Random, kinds: str, heaviness: float) -> Network:
    """Make a network of up to 14 runs in any tree shape; ``kinds`` says which loads hang on it."""
    open_v = chance.choice([12.0, 24.0, 48.0]) * chance.uniform(0.9, 1.15)
    count = chance.randint(1, 14)
    runs = tuple(
        Run(
            name=f"run {i}",
            near=f"n{chance.randint(max(0, i - 1 - chance.randint(0, 6)), i - 1)}",
            far=f"n{i}",
            loop_ohm=chance.choice([0.0, 0.05, 0.5, 2.0]) * chance.uniform(0.5, 1.5),
        )
        for i in range(1, count + 1)
    )
    loads = []
    for i in range(chance.randint(1, 2 * count)):
        kind = chance.choice(kinds)
        size_w = heaviness * open_v * chance.uniform(0.0, 0.5) / count
        draw = Draw(
            current_a=size_w / open_v if kind in "im" else 0.0,
            power_w=size_w if kind in "pm" else 0.0,
            resistance_ohm=open_v**2 / (size_w + 0.01) if kind in "rm" else math.inf,
        )
        loads.append(Load(name=f"load {i}", node=f"n{chance.randint(0, count)}", draw=draw))
    inner_ohm = chance.choice([0.0, 0.2 * chance.random()])
    return Network(output=Output(node="n0", open_v=open_v, inner_ohm=inner_ohm), runs=runs, loads=tuple(loads))


def networks(seed: int, kinds: str, heaviness: float) -> Iterator[Network]:
    chance = Random(seed)  # noqa: S311 - the same networks every time, no secret
    while True:
        yield random_network(chance, kinds, heaviness)


def shrunk(network: Network, ratio: float) -> Network:
    """Shrink the constant currents and powers, as ``carried_ratio`` means it."""
    return network.with_loads(
        tuple(
            Load(
                name=load.name,
                node=load.node,
                draw=Draw(
                    current_a=load.draw.current_a * ratio,
                    power_w=load.draw.power_w * ratio,
                    resistance_ohm=load.draw.resistance_ohm,
                ),
            )
            for load in network.loads
        )
    )


def netlist(circuits: Sequence[Network], *, hungry: bool) -> str:
    lines = ["radial networks"]
    for k, network in enumerate(circuits):
        output = network.output
        lines += [
            f"vout{k} c{k}emf 0 dc {output.open_v!r}",
            *wire(f"inner{k}", f"c{k}emf", f"c{k}n0", output.inner_ohm),
        ]
        for i, run in enumerate(network.runs):
            lines += wire(f"run{k}_{i}", f"c{k}{run.near}", f"c{k}{run.far}", run.loop_ohm)
        for i, load in enumerate(network.loads):
            lines += drawn(f"{k}_{i}", f"c{k}{load.node}", load.draw, output.open_v, hungry=hungry)
        lines += [f".nodeset v(c{k}{node})={output.open_v!r}" for node in network.nodes]
    return "\n".join(
        [
            *lines,
            ".options reltol=1e-9 vntol=1e-10 abstol=1e-12 itl1=2000 gmin=1e-18",
            ".control",
            "set numdgt=15",
            "op",
            "print all",
            "quit",
            ".endc",
            ".end",
            "",
        ]
    )


def wire(name: str, near: str, far: str, ohm: float) -> list[str]:
    # ngspice turns a resistor of 0 ohm into one of a milliohm; a source of 0 V is the true short
    return [f"r{name} {near} {far} {ohm!r}"] if ohm else [f"v{name} {near} {far} dc 0"]


def drawn(name: str, node: str, draw: Draw, open_v: float, *, hungry: bool) -> list[str]:
    said = [f"i{name} {node} 0 dc {draw.current_a!r}"] if draw.current_a else []
    said += [f"r{name} {node} 0 {draw.resistance_ohm!r}"] if math.isfinite(draw.resistance_ohm) else []
    if draw.power_w:
        volts, least_v = f"v({node})", GUARD_RATIO * open_v
        if hungry:
            taken = f"{draw.power_w!r}*{volts}/({volts}*{volts} + {(HUNGER_RATIO * open_v) ** 2!r})"
        else:
            taken = f"{draw.power_w!r}/max({volts}, {least_v!r})"
        said.append(f"b{name} {node} 0 i = {taken}")
    return said


def simulated(circuits: Sequence[Network], folder: Path, *, hungry: bool = False) -> dict[str, float]:
    """Return what ngspice finds: ``c3n5`` is node n5 of circuit 3, ``vout3#branch`` the current into its source."""
    assert NGSPICE is not None
    deck = folder / "networks.cir"
    deck.write_text(netlist(circuits, hungry=hungry), encoding="ascii")
    done = subprocess.run([NGSPICE, "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False)
    found = {name: float(value) for name, value in re.findall(r"^(\S+) = (\S+)$", done.stdout, re.MULTILINE)}
    assert found, f"ngspice found no operating point:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    return found


def assert_same(circuits: Sequence[Network], found: dict[str, float], relative: float) -> None:
    for k, network in enumerate(circuits):
        flow = solve(network)
        assert isinstance(flow, Flow), f"{network} collapses here, and ngspice has a working point"
        for node, volts in flow.node_v.items():
            assert found[f"c{k}{node}"] == pytest.approx(volts, rel=relative), f"{node} of {network}"
        assert -found[f"vout{k}#branch"] == pytest.approx(flow.current_a, rel=relative, abs=1e-9), network


@pytest.mark.parametrize("kinds", ["i", "r", "p", "m", "irpm"])
def test_every_node_and_the_current_agree(kinds: str, tmp_path: Path) -> None:
    chosen: list[Network] = []
    for network in networks(sum(map(ord, kinds)), kinds, heaviness=1.0):
        flow = solve(network)
        if isinstance(flow, Flow) and min(flow.node_v.values()) > 2 * GUARD_RATIO * network.output.open_v:
            chosen.append(network)
        if len(chosen) == IN_ONE_NETLIST:
            break
    assert_same(chosen, simulated(chosen, tmp_path), 1e-6)


def collapsing(count: int) -> list[tuple[Network, NetworkCollapse]]:
    found: list[tuple[Network, NetworkCollapse]] = []
    for network in networks(62820, "pr", heaviness=40.0):
        flow = solve(network)
        if isinstance(flow, NetworkCollapse):
            found.append((network, flow))
        if len(found) == count:
            return found
    raise AssertionError("unreachable: the networks go on for ever")


def test_what_collapses_here_works_there_just_below_the_edge(tmp_path: Path) -> None:
    below = [shrunk(network, 0.98 * flow.carried_ratio) for network, flow in collapsing(IN_ONE_NETLIST)]
    assert_same(below, simulated(below, tmp_path), 1e-6)


def test_what_collapses_here_starves_a_load_there(tmp_path: Path) -> None:
    above = [shrunk(network, 1.25 * flow.carried_ratio) for network, flow in collapsing(IN_ONE_NETLIST)]
    found = simulated(above, tmp_path, hungry=True)
    for k, network in enumerate(above):
        # Fewer loads or lighter ones can always be carried where more can. Had every load here got more than 1/1.25 of
        # what it asks for, ngspice would have carried more than we say can be carried.
        hunger_v2 = (HUNGER_RATIO * network.output.open_v) ** 2
        fed_v = [found[f"c{k}{load.node}"] for load in network.loads if load.draw.power_w]
        assert min(volts**2 / (volts**2 + hunger_v2) for volts in fed_v) <= 1 / 1.25 * (1 + 1e-6), network
