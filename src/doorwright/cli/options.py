"""What several commands take: the book, --json, who asks, the passphrase."""

import functools
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from doorwright.app.means import Means, this_user
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Refused

PASSPHRASE_VARIABLE: Final = "DOORWRIGHT_PASSPHRASE"  # noqa: S105  (the name of a variable)
_PROFILES_VARIABLE: Final = "DOORWRIGHT_PROFILES"

F = TypeVar("F", bound=Callable[..., Any])

book = click.argument("book", type=click.Path(path_type=Path, dir_okay=False))
by = click.option("--by", metavar="NAME", help="Who does this; stands in the history. Default: your user name.")
passphrase_file = click.option(
    "--passphrase-file",
    type=click.File("r", encoding="utf-8"),
    help=f"File whose first line is the vault's passphrase; - reads standard input. "
    f"Else the variable {PASSPHRASE_VARIABLE}, else you are asked.",
)


def command(*, name: str, example: str) -> Callable[[F], click.Command]:
    """Make a command with an example in its help, --json, and a Printer as its first argument."""

    def make(function: F) -> click.Command:
        @functools.wraps(function)
        def wrapped(*arguments: Any, as_json: bool, **options: Any) -> Any:
            return function(Printer(as_json=as_json), *arguments, **options)

        as_json_option = click.Option(["--json", "as_json"], is_flag=True, help="Print JSON.")
        epilog = "\b\nExample:\n" + "\n".join(f"  {line}" for line in example.splitlines())
        made: click.Command = click.command(name, epilog=epilog)(wrapped)
        made.params.append(as_json_option)
        return made

    return make


@contextmanager
def means(printer: Printer, by: str | None = None) -> Iterator[Means]:
    """Give a use-case the world of this machine, with progress shown while it runs."""
    own = Path(click.get_app_dir("doorwright")) / "profiles"
    folders = [own] if own.is_dir() else []
    folders += [Path(name) for name in os.environ.get(_PROFILES_VARIABLE, "").split(os.pathsep) if name]
    with printer.progress() as progress:
        yield replace(Means(who=by or this_user(), profile_folders=tuple(folders)), progress=progress)


def passphrase_from(file: Any, prompt: str, *, confirm: bool = False) -> str:
    """Return the passphrase from the file, the environment, or the keyboard.

    Raises:
        Refused: there is none, and nobody at a keyboard to ask.
    """
    passphrase = given_passphrase(file)
    if passphrase is not None:
        return passphrase
    if not sys.stdin.isatty():
        raise Refused(
            "the vault's passphrase is needed",
            remedy=f"Give --passphrase-file FILE, or set {PASSPHRASE_VARIABLE}.",
        )
    answer: str = click.prompt(prompt, hide_input=True, confirmation_prompt=confirm, err=True)
    return answer


def new_passphrase_from(file: Any) -> str:
    """Return the passphrase that is to replace another, from its file or the keyboard.

    Raises:
        Refused: there is none, and nobody at a keyboard to ask.
    """
    if file is not None:
        return _first_line(file)
    if not sys.stdin.isatty():
        raise Refused("the new passphrase is needed", remedy="Give --new-passphrase-file FILE.")
    answer: str = click.prompt(
        "New passphrase (15 characters or more)", hide_input=True, confirmation_prompt=True, err=True
    )
    return answer


def password_from(file: Any) -> str:
    """Return somebody's password for the network from its file or the keyboard.

    Raises:
        Refused: there is none, and nobody at a keyboard to ask.
    """
    if file is not None:
        return _first_line(file)
    if not sys.stdin.isatty():
        raise Refused("the password is needed", remedy="Give --password-file FILE.")
    answer: str = click.prompt("Password (15 characters or more)", hide_input=True, confirmation_prompt=True, err=True)
    return answer


def given_passphrase(file: Any) -> str | None:
    """Return the passphrase from the file or the environment, or None."""
    if file is not None:
        return _first_line(file)
    return os.environ.get(PASSPHRASE_VARIABLE) or None


def _first_line(file: Any) -> str:
    """Return the first line of a file that the user named.

    Raises:
        Refused: it is not UTF-8 (some shells write UTF-16).
    """
    try:
        line: str = file.readline()
    except UnicodeDecodeError as error:
        raise Refused(f"{file.name} is no text in UTF-8", remedy="Save it as plain text in UTF-8.") from error
    return line.removeprefix("\ufeff").rstrip("\r\n")
