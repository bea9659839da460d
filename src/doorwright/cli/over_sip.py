"""What `verify` takes to ask registrars and to make a test call, and how it prints what they told."""

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Final, TypeVar

import click
from click.core import ParameterSource

from doorwright.app.call_rehearsed import call_rehearsed
from doorwright.app.call_unit import CALL_CAUTION, CalledUnit, call_unit
from doorwright.app.means import Means
from doorwright.app.tell_over_sip import (
    CALL_HEADINGS,
    REGISTRATION_HEADINGS,
    call_notes,
    call_rows,
    call_words,
    registration_row,
    rehearsed_registration_notes,
)
from doorwright.app.tell_verified import NOT_UP
from doorwright.app.verify_registrations import VerifiedRegistrations, verify_registrations
from doorwright.app.verify_rehearsed_registrations import verify_rehearsed_registrations
from doorwright.cli import options
from doorwright.cli.beside import compared_as_json, print_compared, print_rehearsed
from doorwright.cli.main import FINDINGS, FINE
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.loopback.places import Ports
from doorwright.probe.ask import Manner
from doorwright.probe.call import CallManner
from doorwright.probe.reach import Outcome
from doorwright.probe.registration import Registration
from doorwright.studies.measured_speech import MeasuredSpeech

F = TypeVar("F", bound=Callable[..., Any])

