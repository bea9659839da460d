"""`change`: one edit, what must follow from it, and the work that it makes."""

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from doorwright.app.change_book import Changed, change_book
from doorwright.app.means import Means
from doorwright.app.recheck import Rechecked
from doorwright.app.vault import has_vault
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.cli.touches import print_touches
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted, counted_all
from doorwright.model.unit import SecretUse
from doorwright.model.walk import Walk
from doorwright.plan.edits.dwellings import add_dwelling, merge_dwellings, remove_dwelling
from doorwright.plan.edits.edit import Edit
from doorwright.plan.edits.moving import move_unit
from doorwright.plan.edits.profiling import renew_profile
from doorwright.plan.edits.renaming import rename
from doorwright.plan.edits.renewing import new_secret, new_subnet
from doorwright.plan.edits.replacing import replace_unit

F = TypeVar("F", bound=Callable[..., Any])

_USES: Final = {"device": SecretUse.DEVICE, "sip": SecretUse.SIP}
_ISSUES_MOST: Final = 12
_FINDINGS_MOST: Final = 12


@click.group(
    name="change",
    epilog="\b\nExample:\n  doorwright change tower.book replace 'URU 12' --serial K40310999 --mac 00-00-5E-00-53-F1\n"
    "  doorwright change tower.book add-dwelling 14A --core 'Stair A' --level 3\n"
    "  doorwright change tower.book rename 'Stair A/14' --to 14B --dry-run",
)
@options.book
@click.pass_context
def change(context: click.Context, book: Path) -> None:
    """Make one change. What must follow is issued with it, and nothing else in the plan moves.

    Parts are named by their label; where several are called alike, by "core/label".
    """
    context.obj = book


def _edit(*, name: str, example: str) -> Callable[[F], click.Command]:
    """Make a subcommand with what every edit takes: --dry-run, --out, --passphrase-file, --by."""

    def make(function: F) -> click.Command:
        made = options.command(name=name, example=f"doorwright change tower.book {example}")(click.pass_obj(function))
        made.params += [
            click.Option(["--dry-run"], is_flag=True, help="Show what would come of it, and save nothing."),
            click.Option(
                ["--out"],
                type=click.Path(path_type=Path, file_okay=False),
                help="Folder for the touch list on paper (touch-list.pdf).",
            ),
        ]
        options.passphrase_file(made)
        options.by(made)
        change.add_command(made)
        return made

    return make


def _carry_out(
    printer: Printer,
    book: Path,
    edit_of: Callable[[Walk, Means], Edit],
    *,
    dry_run: bool,
    out: Path | None,
    passphrase_file: Any,
    by: str | None,
    needs_vault: bool = False,
    recheck: bool = False,
) -> None:
    if dry_run and out is not None:
        raise Refused("a dry run has no paper", remedy="Leave --dry-run or --out away.")
    passphrase = None if dry_run else options.given_passphrase(passphrase_file)
    if passphrase is None and not dry_run and (needs_vault or (has_vault(book) and printer.can_ask)):
        passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer, by) as means:
        changed = change_book(
            book,
            lambda walk: edit_of(walk, means),
            means,
            passphrase=passphrase,
            dry_run=dry_run,
            out=out,
            recheck=recheck,
        )
    printer.result(changed)
    _print(printer, book, changed)


def _print(printer: Printer, book: Path, changed: Changed) -> None:
    printer.line(
        f"Revision {changed.revision}: {changed.message}" if changed.saved else f"Not saved: {changed.message}"
    )
    for line in changed.told:
        printer.line(f"  {line}")
    counts: dict[str, int] = {}
    for issue in changed.issues:
        counts[issue.what] = counts.get(issue.what, 0) + 1
    if len(changed.issues) > _ISSUES_MOST:
        printer.line(f"Issued: {counted_all(counts)}")
    else:
        for issue in changed.issues:
            printer.line(f"Issued to {issue.part}: {issue.what} {issue.value} ({issue.why})")
    for trouble in changed.troubles:
        printer.line(f"Trouble: {trouble.problem}. {trouble.remedy}")
    if changed.secrets_waiting_count:
        waiting = counted(changed.secrets_waiting_count, "secret")
        printer.line(f"Still to be made: {waiting}, for which the vault must be open: doorwright plan {book}")
    if changed.rechecked is not None:
        _print_rechecked(printer, changed.rechecked)
    print_touches(printer, changed.touches)
    if changed.files:
        print_files(printer, changed.files)


def _print_rechecked(printer: Printer, rechecked: Rechecked) -> None:
    groups = (
        ("The rules find now", [finding.message for finding in rechecked.came]),
        ("The rules no longer find", [finding.message for finding in rechecked.went]),
        ("Can no longer be checked", [one.rule for one in rechecked.no_longer_checked]),
        ("Can be checked now", [one.rule for one in rechecked.checked_now]),
    )
    if not any(said for _, said in groups):
        printer.line("The rules say what they said before.")
    for heading, said in groups:
        if said:
            printer.heading(heading)
        for text, count in list(Counter(said).items())[:_FINDINGS_MOST]:
            printer.line(f"   {text}" + (f" ({count} times)" if count > 1 else ""))
        more = len(set(said)) - _FINDINGS_MOST
        if more > 0:
            printer.line(f"   and {more} more (all with --json)")


