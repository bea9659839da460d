"""What must hold of every radial network, whatever its shape and figures."""

from dataclasses import replace
from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from doorwright.calc import dc
from doorwright.calc.circuit import Draw, Load, Network, Output, Run
from doorwright.calc.flow import Flow, NetworkCollapse, load_current_a
from doorwright.calc.sweep import solve

volts = st.floats(min_value=5.0, max_value=60.0)
ohms = st.one_of(st.just(0.0), st.floats(min_value=1e-3, max_value=10.0))
draws = st.builds(
    Draw,
    current_a=st.one_of(st.just(0.0), st.floats(min_value=0.0, max_value=1.0)),
    power_w=st.one_of(st.just(0.0), st.floats(min_value=1e-3, max_value=12.0)),
    resistance_ohm=st.one_of(st.just(inf), st.floats(min_value=5.0, max_value=1e4)),
)


@st.composite
def networks(draw: st.DrawFn) -> Network:
    count = draw(st.integers(min_value=1, max_value=8))
    runs = tuple(
        Run(
            name=f"run {i}",
            near=f"n{draw(st.integers(min_value=0, max_value=i - 1))}",
            far=f"n{i}",
            loop_ohm=draw(ohms),
        )
        for i in range(1, count + 1)
    )
    loads = tuple(
        Load(name=f"load {i}", node=f"n{draw(st.integers(min_value=0, max_value=count))}", draw=draw(draws))
        for i in range(draw(st.integers(min_value=0, max_value=6)))
    )
    return Network(
        output=Output(node="n0", open_v=draw(volts), inner_ohm=draw(ohms)),
        runs=tuple(draw(st.permutations(list(runs)))),  # the order of writing says nothing
        loads=loads,
    )


def clear_of_the_edge(network: Network) -> bool:
    """Whether the network still works with a thousandth more of everything, so that rounding decides nothing."""
    return isinstance(solve(with_draws(network, 1.001)), Flow)


def with_draws(network: Network, ratio: float) -> Network:
    return network.with_loads(
        tuple(
            replace(
                load, draw=replace(load.draw, current_a=load.draw.current_a * ratio, power_w=load.draw.power_w * ratio)
            )
            for load in network.loads
        )
    )


@given(network=networks())
def test_energy_and_current_are_kept_and_every_load_gets_what_it_asks(network: Network) -> None:
    flow = solve(network)
    assume(isinstance(flow, Flow) and clear_of_the_edge(network))
    assert isinstance(flow, Flow)
    assert flow.sent_w == pytest.approx(flow.delivered_w + flow.lost_w + flow.inner_lost_w, rel=1e-9, abs=1e-9)
    for fed in flow.loads:
        # after the last sweep the load sees its voltage to within rounding of the one its current was reckoned from
        assert fed.current_a == pytest.approx(load_current_a(**fed.inputs), rel=1e-6, abs=1e-12)
    for node in network.nodes:
        into_a = flow.current_a if node == "n0" else next(run.current_a for run in flow.runs if run.far == node)
        out_a = sum(run.current_a for run in flow.runs if run.near == node)
        out_a += sum(fed.current_a for fed in flow.loads if fed.load.node == node)
        assert into_a == pytest.approx(out_a, rel=1e-9, abs=1e-12)
    for run in flow.runs:
        assert run.far_v == pytest.approx(run.near_v - run.current_a * run.loop_ohm, rel=1e-12)
        assert run.far_v <= run.near_v <= network.output.open_v


@given(network=networks(), more=draws, data=st.data())
def test_more_load_lowers_every_voltage(network: Network, more: Draw, data: st.DataObject) -> None:
    flow = solve(network)
    node = data.draw(st.sampled_from(network.nodes))
    heavier = solve(network.with_loads((*network.loads, Load(name="more", node=node, draw=more))))
    if isinstance(flow, NetworkCollapse):
        # a resistance takes more current away, so it never rescues a network
        assert isinstance(heavier, NetworkCollapse)
    elif isinstance(heavier, Flow):
        assert all(heavier.node_v[name] <= flow.node_v[name] + 1e-6 for name in network.nodes)


