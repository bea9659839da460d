"""Networks worked by hand, networks that collapse, and what is no radial network."""

from math import inf, nan

import pytest

from doorwright.calc.circuit import Draw, Load, Network, Output, Run
from doorwright.calc.flow import Flow, NetworkCollapse, along_run, load_current_a
from doorwright.calc.sweep import solve


def network(
    *runs: tuple[str, str, float], loads: dict[str, Draw], open_v: float = 12.0, inner_ohm: float = 0.0
) -> Network:
    return Network(
        output=Output(node="out", open_v=open_v, inner_ohm=inner_ohm),
        runs=tuple(Run(name=f"to {far}", near=near, far=far, loop_ohm=ohm) for near, far, ohm in runs),
        loads=tuple(Load(name=f"load at {node}", node=node, draw=draw) for node, draw in loads.items()),
    )


def solved(one: Network) -> Flow:
    flow = solve(one)
    assert isinstance(flow, Flow)
    return flow


def collapsed(one: Network) -> NetworkCollapse:
    flow = solve(one)
    assert isinstance(flow, NetworkCollapse)
    return flow


def test_two_currents_on_one_line() -> None:
    # 2 A over the first ohm leave 10 V, 1 A over the second 9 V; heat 4 + 1 W, loads 10 + 9 W, sent 24 W (hand)
    flow = solved(network(("out", "a", 1.0), ("a", "b", 1.0), loads={"a": Draw(current_a=1), "b": Draw(current_a=1)}))
    assert flow.node_v == pytest.approx({"out": 12.0, "a": 10.0, "b": 9.0})
    assert [run.current_a for run in flow.runs] == pytest.approx([2.0, 1.0])
    assert (flow.sent_w, flow.lost_w, flow.delivered_w) == pytest.approx((24.0, 5.0, 19.0))


def test_a_divider_of_resistances() -> None:
    # 2 ohm of run and 4 ohm of load share 12 V as 4 V and 8 V (hand)
    flow = solved(network(("out", "a", 2.0), loads={"a": Draw(resistance_ohm=4.0)}))
    assert flow.node_v["a"] == pytest.approx(8.0)
    assert flow.current_a == pytest.approx(2.0)


def test_a_load_below_one_ohm_is_a_load() -> None:
    # 1 ohm of run and half an ohm of load share 12 V as 8 V and 4 V (hand)
    flow = solved(network(("out", "a", 1.0), loads={"a": Draw(resistance_ohm=0.5)}))
    assert flow.node_v["a"] == pytest.approx(4.0)


def test_a_constant_current_may_use_up_the_last_volt() -> None:
    # 6 A drop all of 12 V over 2 ohm: nothing is left for the load, and nothing is below zero (hand)
    flow = solved(network(("out", "a", 2.0), loads={"a": Draw(current_a=6.0)}))
    assert flow.node_v["a"] == 0.0
    assert flow.lost_w == pytest.approx(72.0)


def test_no_power_is_left_where_no_voltage_is() -> None:
    found = collapsed(network(("out", "a", 2.0), loads={"a": Draw(current_a=6.0, power_w=1.0)}))
    assert found.node == "a"


def test_two_constant_powers_behind_one_another() -> None:
    # built backwards (hand): 16 W at 8 V take 2 A over 1 ohm, so 10 V before; 10 W there take 1 A; 3 A, 2 ohm: 16 V.
    # The matrix [[1.5, -1], [-1, 1]] less diag(10/100, 16/64) has the determinant 1.4 × 0.75 - 1 = 0.05 > 0: it is the
    # higher of the solutions.
    loads = {"a": Draw(power_w=10.0), "b": Draw(power_w=16.0)}
    flow = solved(network(("out", "a", 2.0), ("a", "b", 1.0), loads=loads, open_v=16.0))
    assert flow.node_v == pytest.approx({"out": 16.0, "a": 10.0, "b": 8.0})
    assert flow.current_a == pytest.approx(3.0)


