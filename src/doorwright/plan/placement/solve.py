"""The plan: first by the simple way, then bounded, then bettered and proven as far as the effort goes."""

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.plan.placement import bound as bounds
from doorwright.plan.placement.explain import notes, why
from doorwright.plan.placement.figures import MONEY_UNIT, Figures
from doorwright.plan.placement.greedy import greedy
from doorwright.plan.placement.mistakes import mistakes
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
_SIMPLE: Final = "riser by riser, without a solver"


def _never() -> bool:
    return False


@dataclass(slots=True)
class _Course:
    """What is known so far of one program: the best values, and the value and bound of each goal done."""

    values: tuple[int, ...] | None
    aims: list[tuple[Goal, int, int]] = field(default_factory=list)
    simply_begun: bool = False
    bettered: bool = False
    impossible: bool = False


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
    answer = _attempt(problem, stuck, effort_s, gap_ratio, stop, may_move=False)
    if isinstance(answer, Impossible) and any(stuck.stays.values()) and bounds.available() and effort_s > 0:
        moving = _attempt(problem, stuck, effort_s, gap_ratio, stop, may_move=True)
        return answer if isinstance(moving, Impossible) else moving
    return answer


def _attempt(
    problem: Problem,
    stuck: Sticking,
    effort_s: float,
    gap_ratio: float,
    stop: Callable[[], bool],
    *,
    may_move: bool,
) -> Placement | Impossible:
    figures = Figures(problem, stuck.stays, may_move=may_move)
    written_out: frozenset[str] = frozenset()
    while True:
        program = Program(figures, written_out)
        course = _pursue(program, effort_s, gap_ratio, stop)
        if course.values is None:
            told, remedy = reasons(program, proven=course.impossible)
            return Impossible(reasons=told, remedy=remedy, proven=course.impossible)
        single = split(program, course.values)
        if not single.too_tight:
            return _told(program, course, single, stuck)
        if single.too_tight <= written_out:
            raise ValueError(f"the units of {', '.join(sorted(single.too_tight))} were planned switch by switch")
        written_out |= single.too_tight


def _pursue(program: Program, effort_s: float, gap_ratio: float, stop: Callable[[], bool]) -> _Course:
    course = _Course(greedy(program) if not program.figures.may_move else None)
    course.simply_begun = course.values is not None
    if course.values is None and bounds.available() and effort_s > 0:
        # where the simple way fails, any plan is hard to come by: one of few switches is the easiest to find
        effort_s = _begin(program, course, effort_s, stop)
        if course.impossible:
            return course
    goals = program.goals()
    extra: list[Row] = []
    for number, goal in enumerate(goals):
        known = None if course.values is None else total(goal.terms, course.values) + goal.constant
        if not bounds.available():
            if known is not None:
                course.aims.append((goal, known, goal.constant))
            continue
        enough = None if known is None else known * (1 - gap_ratio)
        bound = bounds.lower_bound(program, goal, extra, enough=enough, stop=stop)
        if bound.value is None:
            course.values, course.impossible = None, True
            return course
        least = bound.value
        if effort_s > 0 and not stop() and (known is None or known - least > gap_ratio * known):
            share_s = effort_s / (len(goals) - number)
            found = search(
                program.rows,
                goal,
                extra=[*extra, *bound.cuts],
                hint=course.values,
                effort_s=share_s,
                gap_ratio=gap_ratio,
            )
            effort_s -= share_s
            if found.impossible:
                course.values, course.impossible = None, True
                return course
            least = max(least, found.bound)
            value = None if found.values is None else total(goal.terms, found.values) + goal.constant
            if value is not None and (known is None or value < known):
                course.values, known, course.bettered = found.values, value, True
        if known is None:
            return course
        course.aims.append((goal, known, min(least, known)))
        extra.append(row(goal.terms, high=known - goal.constant))
    return course


def _begin(program: Program, course: _Course, effort_s: float, stop: Callable[[], bool]) -> float:
    """Look for some plan of few switches to begin from, and return the effort that is left."""
    goal = Goal("new switches", tuple((1, at) for at in program.new.values()))
    if program.goals()[0] == goal:
        return effort_s
    bound = bounds.lower_bound(program, goal, (), enough=None, stop=stop)
    if bound.value is None:
        course.impossible = True
        return effort_s
    share_s = effort_s * _BEGINNING_RATIO
    found = search(program.rows, goal, extra=bound.cuts, hint=None, effort_s=share_s, gap_ratio=_BEGINNING_GAP_RATIO)
    course.values, course.impossible = found.values, found.impossible
    return effort_s - share_s


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
