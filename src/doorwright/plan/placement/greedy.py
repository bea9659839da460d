"""A plan without a solver: each riser by itself, cut into stretches of neighbouring units, a cupboard for each stretch.

The units of a core stand in the order of their levels. The best way to cut them into stretches and to give these to the
core's cupboards, from the bottom up, is found by dynamic programming. The switches of a cupboard are some of one type
and at most one of another. Along one riser the best plan is of that form but for such mixtures and for units of
different power. What a core cannot take goes, unit by unit, wherever it costs least. All switches hang on the root.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Final, TypeAlias

from doorwright.plan.placement.figures import Figures, money
from doorwright.plan.placement.packing import Room, pack
from doorwright.plan.placement.program import Program
from doorwright.plan.placement.rows import total

Needs: TypeAlias = tuple[int, ...]
"""How many units of each power, in the order of ``_Shop.levels_mw``."""

_SWITCH: Final = 10**12
"""What a switch weighs in centimetres of cable where there are no prices."""


@dataclass(frozen=True, slots=True)
class _Stock:
    """New switches for a cupboard, by type, and what they cost."""

    kinds: tuple[str, ...]
    cost: int


@dataclass(slots=True)
class _Laid:
    """Which units each cupboard feeds: the indices of their groups."""

    units: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))


class _Shop:
    """The cheapest switches for a cupboard that hold given units."""

    def __init__(self, program: Program, without: frozenset[str]) -> None:
        self.figures = program.figures
        self._kinds = {
            key: [kind for kind in program.types_in(key) if kind not in without] for key in self.figures.cupboards
        }
        self.levels_mw = sorted({group.power_mw for group in self.figures.groups}, reverse=True)
        self._there: dict[str, tuple[Room, ...]] = {
            key: tuple(self._rooms_there(key)) for key in self.figures.cupboards
        }
        self._new = {kind: self._new_room(kind) for kind in self.figures.types}
        self._costs = {(key, kind): self._cost(key, kind) for key, kinds in self._kinds.items() for kind in kinds}
        self._fits = cache(self._fits_in)
        self.stock = cache(self._stock)

    def _rooms_there(self, cupboard: str) -> Iterator[Room]:
        figures = self.figures
        for key, switch in figures.existing.items():
            if switch.cupboard == cupboard:
                yield Room(figures.free_count(key), figures.free(key).power_mw, figures.port_mw[switch.type])

    def _new_room(self, kind: str) -> Room:
        figures = self.figures
        return Room(figures.usable_ports[kind], figures.usable_mw[kind], figures.port_mw[kind])

    def _cost(self, cupboard: str, kind: str) -> int | None:
        """Return what a switch costs with its way up, None where it has none."""
        figures = self.figures
        ways = figures.ways(cupboard, figures.problem.root.cupboard)
        links = [way.cost for way in ways if not way.optical or figures.types[kind].optical]
        if not links:
            return None
        return min(links) + (money(figures.types[kind].cost) if figures.priced else _SWITCH)

    def needs(self, groups: list[int]) -> Needs:
        """Return the units of groups by power."""
        counts = Counter(self.figures.groups[index].power_mw for index in groups)
        return tuple(counts[level] for level in self.levels_mw)

    def _stock(self, cupboard: str, needs: Needs) -> _Stock | None:
        """Return the cheapest new switches that hold the units beside the switches that are there."""
        if not any(needs):
            return _Stock((), 0)
        there = self._there[cupboard]
        if self._fits(there, (), needs):
            return _Stock((), 0)
        opening = 0
        if self.figures.priced and not there:
            opening = money(self.figures.cupboards[cupboard].opening_cost)
        best: _Stock | None = None
        for kinds in self._choices(cupboard, needs):
            costs = [self._costs[cupboard, kind] for kind in kinds]
            cost = sum(one for one in costs if one is not None) + opening
            if None not in costs and (best is None or cost < best.cost):
                best = _Stock(kinds, cost)
        return best

    def _choices(self, cupboard: str, needs: Needs) -> Iterator[tuple[str, ...]]:
        """Yield so many of one type, and one fewer with one of another type in its stead."""
        room = self.figures.new_room(cupboard)
        there = self._there[cupboard]
        for kind in self._kinds[cupboard]:
            most = self._new[kind].ports_count
            if not most:
                continue
            free_count = sum(one.ports_count for one in there)
            count = max(1, -(-(sum(needs) - free_count) // most))
            enough = min(room, sum(needs))
            while count <= enough and not self._fits(there, (kind,) * count, needs):
                count += 1
            if count <= enough:
                yield (kind,) * count
            for other in self._kinds[cupboard]:
                mixed = (*(kind,) * (count - 1), other)
                if other != kind and 1 < count <= room and self._fits(there, mixed, needs):
                    yield mixed

    def _fits_in(self, there: tuple[Room, ...], kinds: tuple[str, ...], needs: Needs) -> bool:
        rooms = (*there, *(self._new[kind] for kind in kinds))
        units = [level for level, count in zip(self.levels_mw, needs, strict=True) for _ in range(count)]
        return pack(rooms, units) is not None

    def most(self, cupboard: str) -> int:
        """Return how many units a cupboard could feed."""
        new = max((self._new[kind].ports_count for kind in self._kinds[cupboard]), default=0)
        return sum(one.ports_count for one in self._there[cupboard]) + self.figures.new_room(cupboard) * new

    def share(self, cupboard: str, kinds: tuple[str, ...], groups: list[int]) -> list[tuple[int, str | None]]:
        """Return for each unit the existing switch that takes it, or None for the new ones."""
        there = [key for key, switch in self.figures.existing.items() if switch.cupboard == cupboard]
        rooms = (*self._there[cupboard], *(self._new[kind] for kind in kinds))
        order = sorted(groups, key=lambda index: -self.figures.groups[index].power_mw)
        on = pack(rooms, [self.figures.groups[index].power_mw for index in order])
        if on is None:
            raise ValueError(f"the units of {cupboard} were found to fit")
        return [(index, there[at] if at < len(there) else None) for index, at in zip(order, on, strict=True)]


def greedy(program: Program) -> tuple[int, ...] | None:
    """Return values for the variables of the program, or None where this way leads to no plan."""
    if program.figures.may_move:
        return None
    best: tuple[int, ...] | None = None
    scarce = [key for key, kind in program.figures.types.items() if kind.at_most_count is not None]
    for without in (frozenset[str](), frozenset(scarce)):
        shop = _Shop(program, without)
        laid = _lay(shop)
        if laid is not None:
            found = _values(program, shop, laid)
            if found is not None and (best is None or _worth(program, found) < _worth(program, best)):
                best = found
        if not scarce:
            break
    return best


def _worth(program: Program, values: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(total(goal.terms, values) for goal in program.goals())


def _lay(shop: _Shop) -> _Laid | None:
    figures = shop.figures
    heights = figures.problem.routes.heights_m
    by_core: dict[str, list[int]] = defaultdict(list)
    order = sorted(range(len(figures.groups)), key=lambda at: (heights[figures.groups[at].level], at))
    for index in order:
        by_core[figures.groups[index].core].extend([index] * figures.groups[index].size)
    laid = _Laid()
    left_over: list[int] = []
    for core, units in by_core.items():
        stretches = _cut(shop, core, units)
        if stretches is None:
            left_over.extend(units)
            continue
        for cupboard, first, last in stretches:
            laid.units[cupboard].extend(units[first:last])
    for index in left_over:
        if not _squeeze_in(shop, laid, index):
            return None
    return laid


def _cut(shop: _Shop, core: str, units: list[int]) -> list[tuple[str, int, int]] | None:
    """Return the stretches of a core's units: cupboard, first, one after the last; None where they do not fit."""
    figures = shop.figures
    heights = figures.problem.routes.heights_m
    cupboards = sorted(
        (key for key, one in figures.cupboards.items() if one.spot.core == core and shop.most(key)),
        key=lambda key: heights[figures.cupboards[key].spot.level],
    )
    count = len(units)
    longest = max((shop.most(key) for key in cupboards), default=0)
    needs = [
        [shop.needs(units[first:last]) for last in range(first, min(count, first + longest) + 1)]
        for first in range(count)
    ]
    best: list[int | None] = [0, *[None] * count]
    came: list[list[tuple[str, int] | None]] = [[None] * (count + 1)]
    for cupboard in cupboards:
        runs = _runs(figures, cupboard, units)
        better, way = list(best), [None] * (count + 1)
        chosen: list[tuple[str, int] | None] = list(way)
        for first, cost in enumerate(best[:-1]):
            if cost is None:
                continue
            spent = cost
            for length, wanted in enumerate(needs[first][1:], start=1):
                run = runs[first + length - 1]
                if run is None or length > shop.most(cupboard):
                    break
                spent += run
                stock = shop.stock(cupboard, wanted)
                if stock is None:
                    continue
                known = better[first + length]
                if known is None or spent + stock.cost < known:
                    better[first + length] = spent + stock.cost
                    chosen[first + length] = (cupboard, first)
        best = better
        came.append(chosen)
    if best[count] is None:
        return None
    stretches = []
    at = count
    for chosen in reversed(came):
        step = chosen[at]
        if step is not None:
            stretches.append((step[0], step[1], at))
            at = step[1]
    return stretches


