"""The command `doorwright`: its commands, and what its exit codes mean."""

import gc
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from typing import Final

import click

from doorwright import __version__
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Refused

FINE: Final = 0
FINDINGS: Final = 1
REFUSED: Final = 2
OUR_FAULT: Final = 70  # EX_SOFTWARE of sysexits.h

_MODULES: Final = {
    "demo": "demo",
    "template": "template",
    "new": "new",
    "import": "import_",
    "vault": "vault",
    "place": "place",
    "plan": "plan",
    "why": "why",
    "change": "change",
    "undo": "undo",
    "check": "check",
    "explain": "explain",
    "waive": "waive",
    "paths": "paths",
    "rehearse": "rehearse",
    "sign-off": "sign_off",
    "work": "work",
    "found": "found",
    "verify": "verify",
    "schedule": "schedule",
    "day": "day",
    "pack": "pack",
    "serve": "serve",
    "people": "people",
    "firmware": "firmware",
    "export": "export",
    "services": "services",
    "show": "show",
    "history": "history",
    "diff": "diff",
}

_EPILOG: Final = f"""\b
Exit codes:
  {FINE}   fine
  {FINDINGS}   findings at or above --fail-on
  {REFUSED}   the request cannot be carried out; nothing was changed
  {OUR_FAULT}  a fault of Doorwright's own

\b
The way through the job:
  doorwright template survey.xlsx
  doorwright new tower.book --from survey.xlsx
  doorwright vault tower.book passphrase
  doorwright plan tower.book
  doorwright check tower.book
  doorwright pack tower.book --out tower-pack
"""


class _OnDemand(click.Group):
    """A group that imports a command's module when the command is asked for: the others cost no start-up time."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  (the signature is click's)
        """Return the names of all commands, in the order of the work."""
        return list(_MODULES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Return the command of a name."""
        if cmd_name not in _MODULES:
            return None
        module = import_module(f"doorwright.cli.commands.{_MODULES[cmd_name]}")
        command: click.Command = module.COMMAND
        return command


@click.group(cls=_OnDemand, epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="doorwright")
def cli() -> None:
    """Plan, prove, commission and record IP video door entry for buildings with many homes."""


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code."""
    printer = Printer(as_json="--json" in arguments)
    try:
        code = cli.main(list(arguments), prog_name="doorwright", standalone_mode=False)
    except click.ClickException as misused:
        if printer.as_json:
            printer.refusal(Refused(misused.format_message(), remedy="How to: doorwright --help"))
        else:
            misused.show()
        return REFUSED
    except click.Abort:
        click.echo("Stopped; nothing more was done.", err=True)
        return REFUSED
    except Refused as refused:
        printer.refusal(refused)
        return REFUSED
    except BrokenPipeError:
        sys.stderr.close()
        return FINE
    except Exception:  # noqa: BLE001  (the last net: our own fault is told apart from the user's)
        click.echo(traceback.format_exc(), err=True)
        click.echo(
            "This is a fault of Doorwright's own, not of what you gave it. Please report the lines above.", err=True
        )
        return OUR_FAULT
    return code if isinstance(code, int) else FINE


def collect_seldom() -> None:
    """Let the garbage collector look seldom, and never at what is there from the start.

    A command builds large values that all live until it ends: the usual thresholds would search them again and again.
    """
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


def main() -> None:
    """Run the command line of this process."""
    collect_seldom()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # it may be missing, or another program's
            # Labels come in any script. Files and programs get UTF-8, as RFC 8259 §8.1 asks for JSON; a terminal gets
            # what it can show.
            stream.reconfigure(encoding=None if stream.isatty() else "utf-8", errors="replace")
    sys.exit(run(sys.argv[1:]))
