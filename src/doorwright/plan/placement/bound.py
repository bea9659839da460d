"""What no plan can go below: the program with parts of switches allowed, sharpened by whole numbers of switches.

Rounding. Take any set J of cupboards and any set S of groups with D units, and any p of the usable port counts. The
new switches in J hold all units of S but those that are fed from elsewhere, X of them: sum of ports_t * n_t >= D - X.
With q = D div p and r = D mod p > 0 it follows for whole n (mixed-integer rounding) that

    sum of (r * (ports_t div p) + min(r, ports_t mod p)) * n_t + X >= (q + 1) * r.

In words, for one type of p ports: q switches hold r units too few, so either one switch more stands in J or r units go
elsewhere. The same holds for milliwatts in place of ports. J and S are all stretches of levels of each core, and
all cores together; those rows are added that the last solution breaks, until none is broken.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.rows import Row, row

ROUNDS_MOST_COUNT: Final = 12
_BROKEN: Final = 1e-3
"""By how much of one switch a row must be broken to be added."""
_ROUNDING: Final = 1e-7
"""The part of a bound that is taken off for rounding in the simplex method."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A lower bound of a goal, and the rows that gave it. None for a program without any solution."""

    value: int | None
    cuts: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class _Stretch:
    cupboards: tuple[str, ...]
    groups: tuple[int, ...]


def available() -> bool:
    """Say whether the solver is installed."""
    try:
        import_module("ortools.sat.python.cp_model")
    except ImportError:
        return False
    return True


def lower_bound(
    program: Program, goal: Goal, extra: Sequence[Row], *, enough: float | None, stop: Callable[[], bool]
) -> Bound:
    """Return the bound of a goal.

    Args:
        program: the rows and variables.
        goal: what is to be made small.
        extra: rows that hold beside those of the program.
        enough: a bound that is as good as any better one; None where every better one helps.
        stop: asked between rounds; true ends with the bound so far.
    """
    linear = _Linear(program, goal, extra)
    cuts: list[Row] = []
    values = linear.solve()
    if values is None:
        return Bound(None if linear.impossible else goal.constant, ())
    least = _whole(linear.objective()) + goal.constant
    stretches = list(_stretches(program))
    for _ in range(ROUNDS_MOST_COUNT):
        broken = list(_broken(program, stretches, values))
        if not broken or stop() or (enough is not None and least >= enough):
            break
        cuts.extend(broken)
        linear.add(broken)
        better = linear.solve()
        if better is None:  # whole switches cannot do it at all, or the simplex method is at its end
            return Bound(None if linear.impossible else max(goal.constant, least), ())
        values, least = better, _whole(linear.objective()) + goal.constant
    kept = tuple(cut for cut in cuts if _slack(cut, values) < 1)
    return Bound(max(goal.constant, least), kept)


