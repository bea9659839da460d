"""Verify: ask the real building over its network, see the answers come, and set them beside the plan."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.ask_further import FurtherAsks
from doorwright.app.call_unit import CALL_CAUTION
from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.tell_further import SWITCH_HEADINGS
from doorwright.app.tell_over_sip import REGISTRATION_HEADINGS, rehearsed_registration_notes
from doorwright.app.tell_verified import HEADINGS, NOT_UP
from doorwright.app.verify_book import CAUTION, KEEP_MINUTES, is_permitted
from doorwright.app.verify_rehearsed import FAST_PER_S
from doorwright.app.verify_rehearsed_registrations import joined
from doorwright.app.verify_switches import VaultKeys
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Role
from doorwright.loopback.places import Ports as RehearsedPorts
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.call import CallManner
from doorwright.probe.discovery import PORT as DISCOVERY_PORT
from doorwright.probe.runner import ASKS_PER_S, AT_ONCE_COUNT
from doorwright.probe.snmp import PORT as SNMP_PORT
from doorwright.probe.snmp import Digest
from doorwright.probe.target import LeftOut, Ports, targets
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.ask_building import Asks, ask_building
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.remedies import mistakes_on_page, on_page
from doorwright.web.showing import book_url
from doorwright.web.switch_keys import PORT_MOST, SWITCH_LABELS, further_asks, passphrase_given
from doorwright.web.verifying import HeardRow, Run, RunState
from doorwright.web.views.asked_further import DiscoveryView, LeftOutLine, SwitchPorts, discovery_view, ports_of
from doorwright.web.views.found import (
    DifferenceLine,
    RehearsalLine,
    difference_lines,
    rehearsal_line,
    stranger_lines,
)

OFFERS_MOST: Final = 2_000
_LABELS: Final = {
    "asks_per_s": "Asks a second",
    "at_once": "Parts at the same time",
    "patience_s": "Seconds to wait for an answer",
    "keep_minutes": "Minutes for which an answer is good",
    "http_port": "HTTP port",
    "https_port": "HTTPS port",
    "rtsp_port": "RTSP port",
    "sip_port": "SIP port",
    "there_http_port": "HTTP port on this machine",
    "there_rtsp_port": "RTSP port on this machine",
    "there_sip_port": "SIP port on this machine",
} | SWITCH_LABELS
PORTS: Final = ("http", "https", "rtsp", "sip")
PORTS_THERE: Final = ("http", "rtsp", "sip")
REHEARSED: Final = "rehearsed"
"""What the form's field ``building`` holds where the building that is rehearsed on this machine is meant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """How is asked where nobody says otherwise."""

    asks_per_s: float = ASKS_PER_S
    at_once_count: int = AT_ONCE_COUNT
    patience_s: float = Manner().patience_s
    keep_minutes: float = KEEP_MINUTES
    ports: tuple[tuple[str, int], ...] = tuple((name, getattr(Ports(), name)) for name in PORTS)
    ports_there: tuple[tuple[str, int], ...] = tuple((name, getattr(RehearsedPorts(), name)) for name in PORTS_THERE)
    discovery_port: int = DISCOVERY_PORT
    snmp_port: int = SNMP_PORT
    digests: tuple[str, ...] = tuple(Digest)
    ring_s: float = CallManner().ring_s
    talk_s: float = CallManner().talk_s


