"""What becomes of a request that went several ways: the response context of a proxy (RFC 3261 §16.7).

It knows the branches and what came back on each, and says what to do; `proxy.py` does it.
"""

from dataclasses import dataclass, field, replace
from typing import Final

from doorwright.sip.codes import reason_of
from doorwright.sip.message import Request, Response
from doorwright.sip.transaction import Transaction
from doorwright.sip.uri import Uri

_TELLING: Final = frozenset({401, 407, 415, 420, 484})  # §16.7 step 6: what says how to ask again
_CHALLENGES: Final = ("WWW-Authenticate", "Proxy-Authenticate")


@dataclass(eq=False, slots=True, kw_only=True)
class Branch:
    """One way that a request was sent.

    Attributes:
        heard: whether a provisional response came, before which nothing may be cancelled (§9.1).
        answer: the final response as it goes back; None while it is awaited.
        own: whether the answer is ours, because nothing came.
        cancelling: whether the branch is to end.
        cancelled: whether CANCEL was sent.
        limit_s: when patience ends: Timer C, or after a CANCEL its 64·T1; None for other methods than INVITE.
    """

    fork: "Fork"
    transaction: Transaction
    heard: bool = False
    answer: Response | None = None
    own: bool = False
    cancelling: bool = False
    cancelled: bool = False
    limit_s: float | None = None

    @property
    def is_open(self) -> bool:
        """Whether a final response is awaited."""
        return self.answer is None


@dataclass(eq=False, slots=True, kw_only=True)
class Fork:
    """A request and all its branches.

    Attributes:
        server: the transaction that the request came by.
        request: what is copied for each branch.
        mark: its loop mark.
        breadth: what each branch may be split into.
        groups: targets that were not tried yet, the next group first.
        turn_s: when the next group begins at the latest; None while there is none or no such time.
        closed: whether a final response went back.
    """

    server: Transaction
    request: Request
    mark: str
    breadth: int
    groups: list[list[Uri]]
    branches: list[Branch] = field(default_factory=list)
    turn_s: float | None = None
    closed: bool = False

    @property
    def is_invite(self) -> bool:
        """Whether it is a call: only these are cancelled, and have Timer C."""
        return self.request.method == "INVITE"

    def open_branches(self) -> list[Branch]:
        """Those that a final response is awaited from."""
        return [each for each in self.branches if each.is_open]

    def stop(self) -> list[Branch]:
        """Try nobody else; return the branches to cancel."""
        self.groups.clear()
        self.turn_s = None
        return self.open_branches()

    def best(self) -> Response:
        """The response to hand back now that every branch has one (§16.7 steps 6 and 7)."""
        answers = [(each.answer, each.own) for each in self.branches if each.answer is not None]
        chosen = min(answers, key=lambda each: _rank(*each))[0]
        if chosen.code == 503:
            # 503 would say that this proxy is overloaded, where only one of its targets is (§16.7 step 6).
            return replace(chosen, code=500, reason=reason_of(500), headers=chosen.headers.without("Retry-After"))
        if chosen.code in {401, 407}:
            headers = chosen.headers
            for answer, _ in answers:
                if answer is not chosen and answer.code in {401, 407}:
                    for name in _CHALLENGES:
                        for value in answer.headers.all(name):
                            headers = headers.adding(name, value)
            return chosen.with_headers(headers)
        return chosen


def _rank(answer: Response, own: bool) -> tuple[int, int]:
    """Lowest is best: a 6xx, then the lowest class. Within a class what helps the caller more; our own order there.

    What a station said goes before the 487 that our CANCEL brought about, and that before our own 408 for silence, so
    that a caller hears "busy" and not "timeout" where one station is busy and another is switched off.
    """
    if answer.code >= 600:
        return 0, 0
    kind = answer.code // 100
    if answer.code in _TELLING:
        return kind, 0
    if own:
        return kind, 3
    return kind, 2 if answer.code in {487, 503} else 1
