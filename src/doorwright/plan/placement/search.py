"""Constraint programming (CP-SAT) on the program: the same problem gives the same plan on any machine."""

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from doorwright.plan.placement.program import Goal
from doorwright.plan.placement.rows import Row, Rows

SEED: Final = 20_820
WORKERS_COUNT: Final = 2
_NOTHING: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Found:
    """What the solver says: values or None, a lower bound of the goal, and whether it proved that there are none.

    ``spent_s`` is its own count of work.
    """

    values: tuple[int, ...] | None
    bound: int
    impossible: bool
    spent_s: float = 0.0


def search(
    rows: Rows,
    goal: Goal,
    *,
    extra: Sequence[Row] = (),
    hint: Sequence[int] | None,
    effort_s: float,
    gap_ratio: float = 0.0,
    workers_count: int = WORKERS_COUNT,
) -> Found:
    """Make a goal as small as can be within the effort.

    Args:
        rows: variables and rows.
        goal: the sum to be made small.
        extra: rows that hold beside them.
        hint: values to begin from.
        effort_s: the solver's own count of work, roughly seconds of one processor.
        gap_ratio: near enough to the bound to end, as a part of the value.
        workers_count: how many ways of searching take turns; one is enough for a small program.
    """
    cp_model: Any = import_module("ortools.sat.python.cp_model")
    model: Any = cp_model.CpModel()
    variables = [model.new_int_var(low, high, "") for low, high in rows.bounds]
    for one in (*rows.rows, *extra):
        terms = _sum(cp_model, one.terms, variables)
        if not one.terms:
            if not one.holds(()):
                return Found(None, 0, impossible=True)
        elif one.low is not None and one.low == one.high:
            model.add(terms == one.low)
        else:
            if one.low is not None:
                model.add(terms >= one.low)
            if one.high is not None:
                model.add(terms <= one.high)
    for at, value in enumerate(hint or ()):
        model.add_hint(variables[at], value)
    model.minimize(_sum(cp_model, goal.terms, variables) + goal.constant)
    solver: Any = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = effort_s
    solver.parameters.random_seed = SEED
    solver.parameters.num_workers = workers_count
    # else two workers race, and the winner depends on the machine
    solver.parameters.interleave_search = workers_count > 1
    solver.parameters.linearization_level = 2
    solver.parameters.relative_gap_limit = gap_ratio
    status = solver.solve(model)
    spent_s: float = solver.response_proto.deterministic_time
    if status == cp_model.INFEASIBLE:
        return Found(None, 0, impossible=True, spent_s=spent_s)
    bound = -int(-(solver.best_objective_bound - _NOTHING) // 1)
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return Found(None, bound, impossible=False, spent_s=spent_s)
    return Found(tuple(solver.value(one) for one in variables), bound, impossible=False, spent_s=spent_s)


def _sum(cp_model: Any, terms: Sequence[tuple[int, int]], variables: Sequence[Any]) -> Any:
    return cp_model.LinearExpr.weighted_sum([variables[at] for _, at in terms], [factor for factor, _ in terms])
