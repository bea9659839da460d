"""A plan bettered piece by piece: the switches of some neighbouring cupboards are placed anew while all others stay.

A piece is small enough to be solved to the end, and a large plan is mostly the sum of such pieces: what is wrong in it
is wrong nearby. Pieces are stretches of storeys of one core, of two and of four neighbouring ones, each overlapping the
next by half. The units that a piece feeds may go to its new switches or to any other that is in use. Uplinks may be led
anew everywhere, since a switch that feeds others may come or go.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.rows import Row, Rows, total
from doorwright.plan.placement.search import search

_SIZES: Final = ((6, 1), (12, 1), (4, 2), (3, 4))
"""How many storeys with cupboards, and how many cores."""
_EFFORT_S: Final = 0.5
_HANDLING_S: Final = 0.05
"""What a piece costs beside the solver's own count: writing it down and reading it."""
_MENDED_STOREYS_COUNT: Final = 8


@dataclass(frozen=True, slots=True)
class Bettered:
    """The best values found, and how much work that was."""

    values: tuple[int, ...]
    spent_s: float


def better(
    program: Program,
    goal: Goal,
    extra: Sequence[Row],
    values: tuple[int, ...],
    *,
    effort_s: float,
    enough: float,
    stop: Callable[[], bool],
) -> Bettered:
    """Make a goal smaller until no piece can be bettered; one is tried again once a cupboard of it has changed.

    Args:
        program: the rows and variables.
        goal: what is to be made small.
        extra: rows that hold beside those of the program; ``values`` keep to them.
        values: the plan to begin from.
        effort_s: how much work there may be, in the solver's own count.
        enough: a value that is as good as any better one.
        stop: asked before each piece; true ends with the best so far.
    """
    pieces = _Pieces(program, goal, extra)
    spent_s = 0.0
    settled: set[frozenset[str]] = set()
    unsettled = list(_pieces(program, _SIZES))
    while unsettled:
        for cupboards in unsettled:
            if spent_s >= effort_s or stop() or total(goal.terms, values) + goal.constant <= enough:
                return Bettered(values, spent_s)
            found, work_s = pieces.anew(values, cupboards)
            spent_s += work_s
            if found is not None and total(goal.terms, found) < total(goal.terms, values):
                values = found
                settled = {one for one in settled if not one & cupboards}
            settled.add(cupboards)
        unsettled = [one for one in _pieces(program, _SIZES) if one not in settled]
    return Bettered(values, spent_s)


def mended(
    program: Program, goal: Goal, extra: Sequence[Row], values: Sequence[int], broken: frozenset[str]
) -> tuple[int, ...] | None:
    """Return values that keep to all rows, from values that break those of a few cupboards; None where none are found.

    Variables beyond ``values`` are those of cupboards written out switch by switch.
    """
    whole = [*values, *(low for low, _ in program.rows.bounds[len(values) :])]
    pieces = _Pieces(program, goal, extra)
    for around in _pieces(program, ((_MENDED_STOREYS_COUNT, 1), (2 * _MENDED_STOREYS_COUNT, 2))):
        if broken & around:
            found, _ = pieces.anew(whole, around | broken)
            if found is not None:
                return found
    return None


def _pieces(program: Program, sizes: Sequence[tuple[int, int]]) -> Iterator[frozenset[str]]:
    """Yield each piece once, from the ground up."""
    routes = program.figures.problem.routes
    cupboards = program.figures.cupboards
    cores = sorted({one.spot.core for one in cupboards.values()}, key=lambda core: (routes.risers_m[core], core))
    heights = sorted({routes.heights_m[one.spot.level] for one in cupboards.values()})
    at: dict[tuple[str, float], set[str]] = defaultdict(set)
    for key, one in cupboards.items():
        at[one.spot.core, routes.heights_m[one.spot.level]].add(key)
    told = set()
    for storeys_count, cores_count in sizes:
        step = max(1, storeys_count // 2)
        for low in range(0, max(1, len(heights) - step), step):
            for left in range(max(1, len(cores) - cores_count + 1)):
                piece = frozenset(
                    key
                    for core in cores[left : left + cores_count]
                    for height in heights[low : low + storeys_count]
                    for key in at[core, height]
                )
                if piece and piece not in told:
                    told.add(piece)
                    yield piece


class _Pieces:
    """Pieces of one program, with the rows that each variable stands in."""

    def __init__(self, program: Program, goal: Goal, extra: Sequence[Row]) -> None:
        self._program = program
        self._goal = goal
        self._rows = (*program.rows.rows, *extra)
        self._standing_in: dict[int, list[int]] = defaultdict(list)
        for number, one in enumerate(self._rows):
            for _, at in one.terms:
                self._standing_in[at].append(number)

    def anew(self, values: Sequence[int], cupboards: Collection[str]) -> tuple[tuple[int, ...] | None, float]:
        """Return the best values in which only a piece differs, None where none were found, and the work it was."""
        bounds = self._program.rows.bounds
        free = sorted(at for at in self._free(values, cupboards) if bounds[at][0] < bounds[at][1])
        part = Rows()
        inside = {at: part.variable(*bounds[at]) for at in free}
        for number in sorted({number for at in free for number in self._standing_in[at]}):
            one = self._rows[number]
            rest = sum(factor * values[at] for factor, at in one.terms if at not in inside)
            part.add(
                [(factor, inside[at]) for factor, at in one.terms if at in inside],
                low=None if one.low is None else one.low - rest,
                high=None if one.high is None else one.high - rest,
            )
        goal = Goal("", tuple((factor, inside[at]) for factor, at in self._goal.terms if at in inside))
        found = search(part, goal, hint=[values[at] for at in free], effort_s=_EFFORT_S, workers_count=1)
        if found.values is None:
            return None, found.spent_s + _HANDLING_S
        whole = list(values)
        for at, value in zip(free, found.values, strict=True):
            whole[at] = value
        return tuple(whole), found.spent_s + _HANDLING_S

    def _free(self, values: Sequence[int], cupboards: Collection[str]) -> Iterator[int]:
        program = self._program
        figures = program.figures
        in_use = {cupboard for (cupboard, _), at in program.new.items() if values[at]} | set(cupboards)
        feeding = {cupboard for (cupboard, _), at in program.hub.items() if values[at]} | set(cupboards)
        feeding |= {figures.problem.root.cupboard, *(one.cupboard for one in figures.existing.values())}
        for key in cupboards:
            if key in program.used:
                yield program.used[key]
        for variables in (program.new, program.hub):
            yield from (at for (cupboard, _), at in variables.items() if cupboard in cupboards)
        yield from program.down.values()
        for key, slots in program.slots.items():
            if key in in_use:
                yield from slots
        yield from (at for (start, to, _), at in program.link.items() if start in in_use and to in feeding)
        groups = {index for (index, key), at in program.flow.items() if values[at] and key in cupboards}
        groups |= {
            index
            for (index, key), at in program.kept.items()
            if values[at] and figures.existing[key].cupboard in cupboards
        }
        yield from (at for (index, key), at in program.flow.items() if index in groups and key in in_use)
        yield from (at for (index, _), at in program.kept.items() if index in groups)
