"""`sign-off`: record a person's word that something was tested, certified or received."""

from datetime import datetime
from pathlib import Path
from typing import Final

import click

from doorwright.app.sign_off import Listed, list_sign_offs
from doorwright.app.sign_off import sign_off as record
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_list
from doorwright.kernel.signoff import Statement

_DAY: Final = click.DateTime(["%Y-%m-%d"])
_HEADINGS: Final = ("statement", "of", "name", "role", "on", "until", "state")


@options.command(
    name="sign-off",
    example='doorwright sign-off tower.book "escape route release tested" --part "Main door" --name "A. Warden"'
    ' --role "responsible for fire safety" --until 2027-11-30\n'
    "doorwright sign-off tower.book --list",
)
@options.book
@click.argument("statement", required=False, type=click.Choice([one.value for one in Statement], case_sensitive=False))
@click.option("--part", metavar="LABEL", help="The part that it is said of. Default: the whole site.")
@click.option("--name", help="The person whose word it is.")
@click.option("--role", help="As what the person gives it, such as responsible for fire safety.")
@click.option("--on", "day", type=_DAY, help="The day of the test, certificate or receipt. Default: today.")
@click.option("--until", type=_DAY, help="The last day on which it counts. Default: no end.")
@click.option("--list", "list_all", is_flag=True, help="List every sign-off that the book keeps.")
@options.by
def sign_off(
    printer: Printer,
    book: Path,
    statement: str | None,
    part: str | None,
    name: str | None,
    role: str | None,
    day: datetime | None,
    until: datetime | None,
    by: str | None,
    *,
    list_all: bool,
) -> None:
    """Record the word of a competent person on something that only people can test, certify or receive.

    Doorwright keeps what was said, by whom and when. It approves nothing, and does not know whether it is true.
    """
    if list_all:
        if any(one is not None for one in (statement, part, name, role, day, until)):
            raise click.UsageError("--list shows what is there; leave the statement out, and all that belongs to it")
        with options.means(printer) as means:
            listed = list_sign_offs(book, means)
        print_list(printer, listed, _HEADINGS, _row, none="The book keeps no sign-offs yet.")
        return
    if statement is None or name is None or role is None:
        raise click.UsageError("a statement, --name and --role are needed")
    with options.means(printer, by) as means:
        given = record(
            book,
            Statement(statement),
            means,
            name=name,
            role=role,
            part=part,
            on=day.date() if day else None,
            until=until.date() if until else None,
        )
    printer.result(given)
    printer.line(f"Recorded, not approved: {given}.")


def _row(one: Listed) -> tuple[str, ...]:
    said = one.sign_off
    return said.statement, one.label, said.name, said.role, f"{said.on}", f"{said.until or ''}", one.state


COMMAND: Final = sign_off
