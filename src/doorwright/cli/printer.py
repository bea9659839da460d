"""What commands print: tables on a terminal, plain columns in a pipe, JSON where it is asked for.

Results go to standard output; progress and refusals go to standard error.
"""

import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final

import click
from pydantic_core import to_json
from rich.console import Console
from rich.live import Live
from rich.table import Table

from doorwright.kernel.errors import Refused

_PLAIN_GAP: Final = "  "
_LIVE_ROWS: Final = 16
_LIVE_PER_S: Final = 4
_CONTROL_PICTURES: Final = {
    **{code: 0x2400 + code for code in range(0x20) if code != ord("\n")},
    **dict.fromkeys(range(0x7F, 0xA0), 0xFFFD),
}
"""What stands for control characters (Unicode block "Control Pictures"): a survey's text must not steer a terminal."""


class Printer:
    """Where one command's words go."""

    def __init__(self, *, as_json: bool) -> None:
        self.as_json = as_json
        # what is printed comes from surveys: neither [brackets] nor :colons: mean anything in it
        self._out = Console(markup=False, emoji=False, highlight=False, soft_wrap=not sys.stdout.isatty())
        self._err = Console(stderr=True, markup=False, emoji=False, highlight=False, soft_wrap=not sys.stderr.isatty())

    @property
    def can_ask(self) -> bool:
        """Whether somebody sits at a keyboard."""
        return sys.stdin.isatty() and self._err.is_terminal

    def result(self, value: Any) -> None:
        """Print a result as JSON, if JSON was asked for."""
        if self.as_json:
            click.echo(to_json(value, indent=2).decode())

    def line(self, text: str = "", *, style: str = "") -> None:
        """Print a line of text, unless JSON was asked for."""
        if not self.as_json:
            self._out.print(_visible(text), style=style or None)

    def heading(self, text: str) -> None:
        """Print a heading with air above it."""
        self.line()
        self.line(text, style="bold")

    def table(self, headings: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "") -> None:
        """Print a table: ruled on a terminal, aligned columns without rules in a pipe."""
        if self.as_json:
            return
        if title:
            self.heading(title)
        body = [tuple(map(_in_line, row)) for row in rows]
        if self._out.is_terminal:
            table = Table(box=None, pad_edge=False, header_style="dim")
            for heading in headings:
                table.add_column(heading, overflow="fold")  # "fail-…" would hide whether a door fails safe
            for row in body:
                table.add_row(*row)
            self._out.print(table)
            return
        widths = [max(map(len, column)) for column in zip(headings, *body, strict=True)]
        for row in (tuple(headings), *body):
            cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            click.echo(_PLAIN_GAP.join(cells).rstrip())

    @contextmanager
    def live(self, headings: Sequence[str]) -> Iterator[Callable[[Sequence[str], str], None]]:
        """Show rows while they come: on a terminal the latest under a caption, in a pipe each as a line.

        What is given takes a row and the caption that holds from then on.
        """
        if self.as_json:
            yield lambda _row, _caption: None
            return
        if not self._out.is_terminal:
            yield lambda row, _caption: click.echo(_PLAIN_GAP.join(map(_in_line, row)).rstrip())
            return
        rows: deque[tuple[str, ...]] = deque(maxlen=_LIVE_ROWS)

        def table(caption: str) -> Table:
            made = Table(
                box=None, pad_edge=False, header_style="dim", caption=_visible(caption), caption_justify="left"
            )
            for heading in headings:
                made.add_column(heading, overflow="fold")
            for row in rows:
                made.add_row(*row)
            return made

        with Live(table(""), console=self._out, refresh_per_second=_LIVE_PER_S) as shown:

            def show(row: Sequence[str], caption: str) -> None:
                rows.append(tuple(map(_in_line, row)))
                shown.update(table(caption))

            yield show

    def ask(self, question: str) -> bool:
        """Ask whoever sits at the keyboard for a yes or a no; no answer is a no."""
        return click.confirm(question, default=False, err=True)

    @contextmanager
    def progress(self) -> Iterator[Callable[[str], None]]:
        """Show the present step on standard error while a use-case runs, where that is a terminal."""
        if not self._err.is_terminal:
            yield lambda _: None
            return
        with self._err.status("") as status:
            yield lambda step: status.update(_visible(step))

    def refusal(self, refused: Refused) -> None:
        """Say why a request cannot be carried out, with every mistake."""
        if self.as_json:
            click.echo(
                to_json(
                    {"refused": refused.message, "remedy": refused.remedy, "mistakes": list(refused.mistakes)}, indent=2
                ).decode()
            )
            return
        for mistake in refused.mistakes:
            self._err.print(_visible(str(mistake)))
        self._err.print(_visible(refused.message), style="bold")
        if refused.remedy:
            self._err.print(_visible(refused.remedy))


def _in_line(text: str) -> str:
    return _visible(text).replace("\n", " ")


def _visible(text: str) -> str:
    return text.translate(_CONTROL_PICTURES)
