"""Every calculation, by module: formula, inputs, sources."""

from collections.abc import Iterator
from typing import Final

from doorwright.calc.catalogue import Area, areas
from doorwright.kernel.calculation import Calculation
from doorwright.kernel.calculation_page import Paragraph, page_of
from generators import markdown
from generators.markdown import cell, code, plain, table

_INTRO: Final = """
A calculation is a formula with a source. Numbers carry their unit in their name; one unit is used per quantity in the
whole program. Each calculation is compared in the tests with figures printed outside this project.

How each source is held stands behind it: see [sources and limits](../explain/sources-and-limits.md). A calculation is
an aid to planning, not a certificate: measure on site.
"""


def page() -> str:
    """Return the page."""
    return markdown.page("Calculations", _INTRO, *(block for area in areas() for block in _area(area)))


def _area(area: Area) -> Iterator[str]:
    yield f"## {plain(area.title)}"
    for one in area.calculations:
        yield from _calculation(one)


def _calculation(one: Calculation) -> Iterator[str]:
    told = page_of(one)
    yield f"### {plain(one.title)}"
    yield f"`{one.id}`"
    yield from map(_paragraph, told.paragraphs)
    if told.inputs:
        yield table(
            ("input", "unit", "what it is"), [(code(given.name), given.unit, given.meaning) for given in told.inputs]
        )
    if told.returns:
        yield f"**Returns.** {cell(told.returns)}"
    if told.refuses:
        yield f"**Refuses.** {cell(told.refuses)}"
    yield "\n".join(["**Sources.**", "", *(f"- {cell(cite)} ({cite.held.value})" for cite in one.cites)])


def _paragraph(paragraph: Paragraph) -> str:
    return f"**{paragraph.lead}.** {plain(paragraph.text)}" if paragraph.lead else plain(paragraph.text)
