"""The printer on a terminal: nothing is cut off, and nothing in the text is taken for an instruction."""

import io
import re
from collections.abc import Callable
from contextlib import redirect_stdout

import pytest

from doorwright.cli.printer import Printer

Screen = Callable[[Callable[[Printer], None]], str]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def on_terminal(monkeypatch: pytest.MonkeyPatch) -> Screen:
    """Return what a terminal of 40 columns shows of what is printed, colours aside."""
    for name, value in {"COLUMNS": "40", "TERM": "xterm"}.items():
        monkeypatch.setenv(name, value)

    def shown(prints: Callable[[Printer], None]) -> str:
        with redirect_stdout(Terminal()) as screen:
            prints(Printer(as_json=False))
        return re.sub(r"\x1b\[[0-9;]*m", "", screen.getvalue())

    return shown


def test_a_narrow_terminal_folds_cells_and_cuts_nothing(on_terminal: Screen) -> None:
    headings = ("door", "fails", "entrance", "escape")
    row = ("Front door of the north stair", "fail-secure", "Entrance North", "emergency release")
    shown = on_terminal(lambda printer: printer.table(headings, [row]))
    assert len(shown.splitlines()) > 2, "it does not fit on one line"
    assert "…" not in shown
    assert sorted("".join(shown.split())) == sorted("".join((*headings, *row)).replace(" ", ""))


def test_text_is_shown_as_it_is(on_terminal: Screen) -> None:
    shown = on_terminal(lambda printer: printer.line("[bold]1[/bold] :warning: \\[x]"))
    assert shown.strip() == "[bold]1[/bold] :warning: \\[x]"