def _runs(figures: Figures, cupboard: str, units: list[int]) -> list[int | None]:
    costs: Mapping[int, int | None] = {
        index: figures.run_cost(figures.groups[index], cupboard) if cupboard in figures.groups[index].reach else None
        for index in set(units)
    }
    return [costs[index] for index in units]


def _squeeze_in(shop: _Shop, laid: _Laid, index: int) -> bool:
    """Put one unit where it costs least beside those already laid."""
    figures = shop.figures
    best: tuple[int, str] | None = None
    for cupboard in figures.groups[index].reach:
        before = shop.stock(cupboard, shop.needs(laid.units[cupboard]))
        after = shop.stock(cupboard, shop.needs([*laid.units[cupboard], index]))
        if before is None or after is None:
            continue
        cost = after.cost - before.cost + figures.run_cost(figures.groups[index], cupboard)
        if best is None or (cost, cupboard) < best:
            best = (cost, cupboard)
    if best is None:
        return False
    laid.units[best[1]].append(index)
    return True


def _values(program: Program, shop: _Shop, laid: _Laid) -> tuple[int, ...] | None:
    figures = program.figures
    values = [0] * len(program.rows.bounds)
    for cupboard, units in laid.units.items():
        stock = shop.stock(cupboard, shop.needs(units))
        if stock is None:
            raise ValueError(f"the units of {cupboard} were found to fit")
        for kind in stock.kinds:
            values[program.new[cupboard, kind]] += 1
        for index, existing in shop.share(cupboard, stock.kinds, units):
            at = program.flow[index, cupboard] if existing is None else program.kept[index, existing]
            values[at] += 1
    root = figures.problem.root
    more: list[tuple[str, ...]] = [()]
    if root.placed and root.switch is None:
        more += [(kind,) for kind in program.types_in(root.cupboard)]
    found = [one for kinds in more if (one := _linked(program, values, kinds)) is not None]
    return min(found, key=lambda one: _worth(program, one), default=None)


