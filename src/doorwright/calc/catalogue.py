"""All calculations, by area and by identifier."""

import importlib
import inspect
import pkgutil
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import doorwright.calc
from doorwright.kernel.calculation import Calculation, calculations_in, described


@dataclass(frozen=True, slots=True)
class Area:
    """The calculations on one matter, in order of writing."""

    title: str
    calculations: tuple[Calculation, ...]


@cache
def areas() -> tuple[Area, ...]:
    """Return every area that has calculations, in the order of their modules' names."""
    found = []
    for name in sorted(module.name for module in pkgutil.iter_modules(doorwright.calc.__path__)):
        module = importlib.import_module(f"doorwright.calc.{name}")
        calculations = tuple(described(function) for function in calculations_in(module))
        if calculations:
            found.append(Area((inspect.getdoc(module) or name).splitlines()[0].rstrip("."), calculations))
    return tuple(found)


@cache
def calculation_by_id() -> MappingProxyType[str, Calculation]:
    """Return every calculation by its identifier."""
    return MappingProxyType({one.id: one for area in areas() for one in area.calculations})
