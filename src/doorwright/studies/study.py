"""What every study returns, and how it keeps the calculations it made."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, ParamSpec, TypeVar

from doorwright.kernel.calculation import Working, work
from doorwright.kernel.verdict import Missing, Subject

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Step:
    """One calculation made, and what went into it."""

    function: Callable[..., Any]
    inputs: Mapping[str, Any]


class Trail:
    """Runs calculations for a study and keeps each as a step."""

    def __init__(self) -> None:
        self._steps: list[Step] = []

    def run(self, function: Callable[P, R], *args: P.args, **inputs: P.kwargs) -> R:
        """Run a calculation (all its inputs by name) and keep the step."""
        self._steps.append(Step(function, inputs))
        return function(*args, **inputs)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps so far."""
        return tuple(self._steps)


@dataclass(frozen=True, slots=True)
class Study(Generic[T]):
    """One question put to a site.

    Either ``value`` answers it, or ``missing`` names the facts that it waits for, or both are empty because the
    question does not arise for the subject (a unit that takes no power from its port, a run that is no data link).
    """

    subject: Subject
    title: str
    value: T | None = None
    missing: tuple[Missing, ...] = ()
    steps: tuple[Step, ...] = field(default=(), repr=False)

    @property
    def workings(self) -> tuple[Working, ...]:
        """The calculations behind the value, in order, each made once more from its inputs for the annex."""
        return tuple(work(step.function, **step.inputs) for step in self.steps)
