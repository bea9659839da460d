"""Verify: ask the real building over its network, see the answers come, and set them beside the plan."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.call_unit import CALL_CAUTION
from doorwright.app.means import Means
from doorwright.app.take_found import compare_found
from doorwright.app.tell_over_sip import REGISTRATION_HEADINGS, registration_row
from doorwright.app.tell_verified import HEADINGS, row_of
from doorwright.app.verify_book import CAUTION, KEEP_MINUTES, is_permitted, verify_book
from doorwright.app.verify_registrations import verify_registrations
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Role
from doorwright.kernel.words import counted
from doorwright.probe.ask import Manner
from doorwright.probe.call import CallManner
from doorwright.probe.heard import Heard
from doorwright.probe.registration import Registration
from doorwright.probe.runner import ASKS_PER_S, AT_ONCE_COUNT
from doorwright.probe.target import LeftOut, Ports, targets
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.jobs import Stopped
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.remedies import mistakes_on_page, on_page
from doorwright.web.showing import book_url
from doorwright.web.unlocking import passphrase_of
from doorwright.web.verifying import HeardRow, Run, RunState
from doorwright.web.views.found import (
    DifferenceLine,
    RehearsalLine,
    difference_lines,
    rehearsal_line,
    stranger_lines,
)

OFFERS_MOST: Final = 2_000
PORT_MOST: Final = 65_535
_LABELS: Final = {
    "asks_per_s": "Asks a second",
    "at_once": "Parts at the same time",
    "patience_s": "Seconds to wait for an answer",
    "keep_minutes": "Minutes for which an answer is good",
    "http_port": "HTTP port",
    "https_port": "HTTPS port",
    "rtsp_port": "RTSP port",
    "sip_port": "SIP port",
}
PORTS: Final = ("http", "https", "rtsp", "sip")


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """How is asked where nobody says otherwise."""

    asks_per_s: float = ASKS_PER_S
    at_once_count: int = AT_ONCE_COUNT
    patience_s: float = Manner().patience_s
    keep_minutes: float = KEEP_MINUTES
    ports: tuple[tuple[str, int], ...] = tuple((name, getattr(Ports(), name)) for name in PORTS)
    ring_s: float = CallManner().ring_s
    talk_s: float = CallManner().talk_s


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutLine:
    """A part that cannot be asked, and why."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunView:
    """An asking as it stands, the latest heard first. What follows ``registered`` is known when it is over."""

    state: RunState
    by: str
    at: datetime
    step: str
    heard_count: int
    of_count: int | None
    answered_count: int
    registered_count: int
    heard: Piece[HeardRow]
    registered: Piece[HeardRow]
    asks_registrars: bool
    silent: tuple[str, ...] = ()
    no_way: tuple[str, ...] = ()
    kept_count: int = 0
    tells_macs: bool = True
    new_count: int = 0
    not_registrable: tuple[LeftOutLine, ...] = ()
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
        run=_run_view(run, ask) if run is not None else None,
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


def _run_view(run: Run, ask: Ask) -> RunView:
    verified, registrations, refused = run.verified, run.registrations, run.refused
    return RunView(
        state=run.state,
        by=run.by,
        at=run.at,
        step=run.step,
        heard_count=len(run.heard),
        of_count=run.of_count,
        answered_count=sum(row.is_well is True for row in run.heard),
        registered_count=sum(row.is_well is True for row in run.registered),
        heard=piece(run.heard[::-1], start_of(ask)),
        registered=piece(run.registered[::-1], ask.whole("registered", 0) or 0),
        asks_registrars=run.asks_registrars,
        silent=tuple(row.cells[0] for row in run.heard if row.is_well is False),
        no_way=tuple(row.cells[0] for row in run.heard if row.is_well is None),
        kept_count=len(verified.kept) if verified else 0,
        tells_macs=verified.tells_macs if verified else True,
        new_count=(verified.new_count if verified else 0) + (registrations.new_count if registrations else 0),
        not_registrable=_left_out(registrations.left_out) if registrations else (),
        refused=refused.message if refused else "",
        remedy=on_page(refused.remedy) if refused else "",
        mistakes=mistakes_on_page(refused.mistakes) if refused else (),
    )


