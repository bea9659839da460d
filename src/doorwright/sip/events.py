"""What an endpoint tells the one who uses it. Calls and errands are known by numbers that the endpoint gave them."""

from dataclasses import dataclass
from enum import StrEnum

from doorwright.sip.errors import PeerError
from doorwright.sip.message import Request, Response
from doorwright.sip.return_path import Address


class Why(StrEnum):
    """Why a call is over."""

    WE_HUNG_UP = "we hung up"
    THEY_HUNG_UP = "they hung up"
    THEY_CANCELLED = "they gave up before we answered"
    EXPIRED = "their invitation held no longer"
    NOT_ACKNOWLEDGED = "our answer was never acknowledged"
    NO_LONGER_KNOWN = "they no longer know the call"
    NO_ANSWER_TO_CANCEL = "neither the call nor its cancelling was answered"


@dataclass(frozen=True, slots=True, kw_only=True)
class Invited:
    """Somebody calls: `ring`, then `answer` or `refuse`. The offer, if there is one, is the body of the request."""

    call: int
    request: Request


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Our call has a provisional response, 101 to 199."""

    call: int
    response: Response


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """Our INVITE was accepted.

    Attributes:
        again: whether it was a re-INVITE.
        acknowledged: whether the ACK is sent. If not, the response holds an offer: `acknowledge` with the answer.
    """

    call: int
    response: Response
    again: bool
    acknowledged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Our INVITE came to nothing.

    Attributes:
        response: None where there is none: `code` is then 408 (nothing came) or 503 (sending failed) (§8.1.3.1).
        over: whether that was the end of the call; a refused re-INVITE leaves it as it was (§14.1).
    """

    call: int
    code: int
    reason: str
    response: Response | None
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Connected:
    """Our answer was acknowledged; the request is the ACK, and holds the answer where ours was the offer."""

    call: int
    request: Request


@dataclass(frozen=True, slots=True, kw_only=True)
class Reinvited:
    """They want to change the call: `answer` or `refuse`, which leaves it as it was."""

    call: int
    request: Request


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """They took a re-INVITE back before it was answered; the call is as it was."""

    call: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Informed:
    """An INFO within the call, such as a digit; it is answered already."""

    call: int
    request: Request


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """A call is over; told once for each call that did not end in `Refused`."""

    call: int
    why: Why


@dataclass(frozen=True, slots=True, kw_only=True)
class Replied:
    """The end of a REGISTER, OPTIONS or INFO of ours. `response` as in `Refused`."""

    errand: int
    method: str
    code: int
    reason: str
    response: Response | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """An OPTIONS from somebody; it is answered already."""

    request: Request
    source: Address


@dataclass(frozen=True, slots=True, kw_only=True)
class Faulty:
    """Something came that breaks the rules or asks for what we cannot do; it is answered, or dropped, already."""

    source: Address
    fault: PeerError


Happening = (
    Invited
    | Progress
    | Answered
    | Refused
    | Connected
    | Reinvited
    | Withdrawn
    | Informed
    | Ended
    | Replied
    | Asked
    | Faulty
)
