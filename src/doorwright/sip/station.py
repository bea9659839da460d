"""What the two sides of a call share: who we are, transactions, accounts, calls, dialogs, wakes, and events to tell."""

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from hashlib import sha256
from heapq import heappop, heappush
from itertools import count

from doorwright.sip.challenged import Answerer
from doorwright.sip.dialog import Dialog, DialogId
from doorwright.sip.digest import HEADERS, Account
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Ended, Faulty, Happening, Why
from doorwright.sip.grammar import Parameters
from doorwright.sip.headers import Headers
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.return_path import Address, is_reliable, marked, numeric_address, reply_address
from doorwright.sip.timers import Times
from doorwright.sip.transaction import MAX_FORWARDS, Transaction, Transactions, new_branch
from doorwright.sip.uri import NameAddr, SipUri, parse_uri
from doorwright.sip.validate import Abilities

MOST_TRIES = 5  # our own: how often one request is sent anew because of challenges
_CREDENTIALS = tuple(answering for _, answering in HEADERS.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """Who an endpoint is.

    Attributes:
        uri: what it is called as, such as sip:101@192.0.2.1; From of what it asks.
        address: where it sends from and listens.
        display: the name shown beside the address.
        transport: "UDP" or "TCP": what its Via says.
    """

    uri: SipUri
    address: Address
    display: str = ""
    transport: str = "UDP"

    @property
    def _host(self) -> str:
        return f"[{self.address[0]}]" if ":" in self.address[0] else self.address[0]

    @property
    def contact(self) -> str:
        """Where it is to be found (§8.1.1.8)."""
        params = Parameters() if self.transport == "UDP" else Parameters.of(transport=self.transport.lower())
        uri = SipUri(user=self.uri.user, host=self._host, port=self.address[1], params=params)
        return str(NameAddr(uri))

    def via(self, branch: str) -> str:
        """The Via of a request of ours, asking for the answer to come back to the port it left from (RFC 3581)."""
        return f"SIP/2.0/{self.transport} {self._host}:{self.address[1]};rport;branch={branch}"

    def from_(self, tag: str) -> str:
        """From with our tag."""
        return str(NameAddr(self.uri, self.display, Parameters.of(tag=tag)))


class Phase(StrEnum):
    """How far a call is."""

    OFFERED = "offered"  # no final answer yet, whoever calls
    LIVE = "live"  # accepted
    LEAVING = "leaving"  # our BYE waits for its answer, or for the ACK that must come before it
    OVER = "over"


@dataclass(eq=False, slots=True)
class Wake:
    """Something to be done at a time, unless it is called off."""

    act: Callable[[float], None]
    called_off: bool = False


@dataclass(eq=False, slots=True, kw_only=True)
class Call:
    """One call, with everything that either side must remember of it.

    Attributes:
        dialog: the dialog of the call; None until the other side's tag is known.
        early: dialogs of a call of ours that has not been accepted, by their tag.
        sent: our INVITE or re-INVITE.
        got: their INVITE or re-INVITE, while it has no final answer from us.
        acks: what acknowledged each 2xx, by their tag and CSeq, to be sent again with each copy of the 2xx.
        repeats: 2xx of ours that nobody has acknowledged, by CSeq.
        ringing: the wake that says the provisional response again.
        cancelling: whether we want the INVITE back; the CANCEL may have to wait for a provisional response (§9.1).
        cancel_sent: whether the CANCEL went out.
        offered: the 2xx that waits for `acknowledge`.
    """

    id: int
    call_id: str
    tag: str
    phase: Phase = Phase.OFFERED
    dialog: Dialog | None = None
    early: dict[str, Dialog] = field(default_factory=dict)
    sent: Transaction | None = None
    got: Transaction | None = None
    acks: dict[tuple[str, int], tuple[Request, Address]] = field(default_factory=dict)
    repeats: dict[int, Wake] = field(default_factory=dict)
    ringing: Wake | None = None
    cancelling: bool = False
    cancel_sent: bool = False
    offered: tuple[Dialog, Transaction] | None = None
    tries: int = 0


@dataclass(eq=False, slots=True, kw_only=True)
class Errand:
    """A request of ours that is no INVITE.

    Attributes:
        call: the call that it belongs to, if any.
        dialog: the dialog that it is sent in, if any.
        series: what numbers it outside a dialog.
    """

    id: int
    method: str
    call: Call | None = None
    dialog: Dialog | None = None
    series: "Series | None" = None
    tries: int = 0


@dataclass(eq=False, slots=True)
class Series:
    """The Call-ID and CSeq of requests outside dialogs that belong together, such as all registrations (§10.2)."""

    call_id: str
    tag: str
    number: int = 0

    def next_number(self) -> int:
        """The CSeq of the next one."""
        self.number += 1
        return self.number


class Station:
    """The shared state of one endpoint, and the few things that both sides of a call do with it."""

    def __init__(
        self,
        identity: Identity,
        *,
        chance: Callable[[int], bytes],
        accounts: Iterable[Account],
        abilities: Abilities,
        times: Times,
    ) -> None:
        self.identity = identity
        self.chance = chance
        self.abilities = abilities
        self.times = times
        self.answerer = Answerer(accounts)
        self.transactions = Transactions(times)
        self.events: deque[Happening] = deque()
        self.calls: dict[int, Call] = {}
        self.dialogs: dict[DialogId, Call] = {}
        self._numbers = count(1)
        self._order = count()
        self._wakes: list[tuple[float, int, Wake]] = []

    # Names

    def next_id(self) -> int:
        """A number for a call or an errand."""
        return next(self._numbers)

    def new_tag(self) -> str:
        """A tag: 64 bits of chance (§19.3 asks for 32)."""
        return self.chance(8).hex()

    def new_call_id(self) -> str:
        """A Call-ID that nobody else has."""
        return self.chance(16).hex()

    def new_via(self) -> str:
        """Our Via with a new branch."""
        return self.identity.via(new_branch(self.chance))

    def abilities_told(self) -> list[tuple[str, str]]:
        """Allow, Accept and Supported, as answers to INVITE and OPTIONS carry them (§11.2, §13.3.1.4)."""
        return [
            ("Allow", ", ".join(self.abilities.methods)),
            ("Accept", ", ".join(self.abilities.content_types)),
            ("Supported", ", ".join(self.abilities.extensions)),
        ]

    # Time

    def wake_at(self, due_s: float, act: Callable[[float], None]) -> Wake:
        """Do something at a time."""
        wake = Wake(act)
        heappush(self._wakes, (due_s, next(self._order), wake))
        return wake

    def timer_at(self) -> float | None:
        """When the next wake or timer is due."""
        while self._wakes and self._wakes[0][2].called_off:
            heappop(self._wakes)
        due = [self._wakes[0][0]] if self._wakes else []
        timer_at = self.transactions.timer_at()
        return min([*due, timer_at] if timer_at is not None else due, default=None)

    def act_on_wakes(self, now_s: float) -> None:
        """Do what is due."""
        while self._wakes and self._wakes[0][0] <= now_s:
            wake = heappop(self._wakes)[2]
            if not wake.called_off:
                wake.act(now_s)

    # Calls

    def keep(self, call: Call, dialog: Dialog) -> None:
        """Let messages of this dialog find the call."""
        self.dialogs[dialog.id] = call

    def end(self, call: Call, why: Why | None) -> None:
        """The call is over: nothing is sent again, and nothing finds it any more; told if there is a reason."""
        if call.phase is Phase.OVER:
            return
        call.phase = Phase.OVER
        for wake in call.repeats.values():
            wake.called_off = True
        if call.ringing is not None:
            call.ringing.called_off = True
        self.calls.pop(call.id, None)
        for dialog in (call.dialog, *call.early.values()):
            if dialog is not None:
                self.dialogs.pop(dialog.id, None)
        if why is not None:
            self.events.append(Ended(call=call.id, why=why))

    # Sending

    def peer_of(self, target: str, through: Address | None) -> Address:
        """Where a request for this address goes first; LocalError if it cannot be read, or nothing says an IP."""
        try:
            uri = parse_uri(target)
        except PeerError as error:
            raise LocalError(str(error)) from None
        if isinstance(uri, SipUri) and (uri.headers or "method" in uri.params):
            raise LocalError("an address to send to has no headers and no method (§19.1.1 table 1)")
        found = numeric_address(uri.host, uri.port) if isinstance(uri, SipUri) else None
        found = through or found
        if found is None:
            raise LocalError("the host is a name, and names are not looked up: say where to send")
        return found

    def credentials(self, method: str, target: str, body: bytes) -> tuple[tuple[str, str], ...]:
        """The headers that prove who we are to everybody who has asked so far."""
        return self.answerer.headers(method=method, uri=target, body=body, chance=self.chance)

    def outside(
        self,
        method: str,
        target: str,
        *,
        to: str,
        series: Series,
        headers: Iterable[tuple[str, str]] = (),
        body: bytes = b"",
    ) -> Request:
        """A request outside any dialog (§8.1.1)."""
        pairs = [
            ("Via", self.new_via()),
            ("Max-Forwards", MAX_FORWARDS),
            ("From", self.identity.from_(series.tag)),
            ("To", to),
            ("Call-ID", series.call_id),
            ("CSeq", f"{series.next_number()} {method}"),
            *headers,
            *self.credentials(method, target, body),
        ]
        return Request(method, target, Headers(pairs), body)

    def within(
        self, dialog: Dialog, method: str, *, headers: Iterable[tuple[str, str]] = (), body: bytes = b""
    ) -> Request:
        """A request in a dialog, with the next number."""
        request = dialog.request(method, number=dialog.next_number(), via=self.new_via(), headers=headers, body=body)
        return self._proving(request)

    def _proving(self, request: Request) -> Request:
        headers = request.headers
        for name in _CREDENTIALS:
            headers = headers.without(name)
        for name, value in self.credentials(request.method, request.target, request.body):
            headers = headers.adding(name, value)
        return request.with_headers(headers)

    def errand(self, errand: Errand, request: Request, *, peer: Address, now_s: float) -> None:
        """Send a request that is no INVITE."""
        self.transactions.request(request, peer=peer, now_s=now_s, user=errand)

    def bye(self, dialog: Dialog, call: Call, *, now_s: float) -> None:
        """Hang up a dialog (§15.1.1)."""
        errand = Errand(id=self.next_id(), method="BYE", call=call, dialog=dialog)
        self.errand(errand, self.within(dialog, "BYE"), peer=dialog.next_hop, now_s=now_s)

    def proved(self, refused: Request, response: Response, *, number: Callable[[], int]) -> Request | None:
        """The request again with credentials (§22.2, §22.3); None where we have none, or they were refused."""
        if response.code not in HEADERS:
            return None
        asking, _ = HEADERS[response.code]
        sent = [value for name in _CREDENTIALS for value in refused.headers.all(name)]
        if not self.answerer.challenged(response.code, response.headers.all(asking), sent=sent):
            return None
        headers = refused.headers.having("Via", self.new_via())
        headers = headers.having("CSeq", f"{number()} {refused.method}")
        return self._proving(replace(refused, headers=headers))

    # Answering

    def respond(
        self,
        transaction: Transaction,
        code: int,
        *,
        now_s: float,
        tag: str = "",
        headers: Iterable[tuple[str, str]] = (),
        body: bytes = b"",
        reason: str = "",
    ) -> None:
        """Answer a request; To gets a tag that stays the same for the same request (§8.2.6.2)."""
        request = transaction.request
        response = response_to(
            request, code, reason, to_tag=tag or self.stateless_tag(request), headers=headers, body=body
        )
        self.transactions.respond(transaction, response, now_s=now_s)

    def refuse(self, transaction: Transaction, fault: PeerError, *, now_s: float) -> None:
        """Answer a request with a fault of its sender, and tell it."""
        self.respond(transaction, fault.code, reason=fault.reason, headers=fault.headers, now_s=now_s)
        self.events.append(Faulty(source=transaction.peer, fault=fault))

    def refuse_stateless(self, request: Request, fault: PeerError, *, source: Address) -> None:
        """Answer a request that is too faulty for a transaction, if its Via says where (§8.2.7)."""
        self.events.append(Faulty(source=source, fault=fault))
        if request.method == "ACK":  # §17.1.1.3: never answered
            return
        try:
            request = marked(request, source)
            via = request.headers.via
            peer = source if is_reliable(via) else reply_address(via)
        except PeerError:
            return
        response = response_to(
            request, fault.code, fault.reason, to_tag=self.stateless_tag(request), headers=fault.headers
        )
        self.transactions.send(response, peer=peer)

    @staticmethod
    def stateless_tag(request: Request) -> str:
        """A tag made of the request itself, so that its copies get the same (§8.2.7)."""
        told = "\r\n".join(request.headers.get(name) or "" for name in ("Via", "From", "Call-ID", "CSeq"))
        return sha256(told.encode("utf-8", "surrogateescape")).hexdigest()[:16]
