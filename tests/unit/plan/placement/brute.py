"""The best plan for a few units by trying everything: every set of switches, tree of uplinks and assignment."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations_with_replacement, product

from doorwright.plan.placement import Problem
from tests.unit.plan.placement.soundness import usable, way_m

Worth = tuple[Fraction, ...]


@dataclass(frozen=True)
class _Switch:
    kind: str
    cupboard: str
    name: str | None  # of an existing one


def best_worth(problem: Problem) -> Worth | None:
    """Return the cost, or without prices the number of new switches and the metres of cable; None for no plan.

    For questions without runs that exist; existing switches hang on the root.
    """
    best: Worth | None = None
    for new in _sets(problem):
        for links in _trees(problem, new):
            worth = _fed(problem, new, links, best)
            if worth is not None and (best is None or worth < best):
                best = worth
    return best


def _sets(problem: Problem) -> Iterator[tuple[_Switch, ...]]:
    types = {one.key: one for one in problem.types}
    choices = []
    for cupboard in problem.cupboards:
        there = sum(one.cupboard == cupboard.key for one in problem.existing)
        assert cupboard.room_count is not None
        kinds = [key for key, kind in types.items() if cupboard.mains or not kind.needs_mains]
        choices.append(
            [
                tuple(_Switch(kind, cupboard.key, None) for kind in chosen)
                for count in range(max(0, cupboard.room_count - there) + 1)
                for chosen in combinations_with_replacement(kinds, count)
            ]
        )
    for chosen in product(*choices):
        new = tuple(one for here in chosen for one in here)
        counts = {key: sum(one.kind == key for one in new) for key in types}
        if all(kind.at_most_count is None or counts[key] <= kind.at_most_count for key, kind in types.items()):
            yield new


@dataclass(frozen=True)
class _Links:
    worth: Fraction  # cost, or metres without prices
    down: tuple[int, ...]  # access ports of each new switch that links take, then of each existing one


def _trees(problem: Problem, new: tuple[_Switch, ...]) -> Iterator[_Links]:
    """Yield every way to lead all new switches to the root, with what it costs."""
    root = problem.root
    main = root.cupboard
    if root.placed and root.switch is None:
        for number, one in enumerate(new):
            if one.cupboard == main:
                yield from _hung(problem, new, number)
    else:
        yield from _hung(problem, new, None)


def _hung(problem: Problem, new: tuple[_Switch, ...], root_number: int | None) -> Iterator[_Links]:
    types = {one.key: one for one in problem.types}
    spots = {one.key: one for one in problem.cupboards}
    main = problem.root.cupboard
    there = [_Switch(one.type, one.cupboard, one.key) for one in problem.existing]
    everybody = [*new, *there]
    options: list[list[tuple[int | None, bool, Fraction]]] = []
    for number, one in enumerate(new):
        if number == root_number:
            options.append([(None, False, Fraction(0))])
            continue
        parents: list[tuple[int | None, str]] = [(None, main)]
        parents += [
            (other, switch.cupboard)
            for other, switch in enumerate(everybody)
            if other not in (number, root_number) and spots[switch.cupboard].distributes and switch.cupboard != main
        ]
        found = []
        for parent, place in parents:
            length = (
                Fraction(0) if place == one.cupboard else way_m(problem, spots[one.cupboard].spot, spots[place].spot)
            )
            if length is None:
                continue
            if length <= Fraction(str(problem.routes.link_max_m)):
                found.append((parent, False, _link_worth(problem, length, optical=False)))
            if place != one.cupboard and types[one.kind].optical:
                found.append((parent, True, _link_worth(problem, length, optical=True)))
        options.append(found)
    for chosen in product(*options):
        down = _down(problem, new, everybody, root_number, chosen)
        if down is not None:
            yield _Links(sum((worth for _, _, worth in chosen), Fraction(0)), down)


def _link_worth(problem: Problem, length: Fraction, *, optical: bool) -> Fraction:
    prices = problem.prices
    if prices is None or not length:
        return length
    if optical:
        return length * Fraction(prices.optical_uplink_per_m) + Fraction(prices.optical_uplink_each)
    return length * Fraction(prices.copper_uplink_per_m)


def _down(
    problem: Problem,
    new: tuple[_Switch, ...],
    everybody: list[_Switch],
    root_number: int | None,
    chosen: tuple[tuple[int | None, bool, Fraction], ...],
) -> tuple[int, ...] | None:
    """Return the access ports that the links take, or None where the links break a rule."""
    types = {one.key: one for one in problem.types}
    root = problem.root
    hubs = {parent for parent, _, _ in chosen if parent is not None}
    places = [everybody[hub].cupboard for hub in hubs if hub < len(new)]
    if any(hub < len(new) and chosen[hub][0] is not None for hub in hubs) or len(set(places)) < len(places):
        return None  # what feeds others is fed by the root itself, and is the only new one to do so in its cupboard
    down = [0] * len(everybody)
    root_links = [
        optical for number, (parent, optical, _) in enumerate(chosen) if parent is None and number != root_number
    ]
    if root.switch is not None:
        at = next(number for number, one in enumerate(everybody) if one.name == root.switch)
        others = len(problem.existing) - 1
    else:
        at, others = root_number if root_number is not None else -1, len(problem.existing)
    if root.placed:
        kind = types[everybody[at].kind]
        assert root.switch or not others  # not part of these tests
        free = kind.uplinks_count - others if root.switch else kind.uplinks_count
        if sum(root_links) > (max(0, free) if kind.optical else 0):
            return None
        down[at] += max(0, len(root_links) - free)
    elif root.ports_count is not None and len(root_links) > root.ports_count:
        return None
    for hub in hubs:
        kind = types[everybody[hub].kind]
        links = [optical for parent, optical, _ in chosen if parent == hub]
        free = kind.uplinks_count - 1
        beyond = hub >= len(new) and len(links) > free  # a switch that is there feeds others by its uplinks alone
        if sum(links) > (free if kind.optical else 0) or beyond:
            return None
        down[hub] += max(0, len(links) - free)
    return tuple(down)


def _fed(problem: Problem, new: tuple[_Switch, ...], links: _Links, best: Worth | None) -> Worth | None:
    types = {one.key: one for one in problem.types}
    spots = {one.key: one.spot for one in problem.cupboards}
    everybody = [*new, *(_Switch(one.type, one.cupboard, one.key) for one in problem.existing)]
    ports = [
        int(usable(types[one.kind].ports_count, problem.spare_ports_ratio)) - used
        for one, used in zip(everybody, links.down, strict=True)
    ]
    power = [usable(types[one.kind].budget_w, problem.spare_power_ratio) for one in everybody]
    if any(count < 0 for count in ports):
        return None
    fixed = links.worth
    prices = problem.prices
    if prices is not None:
        occupied = {one.cupboard for one in problem.existing}
        fixed += sum((Fraction(types[one.kind].cost) for one in new), Fraction(0))
        opened = {one.cupboard for one in new} - occupied
        fixed += sum((Fraction(one.opening_cost) for one in problem.cupboards if one.key in opened), Fraction(0))
    per_m = Fraction(prices.cable_per_m) if prices else Fraction(1)
    limit = Fraction(str(problem.routes.link_max_m))
    costs = []
    for demand in problem.demands:
        row: list[Fraction | None] = []
        for one in everybody:
            length = way_m(problem, demand.spot, spots[one.cupboard])
            crossed = demand.spot.core != spots[one.cupboard].core
            able = types[one.kind].port_w >= demand.power_w and (problem.routes.units_cross or not crossed)
            row.append(length * per_m if length is not None and length <= limit and able else None)
        costs.append(row)
    head: Worth = () if prices else (Fraction(len(new)),)
    cheapest = best[-1] if best is not None and best[:-1] == head else None
    if best is not None and best[:-1] < head:
        return None
    found: list[Fraction] = []

    def feed(number: int, spent: Fraction) -> None:
        if any(spent >= known for known in (*found[-1:], *([cheapest] if cheapest is not None else []))):
            return
        if number == len(costs):
            found.append(spent)
            return
        need = Fraction(str(problem.demands[number].power_w))
        for at, cost in enumerate(costs[number]):
            if cost is not None and ports[at] and power[at] >= need:
                ports[at] -= 1
                power[at] -= need
                feed(number + 1, spent + cost)
                ports[at] += 1
                power[at] += need

    feed(0, fixed)
    return (*head, found[-1]) if found else None
