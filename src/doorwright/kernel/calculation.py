"""A formula with its source, and one run of it.

``@calculation`` refuses, at import, a function without a cite, with a positional argument, or with a number
whose name carries no unit. ``work`` runs one and keeps inputs and result as a ``Working`` for the annex.
"""

import inspect
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from types import ModuleType
from typing import Any, Final, ParamSpec, TypeVar

from doorwright.kernel.source import Cite
from doorwright.kernel.units import unit_of

P = ParamSpec("P")
R = TypeVar("R")

_MARK: Final = "__calculation__"


@dataclass(frozen=True, slots=True)
class Calculation:
    """A formula as the reference pages print it."""

    id: str
    title: str
    cites: tuple[Cite, ...]
    inputs: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A named number, its unit in the name."""

    name: str
    value: float | str


@dataclass(frozen=True, slots=True)
class Working:
    """One calculation done once: inputs, result, source."""

    calculation: Calculation
    inputs: tuple[Quantity, ...]
    results: tuple[Quantity, ...]


def calculation(title: str, *cites: Cite) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Mark a function as a calculation. Its docstring is printed: one sentence, Formula, Valid when."""
    if not cites:
        raise TypeError(f"calculation {title!r} has no source")

    def mark(function: Callable[P, R]) -> Callable[P, R]:
        parameters = inspect.signature(function).parameters.values()
        for parameter in parameters:
            if parameter.kind is not inspect.Parameter.KEYWORD_ONLY:
                raise TypeError(f"{function.__name__}: {parameter.name} must be keyword-only")
            if parameter.annotation in (float, int) and unit_of(parameter.name) is None:
                raise TypeError(f"{function.__name__}: {parameter.name} carries no unit")
        known = Calculation(
            id=function.__name__,
            title=title,
            cites=cites,
            inputs=tuple(parameter.name for parameter in parameters),
            text=inspect.getdoc(function) or "",
        )
        setattr(function, _MARK, known)
        return function

    return mark


def described(function: Callable[..., Any]) -> Calculation:
    """Return the description that ``@calculation`` put on ``function``."""
    known: Calculation = getattr(function, _MARK)
    return known


def calculations_in(module: ModuleType) -> Iterator[Callable[..., Any]]:
    """Yield the calculations defined in ``module``, in order of writing."""
    for value in vars(module).values():
        if hasattr(value, _MARK) and value.__module__ == module.__name__:
            yield value


def work(function: Callable[..., Any], **inputs: Any) -> Working:
    """Run a calculation and keep what went in and what came out.

    A result is one number (named for the calculation) or a dataclass of numbers and words.
    """
    result = function(**inputs)
    if is_dataclass(result):
        results = tuple(Quantity(f.name, getattr(result, f.name)) for f in fields(result))
    else:
        results = (Quantity(described(function).id, result),)
    return Working(
        calculation=described(function),
        inputs=tuple(Quantity(name, _plain(value)) for name, value in inputs.items()),
        results=results,
    )


def _plain(value: object) -> float | str:
    return value if isinstance(value, int | float) else str(value)