def test_current_power_and_resistance_at_one_door() -> None:
    # at 10 V: 0.5 A fixed, 5 W take 0.5 A, 10 ohm take 1 A; 2 A over 1 ohm: 12 V (hand)
    flow = solved(network(("out", "a", 1.0), loads={"a": Draw(current_a=0.5, power_w=5.0, resistance_ohm=10.0)}))
    assert flow.node_v["a"] == pytest.approx(10.0)
    assert flow.loads[0].power_w == pytest.approx(20.0)


def test_the_inner_resistance_counts_as_the_first_run() -> None:
    # 1 A over 0.5 ohm inside and 1 ohm outside: 11.5 V at the terminals, 10.5 V at the load (hand)
    flow = solved(network(("out", "a", 1.0), loads={"a": Draw(current_a=1.0)}, inner_ohm=0.5))
    assert (flow.output_v, flow.node_v["a"]) == pytest.approx((11.5, 10.5))
    assert (flow.inner_lost_w, flow.lost_w, flow.sent_w) == pytest.approx((0.5, 1.0, 12.0))


def test_a_load_at_the_output_itself_and_none_elsewhere() -> None:
    flow = solved(network(("out", "a", 1.0), loads={"out": Draw(power_w=24.0)}))
    assert flow.current_a == pytest.approx(2.0)
    assert flow.node_v["a"] == 12.0


def test_the_annex_repeats_the_network_run_after_run() -> None:
    one = network(
        ("out", "a", 0.7), ("a", "b", 1.3), ("a", "c", 2.0),
        loads={"b": Draw(power_w=6.0), "c": Draw(current_a=0.4)}, open_v=24.0, inner_ohm=0.1,
    )  # fmt: skip
    flow = solved(one)
    at_v = along_run(**flow.first_inputs).far_v
    for run in flow.path_to("b"):
        assert run.inputs["near_v"] == at_v
        at_v = along_run(**run.inputs).far_v
    assert at_v == flow.node_v["b"]
    assert [run.far for run in flow.path_to("b")] == ["a", "b"]
    assert flow.path_to("out") == ()
    assert load_current_a(**flow.loads[0].inputs) == pytest.approx(flow.loads[0].current_a)
    with pytest.raises(LookupError, match="no node 'x'"):
        flow.path_to("x")


def test_more_power_than_the_line_can_carry_names_the_node() -> None:
    # at most 12²/(4 × 10) = 3.6 W pass 10 ohm; 7.2 W are twice that (hand)
    found = collapsed(network(("out", "a", 0.0), ("a", "b", 10.0), loads={"b": Draw(power_w=7.2)}))
    assert (found.node, found.run) == ("b", "to b")
    assert found.carried_ratio == pytest.approx(0.5, abs=1e-6)


def test_more_current_than_the_line_can_carry_names_the_first_node_below_zero() -> None:
    # 10 A would drop 20 V of 12 V; 6 A just reach 0 V (hand)
    found = collapsed(network(("out", "a", 2.0), ("a", "b", 1.0), loads={"a": Draw(current_a=10.0)}))
    assert found.node == "a"
    assert found.carried_ratio == pytest.approx(0.6, abs=1e-6)


def test_an_output_too_soft_for_its_loads_collapses_at_the_output() -> None:
    found = collapsed(network(loads={"out": Draw(power_w=40.0)}, inner_ohm=1.0))
    assert (found.node, found.run) == ("out", None)
    # 12²/4 = 36 W at most (hand)
    assert found.carried_ratio == pytest.approx(0.9, abs=1e-6)


@pytest.mark.parametrize("short_w", [1e-3, 1e-6, 1e-9, -1e-9, -1e-6, -1e-3])
def test_on_either_side_of_the_edge_there_is_an_answer(short_w: float) -> None:
    # the edge of 12 V over 10 ohm is 3.6 W (hand)
    found = solve(network(("out", "a", 10.0), loads={"a": Draw(power_w=3.6 - short_w)}))
    assert isinstance(found, Flow) == (short_w > 0)


