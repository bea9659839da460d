"""The plan: first by the simple way, then bounded, then bettered and proven as far as the effort goes."""

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from math import inf
from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.plan.placement import bound as bounds
from doorwright.plan.placement.explain import notes, why
from doorwright.plan.placement.figures import MONEY_UNIT, Figures
from doorwright.plan.placement.greedy import greedy
from doorwright.plan.placement.mistakes import mistakes
from doorwright.plan.placement.piecewise import better, mended
from doorwright.plan.placement.problem import Problem
from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.reasons import reasons
from doorwright.plan.placement.result import Aim, Impossible, Placement, Status
from doorwright.plan.placement.routes import CM
from doorwright.plan.placement.rows import Row, row, total
from doorwright.plan.placement.search import search
from doorwright.plan.placement.split import Split, split
from doorwright.plan.placement.sticking import Sticking, sticking

EFFORT_S: Final = 20.0
_BEGINNING_RATIO: Final = 0.4
"""The part of the effort for a first plan, where the simple way finds none."""
_BEGINNING_GAP_RATIO: Final = 0.1
_PIECEWISE_RATIO: Final = 0.6
"""The most of the effort for bettering piece by piece; the rest is for the proof."""
_LARGE_COUNT: Final = 4000
"""With more variables than so many the solver's count of work runs slower than the clock: it is given less."""
_SMALL_ROOM_COUNT: Final = 4
"""Cupboards for so many new switches take few variables to write out."""
_AGAIN_RATIO: Final = 0.25
"""The least of the effort for a plan in which some cupboards are written out switch by switch."""
_SIMPLE: Final = "riser by riser, without a solver"


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True)
class _Patience:
    """How near to the bound is near enough, and what ends the search before its time."""

    gap_ratio: float
    stop: Callable[[], bool]


@dataclass(frozen=True, slots=True)
class _Task:
    """A goal, the rows that the goals before it add, what no plan can go below, and the rows that gave that."""

    goal: Goal
    extra: tuple[Row, ...]
    least: int
    cuts: tuple[Row, ...]


@dataclass(slots=True)
class _Course:
    """What is known so far of one program: the best values, and the value and bound of each goal done.

    ``floors`` are the aims of the same question with fewer rows: what bounds that one bounds this one too.
    """

    values: tuple[int, ...] | None
    floors: tuple[tuple[Goal, int, int], ...] = ()
    aims: list[tuple[Goal, int, int]] = field(default_factory=list)
    simply_begun: bool = False
    bettered: bool = False
    impossible: bool = False

    def floor(self, least: int) -> int:
        """Return the bound of the next goal from before; it held for plans no worse in the goals before that one."""
        number = len(self.aims)
        if number >= len(self.floors):
            return least
        no_worse = all(now[1] <= before[1] for now, before in zip(self.aims, self.floors[:number], strict=True))
        return self.floors[number][2] if no_worse else least


def place(
    problem: Problem, *, effort_s: float = EFFORT_S, gap_ratio: float = 0.0, stop: Callable[[], bool] = _never
) -> Placement | Impossible:
    """Return where switches go and what each feeds.

    The same problem gives the same plan, as long as ``stop`` does not cut the search short. What exists stays; only
    where there is no plan otherwise do as few existing runs move as can be.

    Args:
        problem: the question.
        effort_s: how much the solver may work, in its own count, roughly seconds of one processor; 0 for not at all.
        gap_ratio: how near to the bound is near enough, as a part of the cost.
        stop: asked before each step; true ends with the best found so far. The solver itself ends by its effort.

    Raises:
        Refused: the problem contradicts itself; all mistakes are told.
    """
    found = mistakes(problem)
    if found:
        raise Refused("Switches cannot be placed: the question contradicts itself.", mistakes=found)
    stuck = sticking(problem)
    patience = _Patience(gap_ratio, stop)
    answer = _attempt(problem, stuck, effort_s, patience, may_move=False)
    if isinstance(answer, Impossible) and any(stuck.stays.values()) and bounds.available() and effort_s > 0:
        moving = _attempt(problem, stuck, effort_s, patience, may_move=True)
        return answer if isinstance(moving, Impossible) else moving
    return answer


