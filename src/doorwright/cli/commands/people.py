"""The command `doorwright people`: who may come in over the network."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.people import add_person, change_role, list_people, remove_person
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.person import Role

_ROLE: Final = click.Choice([role.value for role in Role])


@click.group(
    name="people",
    epilog="\b\nExample:\n  doorwright people people.json add 'Ada Planner' --role admin\n"
    "  doorwright people people.json list\n  doorwright serve books --host 192.0.2.10 --people people.json",
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_context
def people(context: click.Context, file: Path) -> None:
    """Say who may come in over the network, and in which role.

    look reads; work records what is done and seen on site; plan changes books and opens their vaults; admin also
    changes who may come in. FILE keeps no password, only what each is checked against.
    """
    context.obj = file


@options.command(name="list", example="doorwright people people.json list")
@click.pass_obj
def list_(file: Path, printer: Printer) -> None:
    """List everybody and their roles."""
    everybody = list_people(file)
    printer.result(everybody)
    printer.table(("name", "role"), [(person.name, person.role.value) for person in everybody])


@options.command(name="add", example="doorwright people people.json add 'Ada Planner' --role plan")
@click.argument("name")
@click.option("--role", type=_ROLE, required=True, help="What they may do.")
@click.option(
    "--password-file",
    type=click.File("r", encoding="utf-8"),
    help="File whose first line is the password; - reads standard input. Else you are asked.",
)
@click.pass_obj
def add(file: Path, printer: Printer, name: str, *, role: str, password_file: Any) -> None:
    """Add somebody, or give somebody who is there a new password and role."""
    password = options.password_from(password_file)
    person = add_person(file, name, Role(role), password)
    printer.result(person)
    printer.line(f"{person.name} may come in with the role {person.role.value}.")


@options.command(name="role", example="doorwright people people.json role 'Ada Planner' admin")
@click.argument("name")
@click.argument("role", type=_ROLE)
@click.pass_obj
def role_(file: Path, printer: Printer, name: str, role: str) -> None:
    """Give somebody another role."""
    change_role(file, name, Role(role))
    printer.result({"name": name, "role": role})
    printer.line(f"{name} has the role {role} now.")


@options.command(name="remove", example="doorwright people people.json remove 'Ada Planner'")
@click.argument("name")
@click.pass_obj
def remove(file: Path, printer: Printer, name: str) -> None:
    """Send somebody away: their password opens nothing any more."""
    remove_person(file, name)
    printer.result({"removed": name})
    printer.line(f"{name} may not come in any more.")


for _command in (list_, add, role_, remove):
    people.add_command(_command)

COMMAND: Final = people
