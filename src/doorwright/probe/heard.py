"""What was heard of one part of the plan, and what of it is written down."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import NONE, UNREADABLE, Aspect, answered_text, days_text, macs_text
from doorwright.model.network import SipServer
from doorwright.probe.reach import Outcome
from doorwright.probe.target import Target


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """The reply to one protocol, and its code where it could be read."""

    outcome: Outcome
    code: int | None = None

    @property
    def text(self) -> str:
        """As it is written down."""
        if self.code is not None:
            return str(self.code)
        return UNREADABLE if self.outcome is Outcome.ANSWERED else NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was heard of one part.

    Attributes:
        target: whom we asked.
        at: when the last ask was over.
        is_there: whether anything answered; None where this machine had no way to ask, which says nothing of the part.
        pinged: whether an echo request was answered; None where this machine cannot send one.
        sip, web, rtsp: the replies; None where it was not asked. Of http and https the better one is ``web``.
        valid: first and last day of its certificate.
        ahead_s: by how much its clock is ahead.
        macs: the MAC addresses seen at its address while it was asked.
    """

    target: Target
    at: datetime
    is_there: bool | None
    pinged: bool | None = None
    sip: Reply | None = None
    web: Reply | None = None
    rtsp: Reply | None = None
    valid: tuple[date, date] | None = None
    ahead_s: int | None = None
    macs: tuple[str, ...] = ()

    @property
    def subject(self) -> Subject:
        """The part that was asked."""
        return self.target.subject


def sightings(heard: Heard, known: Mapping[str, str]) -> tuple[tuple[Aspect, str], ...]:
    """Return what is written down of what was heard, by aspect.

    Of a part that this machine had no way to, nothing is; of a silent one, only that it was silent. What was known and
    is not there any more is written down as such, so that nobody reads on what has passed.

    Args:
        heard: what was heard.
        known: what counted of this part before, by aspect.
    """
    if heard.is_there is None:
        return ()
    found = {Aspect.ANSWERED: answered_text(heard.target.address, there=heard.is_there)}
    if not heard.is_there:
        return tuple(found.items())
    if heard.sip is not None and heard.sip.outcome is not Outcome.NO_WAY:
        found[Aspect.SIP] = heard.sip.text
    for aspect, reply in ((Aspect.WEB, heard.web), (Aspect.RTSP, heard.rtsp)):
        if reply is not None and reply.outcome is not Outcome.NO_WAY and (reply.text != NONE or aspect in known):
            found[aspect] = reply.text
    if heard.valid is not None:
        found[Aspect.CERTIFICATE] = days_text(*heard.valid)
    elif Aspect.CERTIFICATE in known and heard.target.ports.https is not None:
        found[Aspect.CERTIFICATE] = NONE
    if heard.ahead_s is not None:
        found[Aspect.CLOCK] = str(heard.ahead_s)
    elif Aspect.CLOCK in known:
        found[Aspect.CLOCK] = NONE
    return tuple((found | _by_mac(heard, known)).items())


def _by_mac(heard: Heard, known: Mapping[str, str]) -> dict[Aspect, str]:
    """Return who is at the address: one MAC address is the part's own, several are told as such."""
    if not heard.macs:
        return {}
    found: dict[Aspect, str] = {}
    if len(heard.macs) > 1 or Aspect.MACS in known:
        found[Aspect.MACS] = macs_text(heard.macs)
    if len(heard.macs) == 1 and heard.target.subject.kind != SipServer.KIND:
        found[Aspect.MAC] = heard.macs[0]  # of a server the plan keeps none
    return found
