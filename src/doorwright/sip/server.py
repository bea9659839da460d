"""Registrar and proxy on one socket, as a primary call unit has them: five calls, no input or output.

server.receive_datagram(data, source=("192.0.2.11", 5060), now_s=clock())
for data, address in server.datagrams_to_send(): ...
wake at server.timer_at(), then server.handle_timer(clock())
while (event := server.next_event()) is not None: ...
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from doorwright.sip.errors import PeerError
from doorwright.sip.events import Faulty
from doorwright.sip.forwarding import Here
from doorwright.sip.guard import Guard
from doorwright.sip.machines import Do
from doorwright.sip.message import Message, Request, Response, parse, response_to
from doorwright.sip.proxy import Manner, Proxy, Settled
from doorwright.sip.registrar import Binding, Registrar
from doorwright.sip.return_path import Address, marked, reply_address
from doorwright.sip.timers import Times
from doorwright.sip.transaction import Transactions
from doorwright.sip.uri import SipUri
from doorwright.sip.validate import Abilities, faults_for_server, validate

_OURSELVES: Final = Abilities(methods=("OPTIONS", "REGISTER"))
_RETRY_AFTER_S: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Registered:
    """A user's bindings were added to, renewed or removed.

    Attributes:
        bindings: all that there are now, the most wanted first.
    """

    user: str
    bindings: tuple[Binding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsed:
    """A binding was not renewed in time."""

    user: str
    binding: Binding


Incident = Registered | Lapsed | Settled | Faulty


class Server:
    """A registrar and the proxy for its users.

    What asks for this server itself (an address of the domain without a user) gets OPTIONS answered and nothing else.
    """

    def __init__(
        self,
        registrar: Registrar,
        *,
        address: Address,
        chance: Callable[[int], bytes],
        guard: Guard | None = None,
        manner: Manner | None = None,
        times: Times | None = None,
        most_transactions: int = 20_000,
    ) -> None:
        """Set up.

        Args:
            registrar: with the domain, the users and its own guard.
            address: where the socket is bound and others reach it; it stands in our Via.
            chance: makes that many octets which nobody can foresee.
            guard: of the proxy, asking with 407; None passes on everything.
            manner: how the proxy forks.
            times: the figures of RFC 3261 Table 4.
            most_transactions: beyond these a new request gets 503 and leaves no trace, so that a flood ends.
        """
        self._registrar = registrar
        self._transactions = Transactions(times)
        self._here = Here(address=address, names=registrar.domains)
        self._proxy = Proxy(self._transactions, registrar, here=self._here, chance=chance, guard=guard, manner=manner)
        self._chance = chance
        self._most_transactions = most_transactions
        self._events: deque[Incident] = deque()

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        """Take what came from `source`. Any bytes will do; what they did wrong is an event."""
        try:
            message = parse(data)
            fault = next(iter(validate(message)), None)
            if fault is None:
                self._accept(message, source, now_s)
            else:
                self._events.append(Faulty(source=source, fault=fault))
                if isinstance(message, Request):
                    self._answer_once(message, fault, source)
        except PeerError as fault:
            self._events.append(Faulty(source=source, fault=fault))

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        """What is to be sent and where, in order; each is returned once."""
        return self._transactions.datagrams_to_send()

    def timer_at(self) -> float | None:
        """When `handle_timer` is to be called next, on the clock of the other calls; None while nothing is awaited."""
        due = (self._transactions.timer_at(), self._proxy.timer_at(), self._registrar.timer_at())
        return min((each for each in due if each is not None), default=None)

    def handle_timer(self, now_s: float) -> None:
        """Do what is due; called too early or late it does no harm."""
        for told in self._transactions.handle_timer(now_s):
            self._proxy.handle(told, now_s=now_s)
        self._proxy.handle_timer(now_s)
        self._events += [Lapsed(user=user, binding=each) for user, each in self._registrar.handle_timer(now_s)]
        self._collect()

    def next_event(self) -> Incident | None:
        """What happened, the earliest first; None when all is told."""
        return self._events.popleft() if self._events else None

    def transport_failed(self, address: Address, *, now_s: float) -> None:
        """The socket could not send to this address, or heard that nobody is there (§16.9, §18.4)."""
        for told in self._transactions.transport_failed(address, now_s=now_s):
            self._proxy.handle(told, now_s=now_s)
        self._collect()

    def _collect(self) -> None:
        self._events += self._proxy.settled
        self._proxy.settled.clear()

    def _accept(self, message: Message, source: Address, now_s: float) -> None:
        if isinstance(message, Request) and self._is_full_for(message):
            fault = PeerError(
                "too much at once", code=503, clause="RFC 3261 §21.5.4", headers=(("Retry-After", str(_RETRY_AFTER_S)),)
            )
            self._events.append(Faulty(source=source, fault=fault))
            self._answer_once(message, fault, source)
            return
        if isinstance(message, Request) and message.method == "REGISTER" and self._is_ours(message):
            self._register(message, source, now_s)
            return
        for told in self._transactions.receive(message, source=source, now_s=now_s):
            if (
                told.what is Do.TELL_REQUEST
                and told.transaction is not None
                and self._is_ours(told.transaction.request)
            ):
                response = _for_ourselves(told.transaction.request, self._chance(8).hex())
                self._transactions.respond(told.transaction, response, now_s=now_s)
            else:
                self._proxy.handle(told, now_s=now_s)
        self._collect()

    def _is_full_for(self, request: Request) -> bool:
        """ACK and CANCEL end something, and a copy of a known INVITE begins nothing."""
        if len(self._transactions) < self._most_transactions or request.method in {"ACK", "CANCEL"}:
            return False
        return request.method != "INVITE" or self._transactions.invite_of(request) is None

    def _is_ours(self, request: Request) -> bool:
        if not self._registrar.serves(request.uri) or request.method == "CANCEL":
            return False
        if request.method == "REGISTER":
            return True
        return isinstance(request.uri, SipUri) and request.uri.user is None and "lr" not in request.uri.params

    def _register(self, request: Request, source: Address, now_s: float) -> None:
        """Answer a REGISTER; a challenge leaves no trace, so that only who proves an account costs us memory.

        RFC 3261 §26.3.2.4: who is challenged gets one answer for each copy, and none is sent again.
        """
        came = marked(request, source)
        if self._transactions.knows(came):
            self._transactions.receive_marked(came, source=source, now_s=now_s)
            return
        response = self._registrar.answer(came, now_s=now_s, to_tag=_steady_tag(request))
        if response.code == 401:
            self._transactions.send(response, peer=reply_address(came.headers.via))
            return
        for told in self._transactions.receive_marked(came, source=source, now_s=now_s):
            if told.transaction is not None:
                self._transactions.respond(told.transaction, response, now_s=now_s)
        self._tell_registered(came, response, now_s)

    def _tell_registered(self, request: Request, response: Response, now_s: float) -> None:
        uri = request.headers.to.uri
        if response.is_success and isinstance(uri, SipUri) and "Contact" in request.headers:
            bindings = self._registrar.bindings_of(uri.user_text, now_s=now_s)
            self._events.append(Registered(user=uri.user_text, bindings=bindings))

    def _answer_once(self, request: Request, fault: PeerError, source: Address) -> None:
        """Refuse without a transaction: a copy gets the same answer, the same To tag too (§8.2.7). Never an ACK."""
        if request.method == "ACK":
            return
        came = marked(request, source)
        response = response_to(came, fault.code, fault.reason, to_tag=_steady_tag(request), headers=fault.headers)
        self._transactions.send(response, peer=reply_address(came.headers.via))


def _steady_tag(request: Request) -> str:
    """A To tag that each copy of a request gets again (§8.2.7)."""
    told = "\n".join([value for _, value in request.headers.pairs]).encode("utf-8", "surrogateescape")
    return sha256(told).hexdigest()[:16]


def _for_ourselves(request: Request, to_tag: str) -> Response:
    """The answer to a request for this server itself: to OPTIONS what it serves (§11.2), to others 405."""
    for fault in faults_for_server(request, _OURSELVES):
        return response_to(request, fault.code, fault.reason, to_tag=to_tag, headers=fault.headers)
    return response_to(request, 200, to_tag=to_tag, headers=[("Allow", ", ".join(_OURSELVES.methods))])
