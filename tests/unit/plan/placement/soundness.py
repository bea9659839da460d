"""An independent look at a plan for switches: everything that the question asks, checked from the question itself."""

from collections import Counter
from decimal import Decimal
from fractions import Fraction

from doorwright.plan.placement import Placement, Problem, Spot, SwitchType, Uplink


def way_m(problem: Problem, start: Spot, end: Spot) -> Fraction | None:
    """Length of a cable with slack; each crossing of the tests joins all cores, so that one is enough."""
    heights = {level: Fraction(str(height)) for level, height in problem.routes.heights_m.items()}
    low, high = heights[start.level], heights[end.level]
    ends = Fraction(str(start.run_m)) + Fraction(str(end.run_m)) + Fraction(str(problem.routes.slack_m))
    if start.core == end.core:
        return abs(high - low) + ends
    one, other = (problem.routes.risers_m[core] for core in (start.core, end.core))
    apart = sum(abs(Fraction(str(a)) - Fraction(str(b))) for a, b in zip(one, other, strict=True))
    across = [
        abs(low - heights[crossing.level]) + apart + abs(high - heights[crossing.level])
        for crossing in problem.routes.crossings
    ]
    return min(across) + ends if across else None


def usable(amount: float, spare_ratio: float) -> Fraction:
    return Fraction(str(amount)) * (1 - Fraction(str(spare_ratio)))


def faults(problem: Problem, plan: Placement) -> list[str]:
    """Return everything that is wrong with a plan."""
    found: list[str] = []
    types = {one.key: one for one in problem.types}
    demands = {one.key: one for one in problem.demands}
    switches = {one.key: one for one in plan.switches}
    if sorted(run.demand for run in plan.runs) != sorted(demands):
        found.append("not every unit has one run")
    if len(switches) != len(plan.switches) or not {one.key for one in problem.existing} <= set(switches):
        found.append("a switch is named twice or gone")
    found.extend(_room_faults(problem, plan, types))
    found.extend(_run_faults(problem, plan))
    down = access_for_links(problem, plan, types)
    for one in plan.switches:
        found.extend(_load_faults(problem, plan, one.key, types[one.type], down[one.key], is_new=one.new))
    found.extend(_uplink_faults(problem, plan, types))
    return found


def _room_faults(problem: Problem, plan: Placement, types: dict[str, SwitchType]) -> list[str]:
    found = []
    for cupboard in problem.cupboards:
        here = [one for one in plan.switches if one.cupboard == cupboard.key]
        if any(one.new for one in here) and cupboard.room_count is not None and len(here) > cupboard.room_count:
            found.append(f"{cupboard.key} is too full")
        if any(one.new and types[one.type].needs_mains and not cupboard.mains for one in here):
            found.append(f"{cupboard.key} has no mains")
    for kind in problem.types:
        count = sum(one.new and one.type == kind.key for one in plan.switches)
        if kind.at_most_count is not None and count > kind.at_most_count:
            found.append(f"too many of {kind.key}")
    return found


def _run_faults(problem: Problem, plan: Placement) -> list[str]:
    found = []
    cupboards = {one.key: one for one in problem.cupboards}
    demands = {one.key: one for one in problem.demands}
    switches = {one.key: one for one in plan.switches}
    before = {kept.demand: (one.key, kept.port) for one in problem.existing for kept in one.runs}
    measured = {kept.demand: kept.length_m for one in problem.existing for kept in one.runs}
    for run in plan.runs:
        length = way_m(problem, demands[run.demand].spot, cupboards[switches[run.switch].cupboard].spot)
        if not run.new and measured[run.demand] is not None:
            length = Fraction(str(measured[run.demand]))
        if length is None or abs(float(length) - run.length_m) > 0.005:
            found.append(f"{run.demand} has the wrong length")
        if run.length_m > problem.routes.link_max_m:
            found.append(f"{run.demand} is too far")
        crossed = demands[run.demand].spot.core != cupboards[switches[run.switch].cupboard].spot.core
        if run.new and crossed and not problem.routes.units_cross:
            found.append(f"{run.demand} is fed from another core")
        if run.new is (before.get(run.demand) == (run.switch, run.port)):
            found.append(f"{run.demand} is said to be new or old and is not")
        if run.demand in before and run.new and run.demand not in plan.moved:
            found.append(f"{run.demand} moved and nobody says why")
    return found


def access_for_links(problem: Problem, plan: Placement, types: dict[str, SwitchType]) -> Counter[str]:
    """Access ports that links down take, because the uplink ports do not suffice."""
    children = Counter(link.to for link in plan.uplinks if link.to is not None)
    down: Counter[str] = Counter()
    for one in plan.switches:
        own = 0 if one.key == plan.root_switch else 1
        down[one.key] = max(0, children[one.key] - max(0, types[one.type].uplinks_count - own))
    return down