@dataclass(frozen=True, slots=True, kw_only=True)
class RunView:
    """An asking as it stands, the latest heard first. What follows ``asks_everybody`` is known when it is over.

    ``differences`` are those of a rehearsed building that was asked, at ``revision``; of the real one they stand with
    all else that was found.
    """

    state: RunState
    is_rehearsed: bool
    by: str
    at: datetime
    step: str
    heard_count: int
    count: int
    of_count: int | None
    answered_count: int
    registered_count: int
    answering_switches_count: int
    heard: Piece[HeardRow]
    registered: Piece[HeardRow]
    switches: Piece[HeardRow]
    asks_registrars: bool
    asks_switches: bool
    asks_everybody: bool
    silent: tuple[str, ...] = ()
    no_way: tuple[str, ...] = ()
    revision: int | None = None
    differences: Piece[DifferenceLine] | None = None
    notes: tuple[str, ...] = ()
    kept_count: int = 0
    tells_macs: bool = True
    new_count: int = 0
    not_registrable: tuple[LeftOutLine, ...] = ()
    discovery: DiscoveryView | None = None
    ports: Piece[SwitchPorts] | None = None
    switches_left_out: tuple[LeftOutLine, ...] = ()
    refused: str = ""
    remedy: str = ""
    mistakes: tuple[Mistake, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VerifyView:
    """Whom there is to ask, whether that is permitted, the present or last asking, and what differs from the plan."""

    revision: int
    is_permitted: bool
    has_vault: bool
    caution: str
    call_caution: str
    usual: Usual
    targets_count: int
    names: tuple[str, ...]
    left_out: tuple[LeftOutLine, ...]
    headings: tuple[str, ...]
    registration_headings: tuple[str, ...]
    switch_headings: tuple[str, ...]
    run: RunView | None
    parts_count: int
    seen_count: int
    rehearsal: RehearsalLine | None
    differences: Piece[DifferenceLine]
    strangers: tuple[DifferenceLine, ...]


def page(ask: Ask) -> Answer:
    """Show how the asking stands."""
    head, walk = ask.book.now()
    everybody, left_out = targets(walk, Ports())
    compared = compare_found(ask.book.path)
    run = _run_of(ask)
    view = VerifyView(
        revision=head.number,
        is_permitted=is_permitted(ask.book.path),
        has_vault=ask.book.book.vault() is not None,
        caution=CAUTION,
        call_caution=CALL_CAUTION,
        usual=Usual(),
        targets_count=len(everybody),
        names=tuple(dict.fromkeys(one.name for one in everybody)) if len(everybody) <= OFFERS_MOST else (),
        left_out=_left_out(left_out),
        headings=HEADINGS,
        registration_headings=REGISTRATION_HEADINGS,
        switch_headings=SWITCH_HEADINGS,
        run=_run_view(run, ask, walk) if run is not None else None,
        parts_count=compared.parts_count,
        seen_count=compared.seen_count,
        rehearsal=rehearsal_line(compared),
        differences=piece(difference_lines(compared), ask.whole("differ", 0) or 0),
        strangers=stranger_lines(compared),
    )
    return Page(template="verify/verify.html", title="Verify", view=view)


def _left_out(left_out: Iterable[LeftOut]) -> tuple[LeftOutLine, ...]:
    return tuple(LeftOutLine(name=one.name, reason=one.reason) for one in left_out)


def _run_of(ask: Ask) -> Run | None:
    """Return the present or last asking; one whose job was stopped while it still waited for its turn is over."""
    run = ask.book.verifying.now()
    job = ask.jobs.find(run.job) if run is not None else None
    if run is not None and run.state is RunState.RUNNING and job is not None and job.has_ended:
        ask.book.verifying.note(state=RunState.STOPPED)
        run = ask.book.verifying.now()
    return run


def _run_view(run: Run, ask: Ask, walk: Walk) -> RunView:
    verified, registrations, refused = run.verified, run.registrations, run.refused
    told = (verified, registrations, run.found, run.at_switches)
    compared = _compared_rehearsed(run)
    return RunView(
        state=run.state,
        is_rehearsed=run.is_rehearsed,
        by=run.by,
        at=run.at,
        step=run.step,
        heard_count=len(run.heard),
        count=run.count,
        of_count=run.of_count,
        answered_count=sum(row.is_well is True for row in run.heard),
        answering_switches_count=sum(row.is_well is True for row in run.switches),
        registered_count=sum(row.is_well is True for row in run.registered),
        heard=piece(run.heard[::-1], start_of(ask)),
        registered=piece(run.registered[::-1], ask.whole("registered", 0) or 0),
        switches=piece(run.switches[::-1], ask.whole("switches", 0) or 0),
        asks_registrars=run.asks_registrars,
        asks_switches=run.asks_switches,
        asks_everybody=run.asks_everybody,
        silent=tuple(row.cells[0] for row in run.heard if row.is_well is False),
        no_way=tuple(row.cells[0] for row in run.heard if row.is_well is None),
        revision=compared.revision if compared else None,
        differences=piece(difference_lines(compared), ask.whole("differ", 0) or 0) if compared else None,
        notes=_rehearsed_notes(run),
        kept_count=len(verified.kept) if verified else 0,
        tells_macs=verified.tells_macs if verified else True,
        new_count=sum(one.new_count for one in told if one is not None),
        not_registrable=_left_out(registrations.left_out) if registrations else (),
        discovery=discovery_view(run.found) if run.found else None,
        ports=ports_of(walk, run.at_switches, ask.whole("ports", 0) or 0) if run.at_switches else None,
        switches_left_out=_left_out(run.at_switches.left_out) if run.at_switches else (),
        refused=refused.message if refused else "",
        remedy=on_page(refused.remedy) if refused else "",
        mistakes=mistakes_on_page(refused.mistakes) if refused else (),
    )


def _compared_rehearsed(run: Run) -> Compared | None:
    """Return what the rehearsed building answered beside the plan, once it was asked."""
    if not run.is_rehearsed or run.verified is None:
        return None
    return joined(run.verified.compared, run.registrations.compared) if run.registrations else run.verified.compared


def _rehearsed_notes(run: Run) -> tuple[str, ...]:
    if not run.is_rehearsed or run.verified is None:
        return ()
    is_up = any(one.is_there for one in run.verified.heard)
    more = rehearsed_registration_notes(run.registrations) if run.registrations else ()
    return (*(() if is_up else (NOT_UP,)), *more)


def begin(ask: Ask) -> Answer:
    """Begin to ask the real building, or the one that is rehearsed on this machine."""
    asks = _rehearsed_asks(ask) if ask.text("building") == REHEARSED else _real_asks(ask)
    book, verifying = ask.book, ask.book.verifying
    _run_of(ask)
    verifying.begin(
        ask.person.name,
        ask.means.now(),
        asks_registrars=asks.registrations,
        asks_switches=asks.further.keys is not None,
        asks_everybody=asks.further.everywhere,
        is_rehearsed=asks.rehearsed_at is not None,
    )

    def work(means: Means) -> Go:
        ask_building(book, asks, means)
        return Go(book_url(book.name, "verify"))

    verifying.note(job=ask.jobs.start("Asking the building", book.name, work, ask.means).id)
    return Go(book_url(book.name, "verify"))


def _real_asks(ask: Ask) -> Asks:
    filled = Filled(ask, _LABELS)
    manner, keep_minutes = manner_of(ask, filled)
    further = further_asks(ask, filled)
    filled.see("nobody was asked")
    permitted, registrations = permitted_by(ask), ask.chosen("registrations")
    passphrase = passphrase_given(ask, "passphrase") if registrations else None
    if isinstance(further.keys, VaultKeys):
        opening = passphrase or passphrase_given(ask, "snmp_passphrase", "passphrase")
        further = replace(further, keys=replace(further.keys, passphrase=opening))
    return Asks(
        manner=manner,
        keep_minutes=keep_minutes,
        only=_only(ask),
        permitted=permitted,
        again=ask.chosen("again"),
        registrations=registrations,
        passphrase=passphrase,
        further=further,
    )


def _rehearsed_asks(ask: Ask) -> Asks:
    """Return what the form wants of the rehearsed building: as fast as it can, and nobody needs to permit it."""
    filled = Filled(ask, _LABELS)
    manner, keep_minutes = manner_of(ask, filled)
    told = {
        name: filled.whole(f"there_{name}_port", default=port, least=0, most=PORT_MOST)
        for name, port in Usual().ports_there
    }
    filled.see("nobody was asked")
    registrations = ask.chosen("registrations")
    return Asks(
        manner=replace(
            manner,
            asks_per_s=FAST_PER_S,
            ports=Ports(https=None, **{name: port or None for name, port in told.items()}),
        ),
        keep_minutes=keep_minutes,
        only=_only(ask),
        permitted=False,
        again=True,
        registrations=registrations,
        passphrase=passphrase_given(ask, "passphrase") if registrations else None,
        further=FurtherAsks(discovery_port=None),
        rehearsed_at=replace(RehearsedPorts(), **{name: port for name, port in told.items() if port}),
    )


def _only(ask: Ask) -> tuple[str, ...]:
    return tuple(line.strip() for line in ask.text("only").splitlines() if line.strip())


def manner_of(ask: Ask, filled: Filled) -> tuple[Manner, float]:
    """Return how the form wants it asked, and for how many minutes an answer is good; what is wrong is noted there."""
    usual = Usual()
    asks_per_s = filled.number("asks_per_s", default=usual.asks_per_s, least=0.1, most=1000)
    at_once_count = filled.whole("at_once", default=usual.at_once_count, least=1, most=256)
    patience_s = filled.number("patience_s", default=usual.patience_s, least=0.1, most=60)
    keep_minutes = filled.number("keep_minutes", default=usual.keep_minutes, least=0, most=10_080)
    ports = {
        name: filled.whole(f"{name}_port", default=port, least=0, most=PORT_MOST) or None for name, port in usual.ports
    }
    manner = Manner(
        asks_per_s=asks_per_s,
        at_once_count=at_once_count,
        patience_s=patience_s,
        sip_patience_s=max(patience_s, Manner().sip_patience_s),
        ports=Ports(**ports),
        pings=ask.chosen("pings"),
    )
    return manner, keep_minutes


def permitted_by(ask: Ask) -> bool:
    """Return whether the form says that the owner permits it.

    Raises:
        Refused: nobody has ever said so of this book.
        HTTPException: whoever says so may not.
    """
    if is_permitted(ask.book.path):
        return False
    if not ask.chosen("permitted"):
        raise Refused(
            "the network's owner must permit this first", remedy="If so, say it: tick the box below the caution."
        )
    if not ask.person.may(Role.PLAN):
        raise HTTPException(403, "that the owner permits it is said by somebody with the role 'plan'; then you may ask")
    return True


def stop(ask: Ask) -> Answer:
    """Stop the asking; what was heard is in the book."""
    run = _run_of(ask)
    if run is not None and run.state is RunState.RUNNING:
        ask.jobs.stop(run.job)
    return Go(book_url(ask.book.name, "verify"))


ROUTES: Final = (
    *get("/books/{book}/verify", page),
    *post("/books/{book}/verify", begin, needs=Role.WORK),
    *post("/books/{book}/verify/stop", stop, needs=Role.WORK),
)
