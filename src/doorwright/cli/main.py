"""The command `doorwright`: its commands, and what its exit codes mean."""

import sys
import traceback
from collections.abc import Sequence
from typing import Final

import click

from doorwright import __version__
from doorwright.cli.commands import building, papers, past, planning, vault
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Refused

FINE: Final = 0
FINDINGS: Final = 1
REFUSED: Final = 2
OUR_FAULT: Final = 70  # EX_SOFTWARE of sysexits.h

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


@click.group(epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="doorwright")
def cli() -> None:
    """Plan, prove, commission and record IP video door entry for buildings with many homes."""


for module in (building, planning, papers, past, vault):
    for command in module.COMMANDS:
        cli.add_command(command)


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code."""
    printer = Printer(as_json="--json" in arguments)
    try:
        code = cli.main(list(arguments), prog_name="doorwright", standalone_mode=False)
    except click.ClickException as misused:
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


def main() -> None:
    """Run the command line of this process."""
    sys.exit(run(sys.argv[1:]))