def test_a_thousand_doors_in_a_row() -> None:
    runs = [("out" if i == 0 else f"n{i - 1}", f"n{i}", 0.001) for i in range(1000)]
    flow = solved(network(*runs, loads={f"n{i}": Draw(power_w=0.02) for i in range(1000)}, open_v=24.0))
    volts = [flow.node_v[f"n{i}"] for i in range(1000)]
    assert volts == sorted(volts, reverse=True)
    # 20 W, nearly all of it over the mean of a thousand runs of 1 milliohm: roughly 20/24 A × 1 ohm / 2 = 0.42 V (hand)
    assert volts[-1] == pytest.approx(24.0 - 0.42, abs=0.02)


def test_another_voltage_and_other_loads_keep_the_wires() -> None:
    one = network(("out", "a", 1.0), loads={"a": Draw(current_a=1.0)})
    assert solved(one.fed_at(10.5)).node_v["a"] == pytest.approx(9.5)
    assert solved(one.with_loads(())).node_v["a"] == 12.0


def test_draws_add_up_and_say_what_they_are() -> None:
    both = Draw(current_a=0.5, resistance_ohm=20.0) + Draw(power_w=6.0, resistance_ohm=20.0)
    assert both == Draw(current_a=0.5, power_w=6.0, resistance_ohm=10.0)
    assert str(both) == "0.5 A and 6 W and 10 Ω"
    assert Draw() + Draw() == Draw()
    assert str(Draw()) == "nothing"


@pytest.mark.parametrize(
    ("runs", "fault"),
    [
        ([("out", "a", 1.0), ("out", "a", 1.0)], "'a' is fed by the runs 'to a' and 'to a'; each node is fed by one"),
        ([("a", "out", 1.0), ("out", "a", 1.0)], "the output 'out' is fed by the run 'to out'"),
        ([("x", "a", 1.0)], "the run 'to a' starts at 'x', which nothing feeds"),
        ([("a", "b", 1.0), ("b", "a", 1.0)], "the runs feed each other in a ring: 'a' → 'b' → 'a'"),
        ([("a", "b", 1.0), ("b", "c", 1.0), ("c", "a", 1.0)], "ring: 'a' → 'b' → 'c' → 'a'"),
        ([("a", "a", 1.0)], "the runs feed each other in a ring: 'a' → 'a'"),
        ([("out", "a", -1.0)], "the run 'to a' has -1 Ω; it needs 0 or more"),
        ([("out", "a", inf)], "the run 'to a' has inf Ω; it needs 0 or more"),
        ([("out", "a", nan)], "the run 'to a' has nan Ω; it needs 0 or more"),
    ],
)
def test_what_is_no_tree_is_refused(runs: list[tuple[str, str, float]], fault: str) -> None:
    with pytest.raises(ValueError, match="no radial network") as refused:
        network(*runs, loads={})
    assert fault in str(refused.value)


@pytest.mark.parametrize(
    ("node", "draw", "fault"),
    [
        ("x", Draw(), "the load 'load at x' hangs on 'x', which no run reaches"),
        ("out", Draw(current_a=-1.0), "the load 'load at out' takes -1 A; it needs 0 or more"),
        ("out", Draw(power_w=nan), "the load 'load at out' takes nan W; it needs 0 or more"),
        ("out", Draw(resistance_ohm=0.0), "the load 'load at out' has 0 Ω; it needs more than 0"),
    ],
)
def test_what_is_no_load_is_refused(node: str, draw: Draw, fault: str) -> None:
    with pytest.raises(ValueError, match="no radial network") as refused:
        network(loads={node: draw})
    assert fault in str(refused.value)


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(ValueError, match="no radial network") as refused:
        Network(
            output=Output(node="out", open_v=0.0, inner_ohm=-1.0),
            runs=(Run(name="one", near="out", far="a", loop_ohm=1.0), Run(name="one", near="y", far="b", loop_ohm=1.0)),
            loads=(Load(name="lock", node="a", draw=Draw()), Load(name="lock", node="z", draw=Draw())),
        )
    said = str(refused.value)
    for fault in ("0 V", "-1 Ω", "two runs are named 'one'", "two loads are named 'lock'", "starts at 'y'", "on 'z'"):
        assert fault in said
