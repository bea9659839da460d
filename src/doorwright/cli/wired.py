"""What `rehearse --wire` takes, shows while it runs, and says at its end."""

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final, TypeVar

import click
from click.core import ParameterSource

from doorwright.app.rehearse_on_wire import News, OnWire, Open, Up, Wish, rehearse_on_wire
from doorwright.cli import options
from doorwright.cli.main import FINDINGS, FINE
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.loopback.places import Ports
from doorwright.model.door import Door
from doorwright.model.naming import name_of
from doorwright.model.walk import Walk
from doorwright.rehearse.journal import Deed
from doorwright.rehearse.observed import told_called, told_outcome, told_play
from doorwright.rehearse.rehearsal import Played
from doorwright.store.book import Book

F = TypeVar("F", bound=Callable[..., Any])

_HEADINGS: Final = ("time", "part", "what", "about")
_ALSO: Final = frozenset({"book", "faults", "seed", "by", "as_json"})
"""What `rehearse` takes with and without --wire."""
_PORT: Final = click.IntRange(1, 65535)
_MOST: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was given for a rehearsal on the wire; the names are those of the options' parameters."""

    wire: bool
    stay_s: float | None
    without: tuple[str, ...]
    call: str | None
    accounts: Path | None
    vault_secrets: bool
    passphrase_file: Any
    sip_port: int
    media_port: int
    http_port: int
    rtsp_port: int


_NAMES: Final = tuple(one.name for one in fields(Given))


def wire_options(function: F) -> F:
    """Add the options of a rehearsal on the wire to a command, which gets them as one argument, ``wired``."""

    @functools.wraps(function)
    def wrapped(*arguments: Any, **given: Any) -> Any:
        wired = Given(**{name: given.pop(name) for name in _NAMES})
        return function(*arguments, wired=wired, **given)

    made: Any = wrapped
    for option in reversed(_OPTIONS):
        made = option(made)
    return made  # type: ignore[no-any-return]


_OPTIONS: Final = (
    click.option(
        "--wire", is_flag=True,
        help="On this machine's loopback addresses and in real time, so that real phones, servers and questions"
        " (verify --rehearsed) meet the units. The options below go with it.",
    ),
    click.option(
        "--for", "stay_s", type=click.FloatRange(0), metavar="SECONDS",
        help="How long it stays when it is up. Default: until Ctrl+C.",
    ),
    click.option(
        "--without", multiple=True, metavar="NAME",
        help="Leave this unit or server out: something real takes its place. May be given several times.",
    ),
    click.option(
        "--call", metavar='"VCU NAME:KEY"', help="When all is up, press this key, or call this number, at a call unit."
    ),
    click.option(
        "--accounts", type=click.Path(path_type=Path, dir_okay=False),
        help="Write into this file, for you alone to read, what a real phone must be told. It holds secrets.",
    ),
    click.option(
        "--vault-secrets", is_flag=True, help="Units have the secrets of the book's vault, not made-up ones."
    ),
    options.passphrase_file,
    click.option("--sip-port", type=_PORT, default=Ports().sip, show_default=True, help="Port of units for SIP."),
    click.option("--media-port", type=_PORT, default=Ports().media, show_default=True, help="Port for speech."),
    click.option("--http-port", type=_PORT, default=Ports().http, show_default=True, help="Port of units for HTTP."),
    click.option("--rtsp-port", type=_PORT, default=Ports().rtsp, show_default=True, help="Port of units for RTSP."),
)  # fmt: skip


def see_fitting(wired: Given) -> None:
    """Refuse options that do not go together.

    Raises:
        Refused: an option that needs --wire without it, or one that has no meaning with it.
    """
    context = click.get_current_context()
    given = {
        one.name: one.opts[0]
        for one in context.command.params
        if context.get_parameter_source(one.name or "") is ParameterSource.COMMANDLINE
    }
    apart = set(given) - set(_NAMES) - _ALSO if wired.wire else set(given) & set(_NAMES)
    unfit = ", ".join(sorted(given[name] for name in apart))
    if unfit and wired.wire:
        raise Refused(
            f"not with --wire: {unfit}",
            remedy="On the wire, time and network are this machine's own: any program that shows packets shows them.",
        )
    if unfit:
        raise Refused(f"only with --wire: {unfit}", remedy="Add --wire, or leave it out.")


