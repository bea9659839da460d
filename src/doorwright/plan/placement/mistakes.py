"""What contradicts itself in the question, all at once."""

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain

from doorwright.kernel.errors import Mistake
from doorwright.plan.placement.problem import Problem
from doorwright.plan.placement.routes import Spot


def mistakes(problem: Problem) -> tuple[Mistake, ...]:
    """Return every mistake in a problem, in the order of its parts."""
    return tuple(
        chain(
            _twice(problem), _spots(problem), _crossings(problem), _amounts(problem), _existing(problem), _root(problem)
        )
    )


def _mistake(where: str, read: object, problem: str, remedy: str) -> Mistake:
    return Mistake(where=where, read=str(read), problem=problem, remedy=remedy)


def _twice(problem: Problem) -> Iterator[Mistake]:
    kinds: tuple[tuple[str, Iterable[str]], ...] = (
        ("cupboard", (one.key for one in problem.cupboards)),
        ("unit", (one.key for one in problem.demands)),
        ("switch type", (one.key for one in problem.types)),
        ("switch", (one.key for one in problem.existing)),
    )
    for what, keys in kinds:
        for key, count in Counter(keys).items():
            if count > 1:
                yield _mistake(f"{what} {key}", count, f"this {what} is given more than once", "Give each its own key.")


def _spots(problem: Problem) -> Iterator[Mistake]:
    placed: list[tuple[str, Spot]] = [
        *((f"cupboard {one.key}", one.spot) for one in problem.cupboards),
        *((f"unit {one.key}", one.spot) for one in problem.demands),
    ]
    for where, spot in placed:
        if spot.level not in problem.routes.heights_m:
            yield _mistake(where, spot.level, "the height of its level is not known", "Give the height of every level.")
        if spot.core not in problem.routes.risers_m:
            yield _mistake(where, spot.core, "the riser of its core is not known", "Give the place of every riser.")
        if spot.run_m < 0:
            yield _mistake(where, spot.run_m, "a horizontal run is less than nothing", "Give its length in metres.")


def _crossings(problem: Problem) -> Iterator[Mistake]:
    for crossing in problem.routes.crossings:
        where = f"crossing on level {crossing.level}"
        if crossing.level not in problem.routes.heights_m:
            yield _mistake(where, crossing.level, "the height of the level is not known", "Give its height.")
        for core in sorted(crossing.cores - set(problem.routes.risers_m)):
            yield _mistake(where, core, "the riser of this core is not known", "Give the place of every riser.")


def _amounts(problem: Problem) -> Iterator[Mistake]:
    amounts: list[tuple[str, str, object, bool]] = [
        ("routes", "slack", problem.routes.slack_m, problem.routes.slack_m >= 0),
        ("routes", "greatest length of a link", problem.routes.link_max_m, problem.routes.link_max_m > 0),
        ("spare", "spare part of the ports", problem.spare_ports_ratio, 0 <= problem.spare_ports_ratio < 1),
        ("spare", "spare part of the power", problem.spare_power_ratio, 0 <= problem.spare_power_ratio < 1),
    ]
    for cupboard in problem.cupboards:
        where = f"cupboard {cupboard.key}"
        amounts.append((where, "room for switches", cupboard.room_count, (cupboard.room_count or 0) >= 0))
        amounts.append((where, "cost of opening it", cupboard.opening_cost, cupboard.opening_cost >= 0))
    amounts.extend((f"unit {one.key}", "power", one.power_w, one.power_w >= 0) for one in problem.demands)
    for kind in problem.types:
        where = f"switch type {kind.key}"
        amounts.append((where, "number of ports", kind.ports_count, kind.ports_count >= 0))
        amounts.append((where, "number of uplinks", kind.uplinks_count, kind.uplinks_count >= 1))
        amounts.append((where, "PoE budget", kind.budget_w, kind.budget_w >= 0))
        amounts.append((where, "power of a port", kind.port_w, kind.port_w >= 0))
        amounts.append((where, "cost", kind.cost, kind.cost >= 0))
        amounts.append((where, "greatest number", kind.at_most_count, (kind.at_most_count or 0) >= 0))
    if problem.prices is not None:
        prices = problem.prices
        for what, price in (
            ("cable by the metre", prices.cable_per_m),
            ("copper uplink by the metre", prices.copper_uplink_per_m),
            ("optical uplink by the metre", prices.optical_uplink_per_m),
            ("optical uplink each", prices.optical_uplink_each),
        ):
            amounts.append(("prices", what, price, price >= 0))
    for where, what, amount, sound in amounts:
        if not sound:
            yield _mistake(where, amount, f"the {what} cannot be so", "Give a number that can be.")


def _existing(problem: Problem) -> Iterator[Mistake]:
    kinds = {one.key: one for one in problem.types}
    cupboards = {one.key: one for one in problem.cupboards}
    switches = {one.key: one for one in problem.existing}
    demands = {one.key for one in problem.demands}
    runs = Counter(run.demand for one in problem.existing for run in one.runs)
    for demand, count in runs.items():
        if count > 1:
            yield _mistake(f"unit {demand}", count, "it has more than one run", "Keep one of its runs.")
        if demand not in demands:
            yield _mistake(f"unit {demand}", demand, "a run leads to a unit that is not given", "Leave the run out.")
    for key, one in switches.items():
        where = f"switch {key}"
        if one.type not in kinds:
            yield _mistake(where, one.type, "its type is not given", "Give the type, at most 0 of it if none is sold.")
        if one.cupboard not in cupboards:
            yield _mistake(where, one.cupboard, "its cupboard is not given", "Give every cupboard with switches.")
        if one.fed_by is not None and one.fed_by not in switches:
            yield _mistake(where, one.fed_by, "the switch above it is not given", "Give it, or leave it out.")
        if _in_a_ring(problem, key):
            yield _mistake(where, one.fed_by, "its uplinks lead in a ring", "Lead one of them to the root.")
        ports_count = kinds[one.type].ports_count if one.type in kinds else 0
        for port, count in Counter(run.port for run in one.runs).items():
            if count > 1:
                yield _mistake(where, port, "two runs are on one port", "Give each run its own port.")
            if one.type in kinds and not 1 <= port <= ports_count:
                yield _mistake(where, port, f"it has the ports 1 to {ports_count}", "Correct the port of the run.")


def _in_a_ring(problem: Problem, key: str) -> bool:
    above = {one.key: one.fed_by for one in problem.existing}
    at = above.get(key)
    for _ in above:
        if at == key:
            return True
        at = above.get(at) if at is not None else None
    return False


def _root(problem: Problem) -> Iterator[Mistake]:
    root = problem.root
    if root.cupboard not in {one.key for one in problem.cupboards}:
        yield _mistake("root", root.cupboard, "its cupboard is not given", "Give the cupboard where uplinks lead.")
    if root.ports_count is not None and root.ports_count < 0:
        yield _mistake("root", root.ports_count, "it cannot have so few ports", "Give the number of its free ports.")
    if root.switch is not None:
        place = {one.key: one.cupboard for one in problem.existing}
        if not root.placed or place.get(root.switch) != root.cupboard:
            remedy = "Name a switch of that cupboard that is there, and say that the root is one of the switches."
            yield _mistake("root", root.switch, "it is no switch in the cupboard of the root", remedy)
