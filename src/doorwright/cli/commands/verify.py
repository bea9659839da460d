"""`verify`: ask the real building over its network whether it is as planned."""

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.verify_book import CAUTION, KEEP_MINUTES, Verified, is_permitted, verify_book
from doorwright.cli import options
from doorwright.cli.beside import compared_as_json, print_compared
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.model.aspect import Aspect, with_unit
from doorwright.probe.ask import Manner
from doorwright.probe.heard import Heard
from doorwright.probe.runner import ASKS_PER_S, AT_ONCE_COUNT
from doorwright.probe.target import Ports

_HEADINGS: Final = ("part", "address", "answers", "SIP", "web", "RTSP", "clock", "certificate until", "MAC address")
_NAMES_MOST: Final = 12
_PORT: Final = click.IntRange(0, 65535)


@options.command(
    name="verify",
    example="doorwright verify tower.book --permitted\n"
    'doorwright verify tower.book --only "URU 101" --only S1 --again\n'
    "doorwright verify tower.book --rate 5 --https-port 8443 --rtsp-port 0",
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
@click.option("--ping/--no-ping", "pings", default=True, show_default=True, help="Send an echo request as well.")
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
) -> int:
    """Ask every unit, switch and SIP server at its planned address, and set what was found beside the plan.

    Only addresses of the plan are asked, one ask after the other: ping, SIP OPTIONS, the head of the first page over
    HTTPS and HTTP with the dates of the certificate, RTSP OPTIONS; and this machine's own table says which MAC address
    answered. Nothing is changed and no password is sent. Each answer is in the book at once: a run that was stopped
    goes on where it was. Ends with 1 where something differs from the plan.
    """
    permitted = permitted or _asked_for_permission(printer, book)
    manner = Manner(
        asks_per_s=asks_per_s,
        at_once_count=at_once_count,
        patience_s=patience_s,
        sip_patience_s=max(patience_s, Manner().sip_patience_s),
        ports=Ports(http=http_port or None, https=https_port or None, rtsp=rtsp_port or None, sip=sip_port or None),
        pings=pings,
    )
    with options.means(printer, by) as means:
        still = replace(means, progress=lambda _: None)  # a table moves here, and two moving things would clash
    with printer.live(_HEADINGS) as show:

        def listen(heard: Heard, count: int, of_count: int) -> None:
            show(_row(heard), f"asked {count} of {of_count}, at most {asks_per_s:g} asks a second")

        verified = verify_book(
            book, still, manner=manner, only=only, permitted=permitted, again=again, keep_minutes=keep_minutes,
            listen=listen,
        )  # fmt: skip
    printer.result(_as_json(verified))
    _print(printer, verified)
    return 1 if verified.compared.differences else 0


def _asked_for_permission(printer: Printer, book: Path) -> bool:
    """Show the caution before a book's first run, and ask where somebody can answer."""
    if is_permitted(book) or printer.as_json or not printer.can_ask:
        return False
    return printer.ask(f"{CAUTION}\n\nDoes the owner of the network permit it?")


def _row(heard: Heard) -> tuple[str, ...]:
    answers = {True: "yes", False: "no", None: "no way there"}[heard.is_there]
    return (
        heard.target.name,
        heard.target.address,
        answers,
        heard.sip.text if heard.sip and heard.is_there else "-",
        heard.web.text if heard.web and heard.is_there else "-",
        heard.rtsp.text if heard.rtsp and heard.is_there else "-",
        with_unit(Aspect.CLOCK, f"{heard.ahead_s:+d}") if heard.ahead_s is not None else "-",
        heard.valid[1].isoformat() if heard.valid else "-",
        " and ".join(heard.macs) or "-",
    )


def _as_json(verified: Verified) -> dict[str, Any]:
    return {
        "asked": [
            {
                "part": {"kind": heard.target.subject.kind, "id": heard.target.subject.id, "label": heard.target.name},
                "address": heard.target.address,
                "at": heard.at,
                "answers": heard.is_there,
                "ping": heard.pinged,
                "sip": heard.sip.text if heard.sip else None,
                "web": heard.web.text if heard.web else None,
                "rtsp": heard.rtsp.text if heard.rtsp else None,
                "clock_ahead_s": heard.ahead_s,
                "certificate": [day.isoformat() for day in heard.valid] if heard.valid else None,
                "macs": heard.macs,
            }
            for heard in verified.heard
        ],
        "kept": verified.kept,
        "left_out": [{"label": one.name, "reason": one.reason} for one in verified.left_out],
        "no_way": verified.no_way,
        "tells_macs": verified.tells_macs,
        "new": verified.new_count,
        "found": compared_as_json(verified.compared),
    }


def _print(printer: Printer, verified: Verified) -> None:
    answered_count = sum(heard.is_there is True for heard in verified.heard)
    printer.line()
    printer.line(f"Asked {len(verified.heard)}: {answered_count} answered, {len(verified.silent)} silent.")
    if verified.silent:
        printer.line(f"Silent: {_some(verified.silent)}.")
    if verified.no_way:
        printer.line(
            f"Not checked, because this machine has no way there or nothing to ask with: {_some(verified.no_way)}. Join"
            " the network of the units, leave them a port to be asked at, and give the command again."
        )
    if verified.kept:
        printer.line(
            f"Left in peace, asked a short while ago: {counted(len(verified.kept), 'part')} (--again asks all)."
        )
    if verified.left_out:
        printer.line(f"Not checked: {counted(len(verified.left_out), 'part')}.")
        printer.table(("part", "why it cannot be asked"), [(one.name, one.reason) for one in verified.left_out])
    if verified.heard and not verified.tells_macs:
        printer.line("MAC addresses were not checked: this system does not tell them.")
    print_compared(printer, verified.compared)


def _some(names: tuple[str, ...]) -> str:
    more = len(names) - _NAMES_MOST
    return ", ".join(names[:_NAMES_MOST]) + (f" and {more} more" if more > 0 else "")


COMMAND: Final = verify
