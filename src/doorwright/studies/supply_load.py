"""Does the output of a supply suffice for what it feeds?"""

from dataclasses import dataclass
from math import isfinite
from typing import Final

from doorwright.calc.circuit import Draw
from doorwright.calc.flow import load_current_a
from doorwright.calc.loading import Duty
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door
from doorwright.model.network import CableRun
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branches_of, missing_output_v
from doorwright.studies.dc_duty import duty_of
from doorwright.studies.study import Study

TITLE: Final = "Load of the supply"


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLoad:
    """What a supply feeds and what that takes at the voltage of its output, and what it gives.

    ``load_a`` is the current with everything operated at once, ``standing_a`` what flows all the time, ``starting_a``
    the current with every inrush at once. Cables are not counted: what they take is in the study of its circuit.
    """

    locks_count: int
    others_count: int
    load_a: float
    standing_a: float
    starting_a: float
    output_v: float | None
    output_a: float

    @property
    def spare_ratio(self) -> float:
        """The part of the output that is free; negative where the loads take more than there is."""
        return 1.0 - self.load_a / self.output_a


def supply_load(walk: Walk, supply: Supply) -> Study[SupplyLoad]:
    """Study the current of what a supply feeds against its output."""
    missing: dict[Missing, None] = {}
    profile = walk.profile(supply.profile)
    if profile is None:
        missing[Missing(Supply.KIND, "profile")] = None
    elif not profile.output_a:
        missing[Missing("profile", "output current")] = None
    branches = branches_of(walk, supply)
    parts = {part.id: part for branch in branches for part in branch.parts}
    duties: list[Duty] = []
    for part in parts.values():
        duty = duty_of(walk, part)
        if isinstance(duty, tuple):
            missing.update(dict.fromkeys(duty))
        else:
            duties.append(duty)
    if any(branch.lost for branch in branches):
        missing[Missing(CableRun.KIND, "far end")] = None
    if any(_needs_voltage(draw) for duty in duties for draw in (duty.working, duty.starting)):
        missing.update(dict.fromkeys(missing_output_v(walk, supply)))
    if missing or profile is None or not profile.output_a:
        return Study(supply.subject, TITLE, missing=tuple(missing))
    output_v = profile.output_v or 0.0
    locks_count = sum(isinstance(part, Door) for part in parts.values())
    value = SupplyLoad(
        locks_count=locks_count,
        others_count=len(parts) - locks_count,
        load_a=sum(_current_a(duty.working, output_v) for duty in duties),
        standing_a=sum(_current_a(duty.standing, output_v) for duty in duties),
        starting_a=sum(_current_a(duty.starting, output_v) for duty in duties),
        output_v=profile.output_v,
        output_a=profile.output_a,
    )
    return Study(supply.subject, TITLE, value)


def _needs_voltage(draw: Draw) -> bool:
    return bool(draw.power_w) or isfinite(draw.resistance_ohm)


def _current_a(draw: Draw, output_v: float) -> float:
    return load_current_a(node_v=output_v, fixed_a=draw.current_a, power_w=draw.power_w, load_ohm=draw.resistance_ohm)