_OF_CALLS: Final = {"as_unit": "--as", "may_ring": "--may-ring", "ring_s": "--ring-for", "talk_s": "--talk-for"}
_NOT_IN_CALLS: Final = {
    "registrations": "--registrations",
    "only": "--only",
    "again": "--again",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was given to ask registrars or to call; the names are those of the options' parameters."""

    registrations: bool
    call: str | None
    as_unit: str | None
    may_ring: bool
    ring_s: float
    talk_s: float
    passphrase_file: Any


_NAMES: Final = tuple(one.name for one in fields(Given))
_OPTIONS: Final = (
    click.option(
        "--registrations", is_flag=True,
        help="Ask also each registrar, with each unit's SIP secret from the vault, whether it takes the secret and"
        " where the unit is registered. Changes nothing; the secret itself is not sent.",
    ),
    click.option(
        "--call", metavar="NAME",
        help="Make a test call to this unit, and ask nothing else. It rings there. The four options below go with it.",
    ),
    click.option(
        "--as", "as_unit", metavar="NAME", help="Call as this unit, through its registrar, with its SIP secret."
    ),
    click.option("--may-ring", is_flag=True, help="It may ring there now. Said for each call."),
    click.option(
        "--ring-for", "ring_s", type=click.FloatRange(1, 180), default=CallManner().ring_s, show_default=True,
        metavar="SECONDS", help="How long it rings at most.",
    ),
    click.option(
        "--talk-for", "talk_s", type=click.FloatRange(0.5, 120), default=CallManner().talk_s, show_default=True,
        metavar="SECONDS", help="For how long speech is measured.",
    ),
    options.passphrase_file,
)  # fmt: skip


def over_sip_options(function: F) -> F:
    """Add the options to a command, which gets them as one argument, ``over_sip``."""

    @functools.wraps(function)
    def wrapped(*arguments: Any, **given: Any) -> Any:
        told = Given(**{name: given.pop(name) for name in _NAMES})
        return function(*arguments, over_sip=told, **given)

    made: Any = wrapped
    for option in reversed(_OPTIONS):
        made = option(made)
    return made  # type: ignore[no-any-return]


def see_fitting(given: Given) -> None:
    """Refuse options that do not go together.

    Raises:
        Refused: an option of a call without --call, or one that has no meaning with it.
    """
    context = click.get_current_context()
    unfit = _NOT_IN_CALLS if given.call is not None else _OF_CALLS
    found = [word for name, word in unfit.items() if context.get_parameter_source(name) is ParameterSource.COMMANDLINE]
    if found and given.call is not None:
        raise Refused(
            f"a test call asks nothing else: {', '.join(found)}", remedy="Give --call in a command of its own."
        )
    if found:
        raise Refused(f"{', '.join(found)}: only with --call", remedy="Name the unit to call: --call NAME")


def passphrase_of(given: Given) -> str | None:
    """Return the vault's passphrase where something of what was given needs it."""
    if not given.registrations and given.as_unit is None:
        return None
    return options.passphrase_from(given.passphrase_file, "Passphrase of the vault")


def ask_registrars(
    printer: Printer,
    book: Path,
    means: Means,
    *,
    manner: Manner,
    passphrase: str | None,
    only: tuple[str, ...],
    permitted: bool,
    rehearsed_at: Ports | None = None,
) -> VerifiedRegistrations:
    """Ask about registrations, with a line for each as it comes; ``rehearsed_at`` asks the rehearsed building."""
    printer.line()
    with printer.live(REGISTRATION_HEADINGS) as show:

        def listen(heard: Registration, count: int, of_count: int) -> None:
            show(registration_row(heard), f"asked about {count} of {of_count} registrations")

        if rehearsed_at is not None:
            return verify_rehearsed_registrations(
                book, means, manner=manner, ports=rehearsed_at, passphrase=passphrase or "", only=only, listen=listen
            )
        return verify_registrations(
            book, means, manner=manner, passphrase=passphrase, only=only, permitted=permitted, listen=listen
        )


def make_call(
    printer: Printer,
    book: Path,
    given: Given,
    *,
    manner: Manner,
    permitted: bool,
    by: str | None,
    rehearsed_at: Ports | None = None,
) -> int:
    """Make the test call, print what came of it, and return the exit code; ``rehearsed_at`` calls a rehearsed unit."""
    if rehearsed_at is not None:
        return _call_rehearsed(printer, book, given, rehearsed_at, manner=manner, by=by)
    may_ring = given.may_ring or (
        not printer.as_json and printer.can_ask and printer.ask(f"{CALL_CAUTION}\n\nMay it ring at {given.call} now?")
    )
    passphrase = passphrase_of(given)
    with options.means(printer, by) as means:
        called = call_unit(
            book,
            means,
            name=given.call or "",
            ports=manner.ports,
            manner=_call_manner(given, manner),
            as_unit=given.as_unit,
            passphrase=passphrase,
            permitted=permitted,
            may_ring=may_ring,
            listen=means.progress,
        )
    printer.result(call_as_json(called))
    print_call(printer, called)
    print_compared(printer, called.compared)
    return FINDINGS if called.compared.differences else FINE


def _call_rehearsed(
    printer: Printer, book: Path, given: Given, rehearsed_at: Ports, *, manner: Manner, by: str | None
) -> int:
    """Call a rehearsed unit: nobody needs to say that it may ring, for it rings nowhere."""
    passphrase = passphrase_of(given)
    with options.means(printer, by) as means:
        called = call_rehearsed(
            book, means, name=given.call or "", ports=rehearsed_at, manner=_call_manner(given, manner),
            as_unit=given.as_unit, passphrase=passphrase, listen=means.progress,
        )  # fmt: skip
    printer.result(call_as_json(called))
    print_call(printer, called)
    if called.called.outcome is not Outcome.ANSWERED:
        printer.line(NOT_UP)
    print_rehearsed(printer, called.compared)
    return FINDINGS if called.compared.lines else FINE


def _call_manner(given: Given, manner: Manner) -> CallManner:
    return replace(CallManner(), patience_s=manner.sip_patience_s, ring_s=given.ring_s, talk_s=given.talk_s)


def registrations_as_json(verified: VerifiedRegistrations) -> dict[str, Any]:
    """Return what registrars told as JSON tells it: no secret, and nothing made of one."""
    return {
        "asked": [
            {
                "part": {"kind": one.registrant.subject.kind, "id": one.registrant.subject.id,
                         "label": one.registrant.name},
                "user": one.registrant.entered.user,
                "registrar": one.registrant.registrar,
                "at": one.at,
                "answer": one.reply.text,
                "secret": one.standing,
                "registered": one.is_registered,
                "bindings": [{"host": each.host, "left_s": each.left_s} for each in one.bindings]
                if one.bindings is not None
                else None,
                "elsewhere": one.elsewhere,
            }
            for one in verified.heard
        ],
        "left_out": [{"label": one.name, "reason": one.reason} for one in verified.left_out],
        "new": verified.new_count,
    }  # fmt: skip


def print_registrations(printer: Printer, verified: VerifiedRegistrations, *, rehearsed: bool = False) -> None:
    """Print how many are registered, and whose registration could not be asked about."""
    registered_count = sum(one.is_registered is True for one in verified.heard)
    printer.line()
    printer.line(f"Asked about {counted(len(verified.heard), 'registration')}: {registered_count} registered.")
    for note in rehearsed_registration_notes(verified) if rehearsed else ():
        printer.line(note)
    if verified.left_out:
        printer.line(f"Not checked: {counted(len(verified.left_out), 'registration')}.")
        printer.table(("unit", "why it cannot be asked about"), [(one.name, one.reason) for one in verified.left_out])


def call_as_json(one: CalledUnit) -> dict[str, Any]:
    """Return a test call as JSON tells it."""
    called = one.called
    heard, told = called.heard, called.told
    return {
        "part": {"kind": one.unit.KIND, "id": one.unit.id, "label": one.unit.label},
        "through": one.through,
        "at": called.at,
        "outcome": called.outcome,
        "rang": called.rang,
        "code": called.code,
        "taken": called.taken,
        "trouble": called.trouble or None,
        "codec": called.codec,
        "sent": called.sent_count,
        "heard": {
            "expected": heard.expected_count, "lost": heard.lost_count, "late": heard.late_count,
            "gone_ratio": heard.gone_ratio, "burst_ratio": heard.burst_ratio, "jitter_ms": heard.jitter_ms,
        } if heard is not None else None,
        "not_agreed": called.strange,
        "reported": {
            "expected": told.expected_count, "lost": told.lost_count, "gone_ratio": told.gone_ratio,
            "jitter_ms": told.jitter_ms,
        } if told is not None else None,
        "round_trip_ms": called.round_trip_ms,
        "rating_to_us": _rating(one.to_us),
        "rating_to_unit": _rating(one.to_them),
        "found": compared_as_json(one.compared),
    }  # fmt: skip


def _rating(speech: MeasuredSpeech | None) -> dict[str, Any] | None:
    if speech is None:
        return None
    return {
        "r": speech.rating_points,
        "mos": speech.opinion_points,
        "delay_ms": speech.delay_ms,
        "assumed": speech.assumed,
    }


def print_call(printer: Printer, one: CalledUnit) -> None:
    """Print what became of a test call, its figures, and what they rest on."""
    through = f" through {one.through}" if one.through else ""
    printer.line(f"Test call to {one.unit.name}{through}: {call_words(one.called)}")
    rows = call_rows(one)
    if rows:
        printer.table(CALL_HEADINGS, rows)
    for note in call_notes(one):
        printer.line(note)