def _whole(least: float) -> int:
    """Round up to the next whole number, but for what the simplex method may have rounded itself."""
    least -= abs(least) * _ROUNDING + _ROUNDING
    return -int(-least // 1)


def _slack(cut: Row, values: Sequence[float]) -> float:
    return sum(factor * values[at] for factor, at in cut.terms) - (cut.low or 0)


class _Linear:
    """The program for the simplex method."""

    def __init__(self, program: Program, goal: Goal, extra: Sequence[Row]) -> None:
        pywraplp: Any = import_module("ortools.linear_solver.pywraplp")
        self._solver: Any = pywraplp.Solver.CreateSolver("GLOP")
        self._best: Any = pywraplp.Solver.OPTIMAL
        self._none: Any = pywraplp.Solver.INFEASIBLE
        self.impossible = False
        self._variables: list[Any] = [self._solver.NumVar(low, high, "") for low, high in program.rows.bounds]
        self.add(program.rows.rows)
        self.add(extra)
        aim = self._solver.Objective()
        for factor, at in goal.terms:
            aim.SetCoefficient(self._variables[at], aim.GetCoefficient(self._variables[at]) + factor)
        aim.SetMinimization()

    def add(self, rows: Iterable[Row]) -> None:
        endless = self._solver.infinity()
        for one in rows:
            low = -endless if one.low is None else one.low
            high = endless if one.high is None else one.high
            constraint = self._solver.Constraint(low, high)
            for factor, at in one.terms:
                constraint.SetCoefficient(self._variables[at], factor)

    def solve(self) -> list[float] | None:
        status = self._solver.Solve()
        self.impossible = status == self._none
        if status != self._best:
            return None
        return [one.solution_value() for one in self._variables]

    def objective(self) -> float:
        value: float = self._solver.Objective().Value()
        return value


def _stretches(program: Program) -> Iterator[_Stretch]:
    """Yield all stretches of levels of each core, and everything."""
    figures = program.figures
    heights = figures.problem.routes.heights_m
    by_core: dict[str, dict[float, tuple[list[str], list[int]]]] = defaultdict(lambda: defaultdict(lambda: ([], [])))
    for key in program.used:
        spot = figures.cupboards[key].spot
        by_core[spot.core][heights[spot.level]][0].append(key)
    for index, group in enumerate(figures.groups):
        by_core[group.core][heights[group.level]][1].append(index)
    for levels in by_core.values():
        storeys = sorted(levels)
        for first in range(len(storeys)):
            cupboards: list[str] = []
            groups: list[int] = []
            for height_m in storeys[first:]:
                cupboards.extend(levels[height_m][0])
                groups.extend(levels[height_m][1])
                if cupboards and groups:
                    yield _Stretch(tuple(cupboards), tuple(groups))
    if len(by_core) > 1:
        yield _Stretch(tuple(program.used), tuple(range(len(figures.groups))))


def _broken(program: Program, stretches: Sequence[_Stretch], values: Sequence[float]) -> Iterator[Row]:
    figures = program.figures
    units = [1] * len(figures.groups)
    powers = [group.power_mw for group in figures.groups]
    kinds = list(figures.types)
    fed = {at: values[at] for at in program.flow.values()}
    # every unit draws at least the least power: so many a switch holds at most
    ports = {kind: program.holds(kind, min(powers, default=0)) for kind in kinds}
    for weights, sizes in ((units, ports), (powers, figures.usable_mw)):
        if len(set(powers)) < 2 and weights is powers:
            return  # one power a port: the ports of a switch count what its watts can feed
        steps = sorted({size for size in sizes.values() if size > 0})
        for stretch in stretches:
            inside = [
                (weights[index], program.flow[index, key])
                for index in stretch.groups
                for key in stretch.cupboards
                if (index, key) in program.flow
            ]
            wanted = sum(weights[index] * figures.groups[index].size for index in stretch.groups)
            elsewhere = wanted - sum(weight * fed[at] for weight, at in inside)
            counts = {
                kind: sum(values[program.new[key, kind]] for key in stretch.cupboards if (key, kind) in program.new)
                for kind in kinds
            }
            worst: tuple[float, int] | None = None
            for step in steps:
                whole, rest = divmod(wanted, step)
                if rest:
                    had = sum(_rounded(sizes[kind], step, rest) * counts[kind] for kind in kinds) + elsewhere
                    lacking = (whole + 1) - had / rest
                    if lacking > _BROKEN and (worst is None or lacking > worst[0]):
                        worst = (lacking, step)
            if worst is not None:
                whole, rest = divmod(wanted, worst[1])
                switches = [
                    (_rounded(sizes[kind], worst[1], rest), program.new[key, kind])
                    for key in stretch.cupboards
                    for kind in kinds
                    if (key, kind) in program.new
                ]
                yield row([*switches, *((-weight, at) for weight, at in inside)], low=(whole + 1) * rest - wanted)


def _rounded(size: int, step: int, rest: int) -> int:
    return rest * (size // step) + min(rest, size % step)
