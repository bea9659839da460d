"""Which of the runs that are there stay, and which cannot."""

from collections.abc import Mapping
from dataclasses import dataclass

from doorwright.model.label import natural_key
from doorwright.plan.placement.figures import milliwatts
from doorwright.plan.placement.problem import Existing, Kept, Problem
from doorwright.plan.placement.routes import CM, Measure


@dataclass(frozen=True, slots=True)
class Sticking:
    """The runs that stay, by switch, and why each of the others cannot, by demand."""

    stays: Mapping[str, tuple[Kept, ...]]
    moved: Mapping[str, str]


def sticking(problem: Problem) -> Sticking:
    """Let every existing run stay that can.

    A run cannot stay if it is too long, if its port does not give what the unit draws or if the switch has too little
    power for all its units: then the hungriest leave, the last in natural order first. The spare is no reason to leave.
    """
    measure = Measure(problem.routes)
    stays: dict[str, tuple[Kept, ...]] = {}
    moved: dict[str, str] = {}
    for switch in problem.existing:
        kept = []
        for run in switch.runs:
            reason = _reason(problem, measure, switch, run)
            if reason is None:
                kept.append(run)
            else:
                moved[run.demand] = reason
        stays[switch.key] = tuple(kept)
        _relieve(problem, switch, stays, moved)
    return Sticking(stays, moved)


def _reason(problem: Problem, measure: Measure, switch: Existing, run: Kept) -> str | None:
    demand = next(one for one in problem.demands if one.key == run.demand)
    kind = next(one for one in problem.types if one.key == switch.type)
    if demand.key in problem.released:
        return "it may move, as was asked"
    spot = next(one.spot for one in problem.cupboards if one.key == switch.cupboard)
    length_cm = measure.run_cm(demand.spot, spot)
    if length_cm is None and run.length_m is None:
        return f"there is no way for cable from {switch.cupboard}"
    if length_cm is not None and run.length_m is None and length_cm > measure.limit_cm:
        return f"it is {length_cm / CM:.1f} m from {switch.cupboard}, more than {measure.limit_cm / CM:g} m"
    if milliwatts(demand.power_w) > milliwatts(kind.port_w):
        return f"it draws {demand.power_w:g} W, a port of {switch.key} gives {kind.port_w:g} W"
    return None


def _relieve(problem: Problem, switch: Existing, stays: dict[str, tuple[Kept, ...]], moved: dict[str, str]) -> None:
    budget_w = next(one.budget_w for one in problem.types if one.key == switch.type)
    power_mw = {one.key: milliwatts(one.power_w) for one in problem.demands}
    staying = sorted(stays[switch.key], key=lambda run: natural_key(run.demand))
    while sum(power_mw[run.demand] for run in staying) > milliwatts(budget_w):
        last = max(range(len(staying)), key=lambda at: (power_mw[staying[at].demand], at))
        moved[staying.pop(last).demand] = f"the units of {switch.key} draw more than its budget of {budget_w:g} W"
    stays[switch.key] = tuple(staying)
