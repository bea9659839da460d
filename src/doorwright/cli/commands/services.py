"""`services`: files for general-purpose servers."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.write_services import ServiceKind, write_services
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files, print_remarks
from doorwright.kernel.errors import Refused
from doorwright.render.services import DIGESTS

_EXAMPLES: Final = (
    "doorwright services tower.book --out tower-servers",
    "doorwright services tower.book --kind kamailio --kind zone --with-secrets",
    "doorwright services tower.book --rehearsed --with-secrets --out sip-here",
)


@options.command(name="services", example="\n".join(_EXAMPLES))
@options.book
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder. Default: BOOK-servers.")
@click.option(
    "--kind", "kinds", type=click.Choice([kind.value for kind in ServiceKind]), multiple=True,
    help="Only for this server. May be given several times. Default: all.",
)  # fmt: skip
@click.option(
    "--digest", type=click.Choice(list(DIGESTS)), default=next(iter(DIGESTS)), show_default=True,
    help="How SIP users prove themselves; SHA-256 where every unit knows it.",
)  # fmt: skip
@click.option(
    "--with-secrets", is_flag=True,
    help="Write the SIP users' digest hashes too, into private files. They are secrets; the book notes who asked.",
)  # fmt: skip
@click.option("--replace", is_flag=True, help="Write over files that are there with other content.")
@click.option(
    "--rehearsed", is_flag=True,
    help="For a kamailio on this machine that takes the server's place in `rehearse --wire`: with loopback addresses.",
)  # fmt: skip
@options.passphrase_file
@options.by
def services(
    printer: Printer,
    book: Path,
    out: Path | None,
    kinds: tuple[str, ...],
    digest: str,
    with_secrets: bool,
    replace: bool,
    passphrase_file: Any,
    by: str | None,
    *,
    rehearsed: bool,
) -> None:
    """Write files for general-purpose servers, from the plan.

    kamailio: SIP registrar and forking. kea, dnsmasq: DHCP, the planned address for each MAC address. zone: DNS by
    which units find the SIP server (BIND's form). ntp: the time (chrony). What the site has and no file can say is
    told. Let whoever runs the network look at the files before a server reads them.
    """
    if rehearsed and set(kinds) - {ServiceKind.KAMAILIO}:
        raise Refused("only a SIP server is rehearsed with", remedy="Leave --kind out, or give --kind kamailio.")
    usual = (ServiceKind.KAMAILIO,) if rehearsed else tuple(ServiceKind)
    given = options.passphrase_from(passphrase_file, "Passphrase of the vault") if with_secrets else None
    with options.means(printer, by) as means:
        written = write_services(
            book,
            out or book.with_name(f"{book.stem}-servers"),
            means,
            kinds=tuple(ServiceKind(kind) for kind in kinds) or usual,
            digest=digest,
            passphrase=given,
            replace=replace,
            rehearsed=rehearsed,
        )
    printer.result(written)
    print_files(printer, written.files)
    print_remarks(printer, "Not in the files, or to be seen to", written.remarks)
    for path in written.private:
        printer.line(f"SECRET: {path} holds digest hashes. Carry it to its server alone, then remove it here.")


COMMAND: Final = services