def _linked(program: Program, values: list[int], more: tuple[str, ...]) -> tuple[int, ...] | None:
    """Add switches at the root and every way up; None where the ports at the root do not suffice."""
    figures = program.figures
    root = figures.problem.root
    main = root.cupboard
    values = list(values)
    for kind in more:
        values[program.new[main, kind]] += 1
    own = [kind for kind in program.types_in(main) if values[program.new[main, kind]]]
    if root.placed and root.switch is None:
        if not own:
            return None
        top = max(own, key=lambda kind: figures.types[kind].uplinks_count)
        values[program.hub[main, top]] = 1
    links_count = 0
    for cupboard, used in program.used.items():
        kinds = [kind for kind in program.types_in(cupboard) for _ in range(values[program.new[cupboard, kind]])]
        values[used] = 1 if kinds else 0
        if cupboard == main and root.placed and root.switch is None:
            kinds.remove(top)
        for kind in kinds:
            ways = [way for way in figures.ways(cupboard, main) if not way.optical or figures.types[kind].optical]
            if not ways:
                return None
            way = min(ways, key=lambda one: one.cost)
            values[program.link[cupboard, main, way.optical]] += 1
            links_count += 1
    if main in program.down:
        uplinks_count = figures.free(root.switch).uplinks_count if root.switch else figures.types[top].uplinks_count
        values[program.down[main]] = max(0, links_count - uplinks_count)
    return tuple(values) if program.rows.holds(values) else None
