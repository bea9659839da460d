"""A test call to one unit: it rings there, speech is measured, and what was heard is rated."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from doorwright.app.call_rehearsed import call_rehearsed
from doorwright.app.call_unit import CalledUnit, call_unit
from doorwright.app.means import Means
from doorwright.app.tell_over_sip import CALL_HEADINGS, call_notes, call_rows, call_words
from doorwright.app.tell_verified import NOT_UP
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.loopback.places import Ports as RehearsedPorts
from doorwright.probe.call import CallManner
from doorwright.probe.reach import Outcome
from doorwright.probe.target import Ports
from doorwright.web.answers import Answer, Begun, Page
from doorwright.web.asking import Ask, post
from doorwright.web.filled import Filled
from doorwright.web.switch_keys import PORT_MOST, passphrase_given
from doorwright.web.views.found import DifferenceLine, difference_lines
from doorwright.web.views.verify import REHEARSED, permitted_by

RING_MOST_S: Final = 180.0
TALK_MOST_S: Final = 120.0
_LABELS: Final = {
    "ring_s": "Seconds it rings at most",
    "talk_s": "Seconds of speech",
    "sip_port": "SIP port",
    "there_sip_port": "SIP port on this machine",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialCallView:
    """What became of a test call: in words, its figures, what they rest on, and what is not as planned there."""

    unit: str
    through: str
    is_rehearsed: bool
    at: datetime
    is_heard: bool
    words: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    differences: tuple[DifferenceLine, ...]


def begin(ask: Ask) -> Answer:
    """Begin a test call to a real unit, or to one that is rehearsed on this machine."""
    is_rehearsed = ask.text("building") == REHEARSED
    filled = Filled(ask, _LABELS)
    usual = CallManner()
    ring_s = filled.number("ring_s", default=usual.ring_s, least=1, most=RING_MOST_S)
    talk_s = filled.number("talk_s", default=usual.talk_s, least=0.5, most=TALK_MOST_S)
    field, usual_port = ("there_sip_port", RehearsedPorts().sip) if is_rehearsed else ("sip_port", Ports().sip or 0)
    sip_port = filled.whole(field, default=usual_port, least=1, most=PORT_MOST)
    filled.see("nobody was called")
    name, as_unit = ask.text("unit"), ask.text("as_unit") or None
    if not name:
        raise Refused("no unit was named", remedy="Choose the unit to call.")
    if not is_rehearsed and not ask.chosen("may_ring"):
        raise Refused(
            "it must be said that it may ring there now", remedy="If so, say it: tick the box below the caution."
        )
    permitted = not is_rehearsed and permitted_by(ask)
    passphrase = passphrase_given(ask, "passphrase") if as_unit is not None else None
    book = ask.book
    manner = replace(usual, ring_s=ring_s, talk_s=talk_s)

    def call(means: Means, listen: Callable[[str], None], still_wanted: Callable[[], None]) -> CalledUnit:
        if is_rehearsed:
            return call_rehearsed(
                book.path,
                means,
                name=name,
                ports=replace(RehearsedPorts(), sip=sip_port),
                manner=manner,
                as_unit=as_unit,
                passphrase=passphrase,
                listen=listen,
                still_wanted=still_wanted,
            )
        return call_unit(
            book.path,
            means,
            name=name,
            ports=replace(Ports(), sip=sip_port),
            manner=manner,
            as_unit=as_unit,
            passphrase=passphrase,
            permitted=permitted,
            may_ring=True,
            listen=listen,
            still_wanted=still_wanted,
        )

    def work(means: Means) -> Answer:
        told = ["calling"]

        def still_wanted() -> None:
            means.progress(told[-1])

        try:
            called = call(means, told.append, still_wanted)
        finally:
            book.changed()
        return Page(template="verify/call.html", title="Test call", view=_view(called, is_rehearsed=is_rehearsed))

    return Begun(ask.jobs.start(f"Calling {name}", book.name, work, ask.means))


def _view(called: CalledUnit, *, is_rehearsed: bool) -> TrialCallView:
    is_up = called.called.outcome is Outcome.ANSWERED or not is_rehearsed
    return TrialCallView(
        unit=called.unit.name,
        through=called.through or "",
        is_rehearsed=is_rehearsed,
        at=called.called.at,
        is_heard=called.called.both_ways,
        words=call_words(called.called),
        headings=CALL_HEADINGS,
        rows=call_rows(called),
        notes=(*call_notes(called), *(() if is_up else (NOT_UP,))),
        differences=difference_lines(called.compared),
    )


ROUTES: Final = (*post("/books/{book}/verify/call", begin, needs=Role.WORK),)
