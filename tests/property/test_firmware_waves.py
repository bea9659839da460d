"""Orders of work on any small site: the plan's count is what a replay finds, nobody works twice, the bound holds."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.firmware.jobs import task_of
from doorwright.plan.firmware.steps import steps_to
from doorwright.plan.firmware.waves import plan_waves
from tests.unit.plan.block import block, plus, server, unit
from tests.unit.plan.firmware.stepping import TYPES, busy_by_slot, line, stepping, unreached_by_minute

few = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def steppings(draw: st.DrawFn) -> tuple[Site, dict[str, str]]:
    """Small sites with one to three entrances, a server or not, and a step of some of their types."""
    labels = {
        core: {1: [str(n) for n in range(draw(st.integers(1, 4)))]} for core in ("A", "B")[: draw(st.integers(1, 2))]
    }
    made = block(labels, vcu=draw(st.sampled_from(["vcu-directory", "vcu-keypad"])))
    if draw(st.booleans()):
        made = plus(
            made, Entrance(id="gate", name="Gate", serves_buildings=("block",)), unit("vcu gate", entrance="gate")
        )
    if draw(st.booleans()):
        made = plus(made, server(address="192.0.2.9"))
    if draw(st.booleans()):
        made = plus(made, unit("uru second", profile="uru-audio", dwelling="A/0"))
    lines = (
        line("1", 1),
        line(
            "2", draw(st.sampled_from([1, 2])), keeps=draw(st.booleans()), step_s=draw(st.sampled_from([60.0, 600.0]))
        ),
        line("3", draw(st.sampled_from([2, 3])), keeps=draw(st.booleans()), step_s=120.0),
    )
    site = stepping(made, *lines, now="1", restart_s=30.0, settle_s=draw(st.sampled_from([0.0, 200.0])))
    versions = st.sampled_from(["1", "2"])
    site = replace(site, units=tuple(replace(one, firmware=draw(versions)) for one in site.units))
    used = [key for key in TYPES if key in {one.profile for one in site.units}]
    return site, {key: draw(st.sampled_from(["2", "3"])) for key in used if draw(st.integers(0, 4))}


@pytest.mark.parametrize("effort", [0.0, 0.05])
@few
@given(made=steppings(), technicians=st.integers(1, 2))
def test_a_replay_finds_what_the_plan_says(effort: float, made: tuple[Site, dict[str, str]], technicians: int) -> None:
    site, targets = made
    walk = Walk(site)
    steps = steps_to(walk, targets)
    task = task_of(walk, steps.steps, technicians)
    plan = plan_waves(walk, task, effort)
    ignored: Any = set(task.unjudged)
    counted = Walk(replace(site, dwellings=tuple(one for one in site.dwellings if one.id not in ignored)))
    assert unreached_by_minute(counted, plan) == [n for n in plan.unreached for _ in range(plan.slot_min)]
    assert sorted(plan.turns) == sorted(step.unit.id for step in steps.steps)
    busy = busy_by_slot(walk, plan)
    assert all(minutes <= technicians * plan.slot_min for minutes in busy.values())
    assert sum(busy.values()) == plan.work_min
    if plan.quality.lost_bound_min is not None:
        quick = plan_waves(walk, task, 0.0)
        assert plan.quality.lost_bound_min <= plan.lost_dwelling_min <= quick.lost_dwelling_min
