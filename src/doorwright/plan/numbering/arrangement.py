"""Whom to give which number so that as many as possible have one: constraint programming (CP-SAT).

It is asked where giving each the first number that is free leaves somebody without. The solver counts its own
deterministic time, so that the same site gives the same numbers on any machine.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

CELLS_MAX: Final = 200_000
"""Pairs of a group and a number beyond which the model is not worth beginning; found by trying. Our choice."""

EFFORT: Final = 4.0
"""The solver's deterministic time, roughly seconds of one processor. Our choice."""

_SEED: Final = 20_820


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanting:
    """So many dwellings for which the same numbers would do, best first, in one system.

    ``at_once`` are the visitor call units that dial them without an end key.
    """

    system: str
    dwellings_count: int
    numbers: tuple[str, ...]
    at_once: frozenset[str] = frozenset()


def arranged(groups: Sequence[Wanting]) -> tuple[tuple[str, ...], ...] | None:
    """Return numbers for each group, best first, so that as many dwellings as possible have one.

    In one system no number comes twice, and at a keypad without end key none begins another. Of such arrangements one
    is chosen whose numbers stand as far to the front of the groups' as they can. Within the effort allowed the
    arrangement is the best; beyond it, the best that was found.

    Returns:
        The numbers of each group, perhaps fewer than it has dwellings; None where the solver found nothing, is not
        installed, or the task is larger than ``CELLS_MAX``.
    """
    if sum(len(group.numbers) for group in groups) > CELLS_MAX:
        return None
    try:
        cp_model: Any = import_module("ortools.sat.python.cp_model")
    except ImportError:
        return None
    model = cp_model.CpModel()
    given = [{number: model.new_bool_var("") for number in group.numbers} for group in groups]
    for group, own in zip(groups, given, strict=True):
        model.add(sum(own.values()) <= group.dwellings_count)
    for holders in _by_number(groups, given).values():
        model.add_at_most_one(holders)
    for shorter, longer in _confused(groups, given):
        model.add_at_most_one([*shorter, *longer])
    # one dwelling more outweighs any change of place: all places together are less
    most = sum(max(len(own), 1) * group.dwellings_count for group, own in zip(groups, given, strict=True)) + 1
    model.maximize(sum((most - place) * cell for own in given for place, cell in enumerate(own.values())))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = _SEED
    solver.parameters.max_deterministic_time = EFFORT
    if solver.solve(model) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return None
    return tuple(tuple(number for number, cell in own.items() if solver.boolean_value(cell)) for own in given)


def _by_number(groups: Sequence[Wanting], given: Sequence[dict[str, Any]]) -> dict[tuple[str, str], list[Any]]:
    """Return the cells of each number in each system."""
    cells: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for group, own in zip(groups, given, strict=True):
        for number, cell in own.items():
            cells[group.system, number].append(cell)
    return cells


def _confused(groups: Sequence[Wanting], given: Sequence[dict[str, Any]]) -> Iterator[tuple[list[Any], list[Any]]]:
    """Yield the cells of each two numbers of which a keypad without end key would never dial the longer."""
    dialled: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for group, own in zip(groups, given, strict=True):
        for vcu in sorted(group.at_once):
            for number, cell in own.items():
                dialled[vcu][number].append(cell)
    for cells in dialled.values():
        for number, longer in cells.items():
            for length in range(1, len(number)):
                if (shorter := cells.get(number[:length])) is not None:
                    yield shorter, longer