@_edit(name="replace", example="replace 'URU 12' --serial K40310999 --mac 00-00-5E-00-53-F1")
@click.argument("unit")
@click.option("--serial", required=True, help="Serial number of the new box.")
@click.option("--mac", help="Its MAC address.")
@click.option("--profile", metavar="KEY", help="Its type, where that is another one.")
@click.option("--firmware", metavar="VERSION", help="Its firmware version. Without it: not known.")
def _replace(
    book: Path, printer: Printer, unit: str, serial: str, mac: str | None, profile: str | None, firmware: str | None,
    **given: Any,
) -> None:  # fmt: skip
    """Put another box in the place of a unit or switch. Number, address, keys, port and secrets stay."""
    _carry_out(
        printer,
        book,
        lambda walk, means: replace_unit(
            walk, unit, serial=serial, mac=mac, profile=profile, firmware=firmware, profiles=_types(walk, means)
        ),
        **given,
    )


@_edit(name="add-dwelling", example="add-dwelling 14A --core 'Stair A' --level 3")
@click.argument("label")
@click.option("--core", required=True, help="What its core is called.")
@click.option("--level", required=True, help="What its level is called.")
@click.option("--type", "profile", metavar="PROFILE", help="Type of its receiver. Default: what most of the core have.")
@click.option("--serial", help="Serial number of its receiver.")
@click.option("--mac", help="MAC address of its receiver.")
def _add_dwelling(
    book: Path, printer: Printer, label: str, core: str, level: str, profile: str | None, serial: str | None,
    mac: str | None, **given: Any,
) -> None:  # fmt: skip
    """Add a dwelling with a receiver: it gets a number, keys, an address, a registrar and secrets."""
    _carry_out(
        printer,
        book,
        lambda walk, means: add_dwelling(
            walk, label, core=core, level=level, profile=profile, serial=serial, mac=mac,
            profiles=_types(walk, means), new_id=means.new_id,
        ),
        **given,
    )  # fmt: skip


@_edit(name="merge-dwellings", example="merge-dwellings 14 14A")
@click.argument("keep")
@click.argument("others", nargs=-1, required=True)
def _merge_dwellings(book: Path, printer: Printer, keep: str, others: tuple[str, ...], **given: Any) -> None:
    """Make one dwelling of several: the first takes over the receivers of the others, whose numbers and keys go."""
    _carry_out(printer, book, lambda walk, _: merge_dwellings(walk, keep, others), **given)


@_edit(name="remove-dwelling", example="remove-dwelling 14A")
@click.argument("label")
def _remove_dwelling(book: Path, printer: Printer, label: str, **given: Any) -> None:
    """Give a dwelling up, with its receivers, keys and number."""
    _carry_out(printer, book, lambda walk, _: remove_dwelling(walk, label), **given)


@_edit(name="move", example="move 'URU 12' --to 'Stair A/14'")
@click.argument("unit")
@click.option("--to", required=True, metavar="WHERE", help="A dwelling, entrance or place, as the kind of unit asks.")
def _move(book: Path, printer: Printer, unit: str, to: str, **given: Any) -> None:
    """Move a unit or switch elsewhere. Its address and cable run stay; its place in the group is issued anew."""
    _carry_out(printer, book, lambda walk, _: move_unit(walk, unit, to), **given)


@_edit(name="rename", example="rename 14A --to 14B")
@click.argument("part")
@click.option("--to", required=True, metavar="NAME", help="The new name, or what is to stand on the door.")
def _rename(book: Path, printer: Printer, part: str, to: str, **given: Any) -> None:
    """Call a part something else. A dwelling keeps its call number."""
    _carry_out(printer, book, lambda walk, _: rename(walk, part, to), **given)


@_edit(name="new-secret", example="new-secret 'VCU Main' --use sip")
@click.argument("unit")
@click.option("--use", type=click.Choice(tuple(_USES)), help="Which of its secrets. Default: all.")
def _new_secret(book: Path, printer: Printer, unit: str, use: str | None, **given: Any) -> None:
    """Make new secrets for a unit or switch. The old ones stay in the vault's history."""
    _carry_out(
        printer, book, lambda walk, _: new_secret(walk, unit, _USES[use] if use else None), needs_vault=True, **given
    )


@_edit(name="new-subnet", example="new-subnet Dwellings --cidr 198.51.100.0/24 --gateway 198.51.100.1")
@click.argument("subnet")
@click.option("--cidr", required=True, metavar="RANGE", help="The new range, such as 198.51.100.0/24.")
@click.option("--gateway", metavar="ADDRESS", help="The new gateway. Default: the old one, if it lies in the range.")
def _new_subnet(book: Path, printer: Printer, subnet: str, cidr: str, gateway: str | None, **given: Any) -> None:
    """Give a subnet another range. Only addresses that the new range cannot have are issued anew."""
    _carry_out(printer, book, lambda walk, _: new_subnet(walk, subnet, cidr=cidr, gateway=gateway), **given)


@_edit(name="renew-profile", example="renew-profile uru-video --dry-run")
@click.argument("key")
def _renew_profile(book: Path, printer: Printer, key: str, **given: Any) -> None:
    """Take a corrected data sheet of a type into the book, and check again. Parts keep what was issued to them.

    The book keeps the data sheet that the plan was made with. KEY is the profile's name in its file. What differs is
    told, and what the rules find now and did not before.
    """
    _carry_out(printer, book, lambda walk, means: renew_profile(walk, key, means.profiles()), recheck=True, **given)


def _types(walk: Walk, means: Means) -> dict[str, Any]:
    """Return the types to choose from: this machine's, and the site's own, which stand as they were taken in."""
    return {**means.profiles(), **{profile.key: profile for profile in walk.settings().profiles}}


COMMAND: Final = change
