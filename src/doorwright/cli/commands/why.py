"""`why`: what keeps a plan from being complete."""

from pathlib import Path
from typing import Final

from doorwright.app.explain_plan import Why, explain_plan
from doorwright.cli import options
from doorwright.cli.printer import Printer

_PARTS_COUNT: Final = 6


@options.command(name="why", example="doorwright why tower.book")
@options.book
def why(printer: Printer, book: Path) -> None:
    """Tell why numbers and registrars cannot be planned, and what would help. Nothing is changed."""
    found = explain_plan(book)
    printer.result(found)
    if not found:
        printer.line("Nothing keeps numbers and registrars from being planned.")
    for one in found:
        _tell(printer, one)


def _tell(printer: Printer, one: Why) -> None:
    more = f" and {len(one.parts) - _PARTS_COUNT} more" if len(one.parts) > _PARTS_COUNT else ""
    printer.heading(f"{', '.join(one.parts[:_PARTS_COUNT])}{more}")
    printer.line(one.problem)
    if one.causes:
        printer.line("Without any one of these there would be a way:" if one.proven else "What is in the way:")
        for cause in one.causes[:_PARTS_COUNT]:
            printer.line(f"  {cause}")
        if len(one.causes) > _PARTS_COUNT:
            printer.line(f"  and {len(one.causes) - _PARTS_COUNT} more")
    for one_help in one.helps:
        digits = f", needs {one_help.digits_count} digits" if one_help.digits_count else ""
        printer.line(f"  {'fits' if one_help.fits else 'does not fit'}{digits}: {one_help.words}")
    if one.remedy:
        printer.line(one.remedy)


COMMAND: Final = why