def rehearse_wired(
    printer: Printer, book: Path, wired: Given, *, faults: tuple[str, ...], seed: int, by: str | None
) -> int:
    """Rehearse on the wire, and return the exit code.

    Raises:
        Refused: as `rehearse_on_wire` says.
    """
    passphrase = None
    if wired.vault_secrets:
        passphrase = options.passphrase_from(wired.passphrase_file, "Passphrase of the vault")
    wish = Wish(
        faults=faults,
        without=wired.without,
        call=wired.call,
        accounts=wired.accounts,
        stay_s=wired.stay_s,
        ports=Ports(sip=wired.sip_port, media=wired.media_port, http=wired.http_port, rtsp=wired.rtsp_port),
        seed=seed,
    )
    with Book.open(book, read_only=True) as opened:
        walk = Walk(opened.site())
    with options.means(printer, by) as means:
        pass  # a table moves here, and two moving things would clash
    with printer.live(_HEADINGS) as show:
        caption = "coming up"

        def watch(news: Open | News | Up) -> None:
            nonlocal caption
            match news:
                case Open():
                    what = ("building", "listens", f"{counted(news.parts_count, 'part')}; stop with Ctrl+C")
                case Up():
                    caption = f"{news.registered_count} of {news.of_count} registered; stop with Ctrl+C"
                    registered = f"{news.registered_count} of {news.of_count} registered"
                    what = ("building", "up", f"{registered}, {news.settled_s:.1f} s after it was switched on")
                case News():
                    caption = f"{news.registered_count} of {news.of_count} registered; stop with Ctrl+C"
                    what = (news.name, news.entry.deed.value, _about(walk, news))
            show((f"{means.now().astimezone():%H:%M:%S}", *what), caption)

        made = rehearse_on_wire(book, means, wish, passphrase=passphrase, watch=watch)
    printer.result(_as_json(made))
    _print(printer, made)
    return FINE if made.as_planned else FINDINGS


def _about(walk: Walk, news: News) -> str:
    entry = news.entry
    if entry.deed is Deed.FREED:
        digit, _, ident = entry.about.partition(" ")
        door = walk.find(Door, ident)
        return f"{door.name if door is not None else ident} (digit {digit})"
    if entry.deed in (Deed.NOT_REGISTERED, Deed.REFUSED):
        return _answer(int(entry.about))
    return entry.about


def _answer(code: int | None) -> str:
    if code is None:
        return "it did not get so far"
    return "nobody answered" if code == 408 else f"answered {code}"


def _print(printer: Printer, made: OnWire) -> None:
    printer.line()
    for fault, ident in made.faults:
        printer.line(f"Fault put in at {_name(made, ident)}: {fault.cause}")
    of_count = len(made.registered) + len(made.refused)
    if made.settled_s is None:
        printer.line("Stopped before it was up.")
    printer.line(f"Rehearsed on the wire, revision {made.revision}: {len(made.registered)} of {of_count} registered.")
    if made.refused:
        rows = [(_name(made, ident), _answer(code)) for ident, code in made.refused[:_MOST]]
        printer.table(("not registered", "last answer"), rows)
        if len(made.refused) > _MOST:
            printer.line(f"  and {len(made.refused) - _MOST} more (all with --json)")
    if isinstance(made.call, Played):
        play = made.call.play
        printer.heading(f"Call at {_name(made, play.unit)}, {told_play(made.walk, play)}")
        printer.line(f"  proved:    {told_outcome(made.walk, play.expected)}")
        printer.line(f"  rehearsed: {told_outcome(made.walk, made.call.happened)}")
    elif made.call is not None:
        printer.line(f"The call was not played: {made.call.why}")
    if made.made_up:
        count = counted(len(made.made_up), "unit")
        printer.line(f"The vault has no SIP secret for {count}; theirs were made up. First: doorwright plan BOOK")
    if made.left_out:
        lacking = counted(len(made.left_out), "part")
        printer.line(f"Not rehearsed: {lacking}, whose plan still lacks something (doorwright rehearse tells what).")
    if made.accounts is not None:
        printer.line(f"SECRET: {made.accounts} holds what phones register with. Remove it when you are done.")


def _name(made: OnWire, ident: str) -> str:
    part = made.walk.part(ident)
    return name_of(made.walk, part) if part is not None else ident


def _as_json(made: OnWire) -> dict[str, Any]:
    call: dict[str, Any] | None = None
    if isinstance(made.call, Played):
        play = made.call.play
        call = {
            "unit": _name(made, play.unit),
            "call": told_play(made.walk, play),
            "proved": told_outcome(made.walk, play.expected),
            "rehearsed": told_outcome(made.walk, made.call.happened),
            "as_proved": made.call.as_proved,
        }
    elif made.call is not None:
        call = {"called": told_called(made.walk, made.call.called), "why_not": made.call.why}
    return {
        "revision": made.revision,
        "faults": [
            {"fault": fault.name, "cause": fault.cause, "at": _name(made, ident)} for fault, ident in made.faults
        ],
        "parts": [
            {"name": _name(made, ident), "address": address, "sip_port": port}
            for ident, (address, port) in made.addresses.items()
        ],
        "without": [_name(made, ident) for ident in made.without],
        "settled_s": made.settled_s,
        "registered": [_name(made, ident) for ident in made.registered],
        "not_registered": [{"name": _name(made, ident), "code": code} for ident, code in made.refused],
        "call": call,
        "made_up_secrets": [_name(made, ident) for ident in made.made_up],
        "not_rehearsed": [{"kind": one.kind, "name": _name(made, one.id), "lacks": one.lacks} for one in made.left_out],
        "accounts": made.accounts,
    }