def begin(ask: Ask) -> Answer:
    """Begin to ask."""
    manner, keep_minutes = manner_of(ask)
    only = tuple(line.strip() for line in ask.text("only").splitlines() if line.strip())
    permitted, again, registrations = permitted_by(ask), ask.chosen("again"), ask.chosen("registrations")
    passphrase = passphrase_given(ask) if registrations else None
    book, verifying = ask.book, ask.book.verifying
    _run_of(ask)
    verifying.begin(ask.person.name, ask.means.now(), asks_registrars=registrations)

    def take(row: HeardRow, step: str, count: int, of_count: int) -> None:
        verifying.take(row, step, of_count)
        book.tell("asked", row=row, step=step, count=count, of_count=of_count)

    def hear(heard: Heard, count: int, of_count: int) -> None:
        row = HeardRow(table="heard", id=heard.target.subject.id, is_well=heard.is_there, cells=row_of(heard))
        take(row, f"asked {count} of {of_count}", count, of_count)

    def hear_registrar(said: Registration, count: int, of_count: int) -> None:
        row = HeardRow(
            table="registered",
            id=said.registrant.subject.id,
            is_well=said.is_registered,
            cells=registration_row(said),
        )
        take(row, f"asked about {count} of {counted(of_count, 'registration')}", count, of_count)

    def work(means: Means) -> Go:
        def still_wanted() -> None:
            means.progress("asking")

        still = replace(means, progress=lambda _: None)
        end: dict[str, object] = {"state": RunState.FAILED}
        try:
            verified = verify_book(
                book.path,
                still,
                manner=manner,
                only=only,
                permitted=permitted,
                again=again,
                keep_minutes=keep_minutes,
                listen=hear,
                still_wanted=still_wanted,
            )
            verifying.note(verified=verified)
            if registrations:
                told = verify_registrations(
                    book.path,
                    still,
                    manner=manner,
                    passphrase=passphrase,
                    only=only,
                    listen=hear_registrar,
                    still_wanted=still_wanted,
                )
                verifying.note(registrations=told)
            end = {"state": RunState.DONE}
        except Stopped:
            end = {"state": RunState.STOPPED}
            raise
        except Refused as refused:
            end = {"state": RunState.REFUSED, "refused": refused}
            raise
        finally:
            verifying.note(**end)
            book.changed()
            book.tell("asked", over=True)
        return Go(book_url(book.name, "verify"))

    verifying.note(job=ask.jobs.start("Asking the building", book.name, work, ask.means).id)
    return Go(book_url(book.name, "verify"))


def passphrase_given(ask: Ask) -> str:
    """Return the vault's passphrase out of the form.

    Raises:
        Refused: it does not open the vault.
        HTTPException: whoever asks may not open it.
    """
    if not ask.person.may(Role.PLAN):
        raise HTTPException(403, "the vault is opened by somebody with the role 'plan'")
    return passphrase_of(ask)


def manner_of(ask: Ask) -> tuple[Manner, float]:
    """Return how the form wants it asked, and for how many minutes an answer is good.

    Raises:
        Refused: fields that cannot be read; all are told.
    """
    usual, filled = Usual(), Filled(ask, _LABELS)
    asks_per_s = filled.number("asks_per_s", default=usual.asks_per_s, least=0.1, most=1000)
    at_once_count = filled.whole("at_once", default=usual.at_once_count, least=1, most=256)
    patience_s = filled.number("patience_s", default=usual.patience_s, least=0.1, most=60)
    keep_minutes = filled.number("keep_minutes", default=usual.keep_minutes, least=0, most=10_080)
    ports = {
        name: filled.whole(f"{name}_port", default=port, least=0, most=PORT_MOST) or None for name, port in usual.ports
    }
    filled.see("nobody was asked")
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