def _load_faults(
    problem: Problem, plan: Placement, key: str, kind: SwitchType, down_count: int, *, is_new: bool
) -> list[str]:
    demands = {one.key: one for one in problem.demands}
    runs = [run for run in plan.runs if run.switch == key]
    fresh = [run for run in runs if run.new]
    power = sum((Fraction(str(demands[run.demand].power_w)) for run in runs), Fraction(0))
    found = []
    if len({run.port for run in runs}) < len(runs) or any(not 1 <= run.port <= kind.ports_count for run in runs):
        found.append(f"{key} has a port twice or none")
    if len(runs) + down_count > kind.ports_count or power > Fraction(str(kind.budget_w)):
        found.append(f"{key} is loaded beyond what it has")
    if fresh and not plan.moved and len(runs) + down_count > usable(kind.ports_count, problem.spare_ports_ratio):
        found.append(f"{key} keeps too few ports free")
    if fresh and not plan.moved and power > usable(kind.budget_w, problem.spare_power_ratio):
        found.append(f"{key} keeps too little power free")
    if any(demands[run.demand].power_w > kind.port_w for run in runs):
        found.append(f"{key} has a port that gives too little")
    if is_new and [run.port for run in runs] != list(range(1, len(runs) + 1)):
        found.append(f"{key} leaves gaps between its ports")
    return found


def _uplink_faults(problem: Problem, plan: Placement, types: dict[str, SwitchType]) -> list[str]:
    found = []
    cupboards = {one.key: one for one in problem.cupboards}
    switches = {one.key: one for one in plan.switches}
    up = {link.switch: link for link in plan.uplinks}
    if set(up) != set(switches) - {plan.root_switch} or len(up) != len(plan.uplinks):
        found.append("not every switch but the root has one way up")
    for link in plan.uplinks:
        here = cupboards[switches[link.switch].cupboard]
        above = cupboards[switches[link.to].cupboard if link.to else problem.root.cupboard]
        length = Fraction(0) if here == above else way_m(problem, here.spot, above.spot)
        if length is None or abs(float(length) - link.length_m) > 0.005:
            found.append(f"the uplink of {link.switch} has the wrong length")
        if not link.new:
            continue
        if not link.optical and link.length_m > problem.routes.link_max_m:
            found.append(f"the uplink of {link.switch} is too long for copper")
        if link.optical and not types[switches[link.switch].type].optical:
            found.append(f"{link.switch} takes no fibre")
        found.extend(_hub_faults(problem, plan, link))
        if link.to is not None and link.optical and not types[switches[link.to].type].optical:
            found.append(f"{link.to} takes no fibre")
    found.extend(_root_faults(problem, plan))
    return found


def _hub_faults(problem: Problem, plan: Placement, link: Uplink) -> list[str]:
    if link.to is None or link.to == plan.root_switch:
        return []
    found = []
    place = next(one.cupboard for one in plan.switches if one.key == link.to)
    above = next(one for one in problem.cupboards if one.key == place)
    if not above.distributes or above.key == problem.root.cupboard:
        found.append(f"{link.to} may not feed others")
    if next(one.to for one in plan.uplinks if one.switch == link.to) != plan.root_switch:
        found.append(f"{link.to} feeds others and is not fed by the root")
    return found


def _root_faults(problem: Problem, plan: Placement) -> list[str]:
    found = []
    switches = {one.key: one for one in plan.switches}
    new_children = Counter(link.to for link in plan.uplinks if link.new)
    if problem.root.placed:
        if plan.root_switch is None or switches[plan.root_switch].cupboard != problem.root.cupboard:
            found.append("the root is not in its cupboard")
    elif problem.root.ports_count is not None and new_children[None] > problem.root.ports_count:
        found.append("the root has too few ports")
    return found


def cost_of(problem: Problem, plan: Placement) -> Decimal:
    """The cost of what is new, from its prices."""
    prices = problem.prices
    assert prices is not None
    types = {one.key: one for one in problem.types}
    occupied = {one.cupboard for one in problem.existing}
    opened = {one.cupboard for one in plan.switches if one.new} - occupied
    total = sum((types[one.type].cost for one in plan.switches if one.new), Decimal(0))
    total += sum((one.opening_cost for one in problem.cupboards if one.key in opened), Decimal(0))
    total += sum((Decimal(str(run.length_m)) * prices.cable_per_m for run in plan.runs if run.new), Decimal(0))
    for link in plan.uplinks:
        if link.new and link.length_m:
            per_m = prices.optical_uplink_per_m if link.optical else prices.copper_uplink_per_m
            total += Decimal(str(link.length_m)) * per_m
            total += prices.optical_uplink_each if link.optical else 0
    return total