@given(network=networks(), added_ohm=st.floats(min_value=0.0, max_value=5.0), data=st.data())
def test_a_longer_cable_lowers_the_voltage_behind_it(network: Network, added_ohm: float, data: st.DataObject) -> None:
    longer = data.draw(st.sampled_from(network.runs))
    runs = tuple(replace(run, loop_ohm=run.loop_ohm + added_ohm) if run is longer else run for run in network.runs)
    before, after = solve(network), solve(replace(network, runs=runs))
    if isinstance(before, NetworkCollapse):
        # constant loads behind a longer cable draw no less; only a collapse at the edge of rounding could waver
        assert isinstance(after, NetworkCollapse) or before.carried_ratio > 1 - 1e-6 or has_resistance(network)
    elif isinstance(after, Flow):
        assert after.node_v[longer.far] <= before.node_v[longer.far] + 1e-6


def has_resistance(network: Network) -> bool:
    return any(load.draw.resistance_ohm < inf for load in network.loads)


@given(network=networks())
def test_without_resistance_or_without_loads_every_node_has_the_voltage_of_the_source(network: Network) -> None:
    bare = replace(
        network,
        output=replace(network.output, inner_ohm=0.0),
        runs=tuple(replace(run, loop_ohm=0.0) for run in network.runs),
    )
    for one in (bare, network.with_loads(())):
        flow = solve(one)
        assert isinstance(flow, Flow)
        assert set(flow.node_v.values()) == {network.output.open_v}


@given(network=networks())
def test_a_collapse_tells_how_much_could_be_carried(network: Network) -> None:
    heavy = with_draws(network, 50.0)
    found = solve(heavy)
    assume(isinstance(found, NetworkCollapse))
    assert isinstance(found, NetworkCollapse)
    assert found.node in heavy.nodes
    assert (found.run is None) == (found.node == heavy.output.node)
    assert isinstance(solve(with_draws(heavy, found.carried_ratio * (1 - 1e-6))), Flow)
    assert isinstance(solve(with_draws(heavy, found.carried_ratio * (1 + 1e-6) + 1e-8)), NetworkCollapse)


@given(source_v=volts, load=draws, loop_ohm=ohms)
def test_one_load_on_one_line_is_the_closed_form(source_v: float, load: Draw, loop_ohm: float) -> None:
    for draw, closed in (
        (
            Draw(current_a=load.current_a),
            dc.constant_current_feed(source_v=source_v, load_a=load.current_a, loop_ohm=loop_ohm),
        ),
        (
            Draw(power_w=load.power_w),
            dc.constant_power_feed(source_v=source_v, load_w=load.power_w, loop_ohm=loop_ohm),
        ),
    ):
        flow = solve(
            Network(
                output=Output(node="supply", open_v=source_v),
                runs=(Run(name="run", near="supply", far="door", loop_ohm=loop_ohm),),
                loads=(Load(name="lock", node="door", draw=draw),),
            )
        )
        if isinstance(closed, dc.Collapse):
            assert isinstance(flow, NetworkCollapse) or at_the_edge(closed, load)
            continue
        if isinstance(flow, NetworkCollapse):
            assert flow.carried_ratio > 1 - 1e-6
            continue
        edge = closed.far_v < 0.5005 * source_v  # like the root of a square, it loses half its digits there
        assert flow.node_v["door"] == pytest.approx(closed.far_v, rel=1e-3 if edge else 1e-9, abs=1e-9)
        assert flow.sent_w == pytest.approx(closed.sent_w, rel=1e-3 if edge else 1e-9, abs=1e-9)


def at_the_edge(closed: dc.Collapse, load: Draw) -> bool:
    return min(abs(closed.most_w - load.power_w) / closed.most_w, abs(closed.short_a - load.current_a)) < 1e-9