def _attempt(
    problem: Problem,
    stuck: Sticking,
    effort_s: float,
    patience: _Patience,
    *,
    may_move: bool,
) -> Placement | Impossible:
    figures = Figures(problem, stuck.stays, may_move=may_move)
    program = Program(figures)
    left_s = effort_s
    course = _Course(None if may_move else greedy(program))
    course.simply_begun = course.values is not None
    while True:
        left_s -= _pursue(program, course, left_s, patience)
        if course.values is None:
            told, remedy = reasons(program, proven=course.impossible)
            return Impossible(reasons=told, remedy=remedy, proven=course.impossible)
        single = split(program, course.values)
        if not single.too_tight:
            return _told(program, course, single, stuck)
        if single.too_tight <= set(program.slots):
            raise ValueError(f"the units of {', '.join(sorted(single.too_tight))} were planned switch by switch")
        program = Program(figures, _written_out(program, single.too_tight))
        left_s = max(left_s, _AGAIN_RATIO * effort_s)
        again = _mended(program, course, single.too_tight, left_s)
        course = _Course(again, floors=tuple(course.aims), simply_begun=course.simply_begun)


def _written_out(program: Program, too_tight: frozenset[str]) -> frozenset[str]:
    """Return the cupboards to write out: the tight ones; from the second time on also those that may be so next."""
    if not program.slots:
        return too_tight
    small = {key for key in program.used if program.figures.new_room(key) <= _SMALL_ROOM_COUNT}
    return too_tight | set(program.slots) | small


def _mended(program: Program, before: _Course, broken: frozenset[str], effort_s: float) -> tuple[int, ...] | None:
    """Return the last plan with the cupboards put right whose units do not share out, or else the simple plan.

    Better one that is no worse in what counts first than one that is.
    """
    if before.values is not None and bounds.available() and effort_s > 0:
        kept = [row(goal.terms, high=value - goal.constant) for goal, value, _ in before.aims[:-1]]
        for extra in (kept, []):
            found = mended(program, program.goals()[-1], extra, before.values, broken)
            if found is not None:
                return found
    return None if program.figures.may_move else greedy(program)


def _pursue(program: Program, course: _Course, effort_s: float, patience: _Patience) -> float:
    """Better and bound one goal after the other; return how much work that was."""
    spent_s = 0.0
    if course.values is None and bounds.available() and effort_s > 0:
        # where the simple way fails, any plan is hard to come by: one of few switches is the easiest to find
        spent_s += _begin(program, course, effort_s, patience.stop)
        if course.impossible:
            return spent_s
    goals = program.goals()
    extra: list[Row] = []
    for number, goal in enumerate(goals):
        known = None if course.values is None else total(goal.terms, course.values) + goal.constant
        if not bounds.available():
            if known is not None:
                course.aims.append((goal, known, goal.constant))
            continue
        enough = None if known is None else known * (1 - patience.gap_ratio)
        bound = bounds.lower_bound(program, goal, extra, enough=enough, stop=patience.stop)
        if bound.value is None:
            course.values, course.impossible = None, True
            return spent_s
        share_s = max(0.0, effort_s - spent_s) / (len(goals) - number)
        floor = course.floor(goal.constant)
        task = _Task(goal, tuple(extra), max(bound.value, floor), bound.cuts)
        least, work_s = _strive(program, course, task, share_s, patience)
        spent_s += work_s
        if course.values is None:
            return spent_s
        known = total(goal.terms, course.values) + goal.constant
        course.aims.append((goal, known, min(least, known)))
        extra.append(row(goal.terms, high=known - goal.constant))
    return spent_s


