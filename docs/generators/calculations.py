"""Every calculation, by module: formula, inputs, sources."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any, Final

import doorwright.calc
from doorwright.kernel.calculation import Calculation, calculations_in, described
from doorwright.kernel.units import unit_of
from generators import markdown
from generators.markdown import cell, code, plain, table

_INTRO: Final = """
A calculation is a formula with a source. Numbers carry their unit in their name; one unit is used per quantity in the
whole program. Each calculation is compared in the tests with figures printed outside this project.

How each source is held stands behind it: see [sources and limits](../explain/sources-and-limits.md). A calculation is
an aid to planning, not a certificate: measure on site.
"""
_SECTION: Final = re.compile(r"^(Args|Returns|Raises):\n((?:    .*\n?)+)", re.MULTILINE)
_ARGUMENT: Final = re.compile(r"^(\w+): (.*)$")


def page() -> str:
    """Return the page."""
    modules = [(module, tuple(calculations_in(module))) for module in _modules()]
    blocks = [block for module, functions in modules if functions for block in _module(module, functions)]
    return markdown.page("Calculations", _INTRO, *blocks)


def _modules() -> Iterator[ModuleType]:
    for found in pkgutil.iter_modules(doorwright.calc.__path__):
        yield importlib.import_module(f"doorwright.calc.{found.name}")


def _module(module: ModuleType, functions: tuple[Callable[..., Any], ...]) -> Iterator[str]:
    yield f"## {plain((inspect.getdoc(module) or module.__name__).splitlines()[0].rstrip('.'))}"
    for function in functions:
        yield from _calculation(described(function))


def _calculation(one: Calculation) -> Iterator[str]:
    yield f"### {plain(one.title)}"
    yield f"`{one.id}`"
    sections = {name: inspect.cleandoc(text) for name, text in _SECTION.findall(one.text + "\n")}
    for paragraph in _SECTION.sub("", one.text + "\n").strip().split("\n\n"):
        yield _paragraph(" ".join(paragraph.split()))
    meanings = _meanings(sections.get("Args", ""))
    if one.inputs:
        rows = [(code(name), _unit(name), meanings.get(name, "")) for name in one.inputs]
        yield table(("input", "unit", "what it is"), rows)
    if "Returns" in sections:
        yield f"**Returns.** {cell(sections['Returns'])}"
    if "Raises" in sections:
        yield f"**Refuses.** {cell(sections['Raises'])}"
    yield "\n".join(["**Sources.**", "", *(f"- {cell(cite)} ({cite.held.value})" for cite in one.cites)])


def _paragraph(text: str) -> str:
    for lead in ("Formula", "Valid when"):
        if text.startswith(f"{lead}:"):
            return f"**{lead}.** {plain(text.removeprefix(f'{lead}:').strip())}"
    return plain(text)


def _meanings(text: str) -> dict[str, str]:
    """Return what each argument means; its text may run over several lines, indented further."""
    meanings: dict[str, str] = {}
    name = ""
    for line in text.splitlines():
        begins = _ARGUMENT.match(line)
        if begins:
            name = begins[1]
            meanings[name] = begins[2]
        elif name:
            meanings[name] += f" {line.strip()}"
    return meanings


def _unit(name: str) -> str:
    unit = unit_of(name)
    if unit is None:
        return ""
    return f"{unit.name} ({unit.symbol})" if unit.symbol and unit.symbol != unit.name else unit.name
