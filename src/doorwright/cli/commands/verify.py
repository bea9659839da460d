"""`verify`: ask the real building over its network whether it is as planned."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click
from click.core import ParameterSource

from doorwright.app.ask_further import Further, FurtherAsks, ask_further
from doorwright.app.means import Means
from doorwright.app.tell_verified import HEADINGS, NOT_UP, row_of
from doorwright.app.verify_book import CAUTION, KEEP_MINUTES, is_permitted, verify_book
from doorwright.app.verify_registrations import VerifiedRegistrations
from doorwright.app.verify_rehearsed import FAST_PER_S, verify_rehearsed
from doorwright.app.verify_rehearsed_registrations import joined
from doorwright.cli import options
from doorwright.cli.asked import asked_as_json, print_asked
from doorwright.cli.beside import print_compared, print_rehearsed
from doorwright.cli.main import FINDINGS, FINE
from doorwright.cli.over_sip import (
    Given,
    ask_registrars,
    make_call,
    over_sip_options,
    passphrase_of,
    print_registrations,
    registrations_as_json,
    see_fitting,
)
from doorwright.cli.printer import Printer
from doorwright.cli.switch_keys import Given as FurtherGiven
from doorwright.cli.switch_keys import keys_of, switch_options
from doorwright.cli.switched import further_as_json, print_further
from doorwright.loopback.places import Ports as RehearsedPorts
from doorwright.probe.ask import Manner
from doorwright.probe.heard import Heard
from doorwright.probe.runner import ASKS_PER_S, AT_ONCE_COUNT
from doorwright.probe.target import Ports

_PORT: Final = click.IntRange(0, 65535)


@options.command(
    name="verify",
    example="doorwright verify tower.book --permitted\n"
    'doorwright verify tower.book --only "URU 101" --only S1 --again\n'
    "doorwright verify tower.book --rate 5 --https-port 8443 --rtsp-port 0\n"
    "doorwright verify tower.book --discover --snmp 3 --snmp-user reader\n"
    "doorwright verify tower.book --rehearsed\n"
    "doorwright verify tower.book --registrations --passphrase-file passphrase.txt\n"
    'doorwright verify tower.book --call "URU 101" --may-ring\n'
    'doorwright verify tower.book --rehearsed --call "URU 101"',
)
@options.book
@click.option("--permitted", is_flag=True, help="The network's owner permits it. Said once, the book remembers.")
@click.option(
    "--only", multiple=True, metavar="NAME", help="Ask only this unit, switch or server. May be given several times."
)
@click.option("--again", is_flag=True, help="Ask also those who were asked a short while ago.")
@click.option(
    "--keep-minutes", type=click.FloatRange(0, 10_080), default=KEEP_MINUTES, show_default=True,
    help="For how long an answer is good, so that a run that was stopped goes on.",
)  # fmt: skip
@click.option(
    "--rate", "asks_per_s", type=click.FloatRange(0.1, 1000), default=ASKS_PER_S, show_default=True,
    help="Asks a second at most, over all; each repetition counts.",
)  # fmt: skip
@click.option(
    "--at-once", "at_once_count", type=click.IntRange(1, 256), default=AT_ONCE_COUNT, show_default=True,
    help="Parts asked at the same time.",
)  # fmt: skip
@click.option(
    "--patience", "patience_s", type=click.FloatRange(0.1, 60), default=Manner().patience_s, show_default=True,
    help="Seconds to wait for an answer.",
)  # fmt: skip
@click.option("--http-port", type=_PORT, default=80, show_default=True, help="Port asked over HTTP; 0 asks none.")
@click.option("--https-port", type=_PORT, default=443, show_default=True, help="Port asked over HTTPS; 0 asks none.")
@click.option(
    "--rtsp-port", type=_PORT, default=554, show_default=True, help="Port of call units asked over RTSP; 0 asks none."
)
@click.option(
    "--sip-port", type=_PORT, default=5060, show_default=True,
    help="Port of units asked over SIP; 0 asks none. A server's own is in the plan.",
)  # fmt: skip
@click.option(
    "--rehearsed", is_flag=True,
    help="Ask the building that `rehearse --wire` holds up on this machine, at its ports (8080, 8554) unless told"
    " others, and as fast as it can. Needs nobody's permission; nothing of it counts as found.",
)  # fmt: skip
@click.option("--ping/--no-ping", "pings", default=True, show_default=True, help="Send an echo request as well.")
@over_sip_options
@switch_options
@options.by
def verify(
    printer: Printer,
    book: Path,
    only: tuple[str, ...],
    keep_minutes: float,
    asks_per_s: float,
    at_once_count: int,
    patience_s: float,
    http_port: int,
    https_port: int,
    rtsp_port: int,
    sip_port: int,
    by: str | None,
    *,
    permitted: bool,
    again: bool,
    pings: bool,
    rehearsed: bool,
    over_sip: Given,
    further: FurtherGiven,
) -> int:
    """Ask every unit, switch and SIP server at its planned address, and set what was found beside the plan.

    Only addresses of the plan are asked, one ask after the other: ping, SIP OPTIONS, the head of the first page over
    HTTPS and HTTP with the dates of the certificate, RTSP OPTIONS; and this machine's own table says which MAC address
    answered. Nothing is changed and no password is sent. Each answer is in the book at once: a run that was stopped
    goes on where it was. Ends with 1 where something differs from the plan.

    With --registrations each registrar is asked as well whether it takes its units' secrets and where it knows them to
    be; with --snmp each switch tells what hangs at its ports. With --call one unit is called instead: it rings there,
    and the speech of the call is measured and rated.
    """
    see_fitting(over_sip)
    asks_per_s = asks_per_s if not rehearsed or _is_told("asks_per_s") else FAST_PER_S
    permitted = permitted or rehearsed or _asked_for_permission(printer, book)
    manner = Manner(
        asks_per_s=asks_per_s,
        at_once_count=at_once_count,
        patience_s=patience_s,
        sip_patience_s=max(patience_s, Manner().sip_patience_s),
        ports=Ports(http=http_port or None, https=https_port or None, rtsp=rtsp_port or None, sip=sip_port or None),
        pings=pings,
    )
    if over_sip.call is not None:
        there_at = _ports_there() if rehearsed else None
        return make_call(printer, book, over_sip, manner=manner, permitted=permitted, by=by, rehearsed_at=there_at)
    with options.means(printer, by) as means:
        still = replace(means, progress=lambda _: None)  # a table moves here, and two moving things would clash
    ask = _Ask(printer, book, still, manner=manner, only=only, over_sip=over_sip)
    if rehearsed:
        return ask.rehearsed(_ports_there())
    return ask.real(further, permitted=permitted, again=again, keep_minutes=keep_minutes)


class _Ask:
    """One run of the command: who is asked, and how; then what was heard is told."""

    def __init__(
        self,
        printer: Printer,
        book: Path,
        means: Means,
        *,
        manner: Manner,
        only: tuple[str, ...],
        over_sip: Given,
    ) -> None:
        self._printer = printer
        self._book = book
        self._means = means
        self._manner = manner
        self._only = only
        self._over_sip = over_sip

    def real(self, further: FurtherGiven, *, permitted: bool, again: bool, keep_minutes: float) -> int:
        """Ask the real building, its switches and registrars, and return the exit code."""
        passphrase = passphrase_of(self._over_sip)
        keys = keys_of(further, passphrase, self._over_sip.passphrase_file)
        with self._table() as listen:
            verified = verify_book(
                self._book, self._means, manner=self._manner, only=self._only, permitted=permitted, again=again,
                keep_minutes=keep_minutes, listen=listen,
            )  # fmt: skip
        registered = self._registered(passphrase, permitted=permitted)
        if registered is not None:
            verified = replace(verified, compared=registered.compared)
        asks = FurtherAsks(
            discovery_port=further.discovery_port or None, everywhere=further.everywhere, keys=keys,
            snmp_port=further.snmp_port,
        )  # fmt: skip
        there = frozenset(one.target.subject for one in verified.heard if one.is_there)
        beyond = ask_further(
            self._book, self._means, asks, manner=self._manner, only=self._only, there=there, permitted=permitted
        )
        verified = replace(verified, compared=beyond.compared(verified.compared))
        self._printer.result(asked_as_json(verified) | _registrations(registered) | further_as_json(beyond))
        print_asked(self._printer, verified)
        if registered is not None:
            print_registrations(self._printer, registered)
        print_further(self._printer, beyond, everywhere=further.everywhere)
        print_compared(self._printer, verified.compared)
        return FINDINGS if verified.compared.differences else FINE

    def rehearsed(self, ports: RehearsedPorts) -> int:
        """Ask the building that is rehearsed on this machine, and return the exit code."""
        passphrase = passphrase_of(self._over_sip)
        with self._table() as listen:
            verified = verify_rehearsed(
                self._book, self._means, manner=self._manner, ports=ports, only=self._only, listen=listen
            )
        registered = self._registered(passphrase, permitted=True, rehearsed_at=ports)
        if registered is not None:
            verified = replace(verified, compared=joined(verified.compared, registered.compared))
        self._printer.result(asked_as_json(verified) | _registrations(registered) | further_as_json(Further()))
        print_asked(self._printer, verified)
        if not any(one.is_there for one in verified.heard):
            self._printer.line(NOT_UP)
        if registered is not None:
            print_registrations(self._printer, registered, rehearsed=True)
        print_rehearsed(self._printer, verified.compared)
        return FINDINGS if verified.compared.lines else FINE

    @contextmanager
    def _table(self) -> Iterator[Callable[[Heard, int, int], None]]:
        with self._printer.live(HEADINGS) as show:

            def listen(heard: Heard, count: int, of_count: int) -> None:
                show(row_of(heard), f"asked {count} of {of_count}, at most {self._manner.asks_per_s:g} asks a second")

            yield listen

    def _registered(
        self, passphrase: str | None, *, permitted: bool, rehearsed_at: RehearsedPorts | None = None
    ) -> VerifiedRegistrations | None:
        if not self._over_sip.registrations:
            return None
        return ask_registrars(
            self._printer, self._book, self._means, manner=self._manner, passphrase=passphrase, only=self._only,
            permitted=permitted, rehearsed_at=rehearsed_at,
        )  # fmt: skip


def _registrations(registered: VerifiedRegistrations | None) -> dict[str, Any]:
    return {} if registered is None else {"registrations": registrations_as_json(registered)}


def _is_told(option: str) -> bool:
    """Say whether somebody gave an option, so that its usual value does not hold."""
    return click.get_current_context().get_parameter_source(option) is ParameterSource.COMMANDLINE


def _ports_there() -> RehearsedPorts:
    """Return at which ports the rehearsed parts listen: those that were given, else those of `rehearse --wire`."""
    given = click.get_current_context().params
    told = {name: given[f"{name}_port"] for name in ("sip", "http", "rtsp")}
    return replace(RehearsedPorts(), **{name: port for name, port in told.items() if port and _is_told(f"{name}_port")})


def _asked_for_permission(printer: Printer, book: Path) -> bool:
    """Show the caution before a book's first run, and ask where somebody can answer."""
    if is_permitted(book) or printer.as_json or not printer.can_ask:
        return False
    return printer.ask(f"{CAUTION}\n\nDoes the owner of the network permit it?")


COMMAND: Final = verify