def _strive(program: Program, course: _Course, task: _Task, effort_s: float, patience: _Patience) -> tuple[int, float]:
    """Better one goal, first piece by piece, then as a whole; return what no plan can go below, and the work."""
    goal, least, spent_s = task.goal, task.least, 0.0

    def near_enough() -> bool:
        if course.values is None:
            return False
        known = total(goal.terms, course.values) + goal.constant
        return known - least <= patience.gap_ratio * known

    def take(values: tuple[int, ...] | None) -> None:
        if values is None:
            return
        if course.values is None or total(goal.terms, values) < total(goal.terms, course.values):
            course.values, course.bettered = values, True

    if course.values is not None and effort_s > 0 and not near_enough():
        done = better(
            program,
            goal,
            task.extra,
            course.values,
            effort_s=_PIECEWISE_RATIO * effort_s,
            enough=least / (1 - patience.gap_ratio) if patience.gap_ratio < 1 else inf,
            stop=patience.stop,
        )
        spent_s = done.spent_s
        take(done.values)
    if effort_s <= spent_s or patience.stop() or near_enough():
        return least, spent_s
    pace = min(1.0, _LARGE_COUNT / len(program.rows.bounds))
    found = search(
        program.rows,
        goal,
        extra=[*task.extra, *task.cuts],
        hint=course.values,
        effort_s=(effort_s - spent_s) * pace,
        gap_ratio=patience.gap_ratio,
    )
    if found.impossible:
        course.values, course.impossible = None, True
        return least, spent_s
    take(found.values)
    return max(least, found.bound), spent_s + found.spent_s / pace


def _begin(program: Program, course: _Course, effort_s: float, stop: Callable[[], bool]) -> float:
    """Look for some plan of few switches to begin from, and return how much work that was."""
    goal = Goal("new switches", tuple((1, at) for at in program.new.values()))
    if program.goals()[0] == goal:
        return 0.0
    bound = bounds.lower_bound(program, goal, (), enough=None, stop=stop)
    if bound.value is None:
        course.impossible = True
        return 0.0
    share_s = effort_s * _BEGINNING_RATIO
    found = search(program.rows, goal, extra=bound.cuts, hint=None, effort_s=share_s, gap_ratio=_BEGINNING_GAP_RATIO)
    course.values, course.impossible = found.values, found.impossible
    return found.spent_s


def _told(program: Program, course: _Course, single: Split, stuck: Sticking) -> Placement:
    figures = program.figures
    aims = tuple(
        Aim(what=goal.what, value=_shown(goal, value), bound=_shown(goal, least)) for goal, value, least in course.aims
    )
    if all(aim.value == aim.bound for aim in aims):
        status, made_by = Status.BEST, "nothing can be better"
    elif bounds.available():
        status = Status.WITHIN
        bettered = (
            "riser by riser, bettered by the solver" if course.bettered else "riser by riser; nothing better found"
        )
        made_by = bettered if course.simply_begun else "by the solver"
    else:
        status, made_by = Status.SIMPLE, f"{_SIMPLE} (ortools is not installed): how good it is is not known"
    on_before = {kept.demand: switch.key for switch in figures.existing.values() for kept in switch.runs}
    moved = {
        run.demand: stuck.moved.get(run.demand, "without it there is no plan")
        for run in single.runs
        if run.new and run.demand in on_before
    }
    cost = next((aim.value for aim in aims if aim.what == "cost"), None)
    return Placement(
        status=status,
        switches=single.switches,
        runs=single.runs,
        uplinks=single.uplinks,
        root_switch=single.root_switch,
        aims=aims,
        cost=cost,
        made_by=made_by,
        moved=moved,
        why=why(figures, single),
        notes=notes(figures),
    )


def _shown(goal: Goal, value: int) -> Decimal:
    """Return the value of a goal in the user's units: money, metres, or a count."""
    if goal.what == "cost":
        return Decimal(value) / MONEY_UNIT
    return Decimal(value) / CM if goal.what == "cable" else Decimal(value)
