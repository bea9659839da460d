"""The states in which a supply must carry its locks."""

import pytest

from doorwright.calc.circuit import Draw, Network, Output, Run
from doorwright.calc.flow import NetworkCollapse
from doorwright.calc.loading import Duty, Moment, load_states, outcomes, worst

WIRES = Network(
    output=Output(node="supply", open_v=12.0),
    runs=(
        Run(name="riser", near="supply", far="junction", loop_ohm=1.0),
        Run(name="left", near="junction", far="door 1", loop_ohm=1.0),
        Run(name="right", near="junction", far="door 2", loop_ohm=2.0),
    ),
)
MAGNET = Duty(name="magnet", node="door 1", standing=Draw(current_a=0.5))
STRIKE = Duty(
    name="strike",
    node="door 2",
    standing=Draw(),
    operated=Draw(current_a=0.25),
    inrush=Draw(current_a=1.0),
)
BOLT = Duty(name="bolt", node="door 1", standing=Draw(current_a=0.1), inrush=Draw(current_a=2.0))


def test_each_state_says_what_flows() -> None:
    states = {
        str(state): [load.draw.current_a for load in state.loads] for state in load_states((MAGNET, STRIKE, BOLT))
    }
    assert states == {
        "standing load": [0.5, 0.0, 0.1],
        "everything operated at once": [0.5, 0.25, 0.1],
        "one inrush on top of the standing load: strike": [0.5, 1.0, 0.1],
        "one inrush on top of the standing load: bolt": [0.5, 0.0, 2.0],
        "every inrush at once": [0.5, 1.0, 2.0],
    }


def test_the_worst_inrush_depends_on_the_door() -> None:
    solved = outcomes(WIRES, (MAGNET, STRIKE, BOLT))
    # hand: strike starts, 1.6 A over the riser, 0.6 A to door 1, 1 A to door 2: 12 - 1.6 - 0.6 and 12 - 1.6 - 2
    # bolt starts, 2.5 A over the riser, all of it to door 1: 12 - 2.5 - 2.5 and 12 - 2.5
    left = worst(solved, "door 1", Moment.ONE_INRUSH)
    assert left.state.starts == "bolt"
    assert left.voltage_v("door 1") == pytest.approx(7.0)
    right = worst(solved, "door 2", Moment.ONE_INRUSH)
    assert right.state.starts == "strike"
    assert right.voltage_v("door 2") == pytest.approx(8.4)
    # everything at once: 3.5 A over the riser, 2.5 A to door 1 (hand: 12 - 3.5 - 2.5)
    assert worst(solved, "door 1").voltage_v("door 1") == pytest.approx(6.0)
    with pytest.raises(LookupError, match="no outcome is of every inrush at once"):
        worst(solved[:1], "door 1", Moment.ALL_INRUSH)


def test_a_state_that_collapses_leaves_no_voltage() -> None:
    heavy = Duty(name="motor", node="door 2", standing=Draw(), inrush=Draw(power_w=40.0))
    # at most 12²/(4 × 3) = 12 W pass 3 ohm (hand)
    found = worst(outcomes(WIRES, (heavy,)), "door 2")
    assert isinstance(found.flow, NetworkCollapse)
    assert found.voltage_v("door 2") == 0.0
