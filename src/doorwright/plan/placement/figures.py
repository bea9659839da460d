"""The problem in whole numbers: centimetres, milliwatts, usable ports, groups of like demands, and what things cost.

Demands on one level of one core that draw alike and reach the same cupboards are one group: whichever cupboard feeds
them, their horizontal runs add up to the same length, so a plan needs to know only how many of a group go where.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cached_property
from math import floor
from typing import Final

from doorwright.model.label import natural_key
from doorwright.plan.placement.problem import Cupboard, Demand, Existing, Kept, Problem, SwitchType
from doorwright.plan.placement.routes import CM, Measure, centimetres

MW: Final = 1000
CENTS: Final = 100
MONEY_UNIT: Final = Decimal(CENTS * CM)
"""Costs are counted in cents times centimetres, so that a price per metre needs no rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Like demands. ``now`` is the switch that they are on and may leave; ``members`` stand in natural order."""

    core: str
    level: str
    power_mw: int
    reach: tuple[str, ...]
    members: tuple[str, ...]
    now: str | None = None

    @property
    def size(self) -> int:
        """How many they are."""
        return len(self.members)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """An uplink from one cupboard to another: its length and cost."""

    optical: bool
    length_cm: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Free:
    """What an existing switch has left for new runs, and for demands of groups that are on it now."""

    ports: tuple[int, ...]
    power_mw: int
    uplinks_count: int


def usable(count: int, spare_ratio: float) -> int:
    """Return how many of so many may be used while the spare part stays free."""
    return floor(count * (1 - Fraction(str(spare_ratio))))


def milliwatts(power_w: float) -> int:
    """Return watts as whole milliwatts."""
    return round(power_w * MW)


def money(amount: Decimal) -> int:
    """Return an amount in cents times centimetres."""
    return _cents(amount) * CM


def _cents(amount: Decimal) -> int:
    return int((amount * CENTS).to_integral_value(ROUND_HALF_UP))


class Figures:
    """Everything that the planner counts with. ``stays`` are the runs that are not asked to move, by switch."""

    def __init__(self, problem: Problem, stays: Mapping[str, tuple[Kept, ...]], *, may_move: bool) -> None:
        self.problem = problem
        self.measure = Measure(problem.routes)
        self.types: dict[str, SwitchType] = {one.key: one for one in problem.types}
        self.cupboards: dict[str, Cupboard] = {one.key: one for one in problem.cupboards}
        self.existing: dict[str, Existing] = {one.key: one for one in problem.existing}
        self.demands: dict[str, Demand] = {one.key: one for one in problem.demands}
        self.may_move = may_move
        self.stays = {} if may_move else dict(stays)
        self._now = {kept.demand: key for key, runs in stays.items() for kept in runs} if may_move else {}
        self.wanting = tuple(
            one
            for one in sorted(problem.demands, key=lambda one: natural_key(one.key))
            if one.key not in {kept.demand for runs in self.stays.values() for kept in runs}
        )
        self.usable_ports = {one.key: usable(one.ports_count, problem.spare_ports_ratio) for one in problem.types}
        self.usable_mw = {one.key: usable(milliwatts(one.budget_w), problem.spare_power_ratio) for one in problem.types}
        self.port_mw = {one.key: milliwatts(one.port_w) for one in problem.types}

    @cached_property
    def priced(self) -> bool:
        """Whether costs count."""
        return self.problem.prices is not None

    @cached_property
    def per_cm(self) -> int:
        """What a centimetre of cable to a unit costs: in money, or simply 1."""
        return _cents(self.problem.prices.cable_per_m) if self.problem.prices else 1

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Every demand that wants a port, in groups; the order is that of the demands."""
        found: dict[tuple[str, str, int, tuple[str, ...], str | None, int], list[str]] = defaultdict(list)
        for one in self.wanting:
            now = self._now.get(one.key)
            run_cm = centimetres(one.spot.run_m) if now else 0
            found[one.spot.core, one.spot.level, milliwatts(one.power_w), self.reach(one), now, run_cm].append(one.key)
        return tuple(
            Group(core=core, level=level, power_mw=power_mw, reach=reach, members=tuple(keys), now=now)
            for (core, level, power_mw, reach, now, _), keys in found.items()
        )

    def reach(self, demand: Demand) -> tuple[str, ...]:
        """Return the cupboards from which a cable to the demand is short enough."""
        within = []
        for cupboard in self.problem.cupboards:
            if cupboard.spot.core != demand.spot.core and not self.problem.routes.units_cross:
                continue
            length_cm = self.measure.run_cm(demand.spot, cupboard.spot)
            if length_cm is not None and length_cm <= self.measure.limit_cm:
                within.append(cupboard.key)
        return tuple(within)

    @cached_property
    def own_runs_cost(self) -> int:
        """The part of the cost of runs that is the same in every plan: from the riser to the unit."""
        return sum(self.per_cm * centimetres(one.spot.run_m) for one in self.wanting if one.key not in self._now)

    def run_cost(self, group: Group, cupboard: str) -> int:
        """Return what a run costs from a cupboard to any member of a group, but for what is the same in every plan."""
        spot = self.cupboards[cupboard].spot
        demand = self.demands[group.members[0]]
        between_cm = self.measure.risers_cm(demand.spot, spot)
        if between_cm is None:
            raise ValueError(f"no way from {cupboard} to {demand.key}")
        own_cm = centimetres(demand.spot.run_m) if group.now else 0
        return self.per_cm * (between_cm + own_cm + centimetres(spot.run_m) + self.measure.slack_cm)

    def run_m(self, demand: str, cupboard: str) -> float:
        """Return the length of a run in metres."""
        length_cm = self.measure.run_cm(self.demands[demand].spot, self.cupboards[cupboard].spot)
        return (length_cm or 0) / CM

    def ways(self, cupboard: str, to: str) -> tuple[Way, ...]:
        """Return how a switch may be linked to one in another cupboard: by copper, by fibre, both or neither."""
        if cupboard == to:
            return (Way(optical=False, length_cm=0, cost=0),)
        length_cm = self.measure.run_cm(self.cupboards[cupboard].spot, self.cupboards[to].spot)
        if length_cm is None:
            return ()
        prices = self.problem.prices
        copper = _cents(prices.copper_uplink_per_m) * length_cm if prices else length_cm
        optical = (
            _cents(prices.optical_uplink_per_m) * length_cm + money(prices.optical_uplink_each) if prices else length_cm
        )
        found = []
        if length_cm <= self.measure.limit_cm:
            found.append(Way(optical=False, length_cm=length_cm, cost=copper))
        # without prices both are as long: fibre is then for what copper does not reach
        if any(one.optical for one in self.problem.types) and (prices or not found):
            found.append(Way(optical=True, length_cm=length_cm, cost=optical))
        return tuple(found)

    def fits(self, type_key: str, cupboard: str) -> bool:
        """Say whether a switch of a type may stand in a cupboard."""
        return self.cupboards[cupboard].mains or not self.types[type_key].needs_mains

    def new_room(self, cupboard: str) -> int:
        """Return how many new switches a cupboard has room for."""
        room_count = self.cupboards[cupboard].room_count
        if room_count is None:
            return len(self.wanting) + 1
        return max(0, room_count - sum(one.cupboard == cupboard for one in self.problem.existing))

    def free(self, key: str) -> Free:
        """Return what an existing switch has left within its spare; runs that are there may have eaten into it."""
        switch = self.existing[key]
        kind = self.types[switch.type]
        children_count = sum(one.fed_by == key for one in self.problem.existing)
        if self.problem.root.switch == key:
            children_count += sum(one.fed_by is None and one.key != key for one in self.problem.existing)
        own_count = 0 if self.problem.root.switch == key else 1
        uplinks_left = kind.uplinks_count - own_count - children_count
        staying = self.stays.get(key, ())
        leaving = [demand for demand, on in self._now.items() if on == key]
        taken = {kept.port for kept in staying}
        held_count = len(staying) + max(0, -uplinks_left)
        limit_count = max(self.usable_ports[kind.key], len(leaving) if self.may_move else 0)
        ports = [port for port in range(1, kind.ports_count + 1) if port not in taken]
        ports = ports[: len(ports) - max(0, -uplinks_left)]
        spent_mw = sum(milliwatts(self.demands[kept.demand].power_w) for kept in staying)
        leaving_mw = sum(milliwatts(self.demands[demand].power_w) for demand in leaving)
        return Free(
            ports=tuple(ports[: max(0, limit_count - held_count)]) if not self.may_move else tuple(ports),
            power_mw=max(0, max(self.usable_mw[kind.key], leaving_mw) - spent_mw),
            uplinks_count=max(0, uplinks_left),
        )

    def free_count(self, key: str) -> int:
        """Return how many demands more an existing switch takes, those that may leave it included."""
        if not self.may_move:
            return len(self.free(key).ports)
        leaving_count = sum(on == key for on in self._now.values())
        return min(len(self.free(key).ports), max(self.usable_ports[self.existing[key].type], leaving_count))
