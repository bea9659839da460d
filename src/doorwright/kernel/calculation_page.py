"""What the docstring of a calculation says, taken apart: its paragraphs, its inputs, what it gives and refuses."""

import inspect
import re
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.calculation import Calculation
from doorwright.kernel.units import unit_of

LEADS: Final = ("Formula", "Valid when")
_SECTION: Final = re.compile(r"^(Args|Returns|Raises):\n((?:    .*\n?)+)", re.MULTILINE)
_ARGUMENT: Final = re.compile(r"^(\w+): (.*)$")


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph on one line; ``lead`` is "Formula" or "Valid when" where it begins so, else nothing."""

    lead: str
    text: str


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its name, its unit in words ("metre (m)", or nothing), and what it is."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CalculationPage:
    """The page of one calculation."""

    paragraphs: tuple[Paragraph, ...]
    inputs: tuple[Input, ...]
    returns: str
    refuses: str


def page_of(one: Calculation) -> CalculationPage:
    """Return the page of a calculation."""
    text = one.text + "\n"
    sections = {name: inspect.cleandoc(found) for name, found in _SECTION.findall(text)}
    meanings = _meanings(sections.get("Args", ""))
    return CalculationPage(
        paragraphs=tuple(map(_paragraph, _SECTION.sub("", text).strip().split("\n\n"))),
        inputs=tuple(Input(name, _unit(name), meanings.get(name, "")) for name in one.inputs),
        returns=" ".join(sections.get("Returns", "").split()),
        refuses=" ".join(sections.get("Raises", "").split()),
    )


def _paragraph(text: str) -> Paragraph:
    line = " ".join(text.split())
    lead = next((lead for lead in LEADS if line.startswith(f"{lead}:")), "")
    return Paragraph(lead, line.removeprefix(f"{lead}:").strip() if lead else line)


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
