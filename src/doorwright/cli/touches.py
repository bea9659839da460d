"""The touch list on the screen."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.plan.retest import together
from doorwright.plan.settings import shown
from doorwright.plan.touch import Alteration, Touch

_TOUCHES_MOST: Final = 12
_ENTRIES_MOST: Final = 24
_NAMES_MOST: Final = 8


def print_touches(printer: Printer, touches: Sequence[Touch]) -> None:
    """Print which units must be visited, what is done and entered at each, and what is tested again."""
    if not touches:
        printer.line("No unit is to be touched.")
        return
    printer.heading(f"To touch: {counted(len(touches), 'visit')}, in this order")
    for touch in touches[:_TOUCHES_MOST]:
        printer.line(f"{touch.number}. {touch.name}" + (f" ({touch.where})" if touch.where else ""))
        for caution in touch.cautions:
            printer.line(f"     Caution: {caution}")
        for work in touch.work:
            printer.line(f"   - {work}")
        if not touch.gone:
            _print_entries(printer, touch.entries)
    more = len(touches) - _TOUCHES_MOST
    if more > 0:
        printer.line(f"and {counted(more, 'more visit')} (all with --json, or on paper with --out)")
    tests = together(touch.tests for touch in touches)
    if tests:
        printer.heading("Test again")
        for test in tests:
            named = ", ".join(test.called[:_NAMES_MOST])
            rest = f" and {len(test.called) - _NAMES_MOST} more" if len(test.called) > _NAMES_MOST else ""
            doors = f"; frees {', '.join(test.doors)}" if test.doors else ""
            printer.line(f"   from {test.entrance} call {named}{rest}{doors}")


def _print_entries(printer: Printer, entries: Sequence[Alteration]) -> None:
    for heading, group in groupby(entries[:_ENTRIES_MOST], key=lambda entry: entry.heading):
        printer.line(f"   {heading}:")
        for entry in group:
            printer.line(f"     {_told(entry)}")
    more = len(entries) - _ENTRIES_MOST
    if more > 0:
        printer.line(f"     and {counted(more, 'more setting')}")


def _told(entry: Alteration) -> str:
    if entry.new is None:
        return f"remove {entry.name} {shown(entry.old or '')}"
    if entry.old is None:
        return f"{entry.name}  {shown(entry.new)}"
    old, new = shown(entry.old), shown(entry.new)
    return f"{entry.name}  {old} -> {new}" + (", renewed" if old == new else "")
