"""Transactions: matches messages to the machines of `machines.py`, runs their tables, sends again, keeps their timers.

A transaction user (the endpoint, the registrar, the proxy) gives it every valid message and the time, starts client
transactions with `request`, answers server transactions with `respond`, and acts on what it is `Told`. Sending is
writing into a list that the owner empties.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.headers import COOKIE, Headers
from doorwright.sip.machines import (
    CLIENT,
    INVITE_CLIENT,
    INVITE_SERVER,
    SERVER,
    Action,
    Again,
    Do,
    Event,
    Input,
    Machine,
    Start,
    State,
    Stop,
)
from doorwright.sip.message import Message, Request, Response, response_to
from doorwright.sip.return_path import Address, is_reliable, marked, reply_address, sent_by, top_via
from doorwright.sip.timers import Timer, Times, first_wait_s, next_wait_s

Key = tuple[str, ...]
MAX_FORWARDS = "70"  # §8.1.1.6


@dataclass(eq=False, slots=True, kw_only=True)
class Transaction:
    """One request and all that is said about it on one hop. Read it; only `Transactions` changes it.

    Attributes:
        request: what was sent or received; a received one with where it came from in its Via.
        peer: where our messages of this transaction go.
        response: the last one sent or received; None before the first.
        waits: the running timers: when each fires, and how long it waited.
        user: free for the transaction user, such as the call that it belongs to.
    """

    machine: Machine
    state: State
    key: Key
    request: Request
    peer: Address
    reliable: bool
    response: Response | None = None
    waits: dict[Timer, tuple[float, float]] = field(default_factory=dict)
    user: object = None

    @property
    def is_client(self) -> bool:
        """Whether we sent the request."""
        return self.machine in (INVITE_CLIENT, CLIENT)

    @property
    def is_open(self) -> bool:
        """Whether no final response has been sent or received."""
        return self.state in (State.CALLING, State.TRYING, State.PROCEEDING)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    """When and by what a transaction is moved; `waited_s` is how long a timer had run that fired."""

    now_s: float
    source: Address
    message: Message | None = None
    waited_s: float = 0.0


_TELLING = (Do.TELL_REQUEST, Do.TELL_RESPONSE, Do.TELL_ACK, Do.TELL_TIMEOUT, Do.TELL_ERROR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a transaction user is told.

    Attributes:
        what: one of the TELL_ actions. TELL_ACK is the ACK of a 2xx, TELL_TIMEOUT that nothing came (408 for a request,
            a missing ACK for a refusal), TELL_ERROR that sending failed (503 for a request, §8.1.3.1).
        transaction: None for an ACK, or a response, that belongs to none. Such a response is not to be passed on
            (RFC 6026 §8.9); such an ACK acknowledges a 2xx (its branch is new).
        message: what was received; None for a timeout or an error.
        source: where it came from; for a timeout or an error where our messages went.
    """

    what: Do
    transaction: Transaction | None
    message: Message | None
    source: Address


def new_branch(chance: Callable[[int], bytes]) -> str:
    """A branch for the Via of a new client transaction (§8.1.1.7). `chance` gives so many random octets."""
    return COOKIE + chance(8).hex()


def client_key(message: Message) -> Key:
    """What makes a response belong to a request that we sent: branch and method (§17.1.3); PeerError if unreadable."""
    return ("client", message.headers.via.branch.lower(), message.headers.cseq.method)


def server_key(request: Request, method: str = "") -> Key:
    """What makes a request one of a server transaction (§17.2.3), `method` in place of its own if given.

    A request from before RFC 3261, without the cookie in its branch, is matched by what RFC 2543 had.

    Raises:
        PeerError: a header that this needs cannot be read.
    """
    via = request.headers.via
    method = method or ("INVITE" if request.method == "ACK" else request.method)
    if via.names_transaction:
        return ("server", via.branch.lower(), sent_by(via), method)
    headers = request.headers
    # The To tag is left out: the ACK has that of our response. Two requests that differ in nothing else are one.
    return (
        "old",
        request.target,
        headers.from_.tag or "",
        headers.call_id,
        str(headers.cseq.number),
        top_via(request).lower(),
        method,
    )


def _merge_key(request: Request) -> Key | None:
    headers = request.headers
    if headers.to.tag or request.method == "ACK":
        return None
    return (headers.from_.tag or "", headers.call_id, str(headers.cseq))


def ack_of_refusal(request: Request, response: Response) -> Request:
    """The ACK that a client transaction sends for a 300 to 699 (§17.1.1.3)."""
    return _of_same_hop(request, "ACK", response.headers.get("To") or request.headers.get("To") or "")


def cancel_of(request: Request) -> Request:
    """The CANCEL of a request that we sent (§9.1). To be sent after a provisional response only."""
    return _of_same_hop(request, "CANCEL", request.headers.get("To") or "")


def _of_same_hop(request: Request, method: str, to: str) -> Request:
    headers = request.headers
    kept = [
        ("Via", top_via(request)),
        ("Max-Forwards", MAX_FORWARDS),
        *(("Route", value) for value in headers.all("Route")),
        ("From", headers.get("From") or ""),
        ("To", to),
        ("Call-ID", headers.call_id),
        ("CSeq", f"{headers.cseq.number} {method}"),
    ]
    return Request(method, request.target, Headers(kept))


def _by_class(response: Response, provisional: Input, success: Input, refusal: Input) -> Input:
    if not response.is_final:
        return provisional
    return success if response.is_success else refusal


class Transactions:
    """All transactions of one transaction user."""

    def __init__(self, times: Times | None = None) -> None:
        self.times = times or Times()
        self._by_key: dict[Key, Transaction] = {}
        self._merging: dict[Key, list[Transaction]] = {}
        self._outgoing: list[tuple[bytes, Address]] = []
        self._queue: list[tuple[float, int, Transaction, Timer]] = []  # also holds timers stopped since
        self._order = count()

    def __len__(self) -> int:
        return len(self._by_key)

    # What comes in

    def receive(self, message: Message, *, source: Address, now_s: float) -> tuple[Told, ...]:
        """Take a message that `validate` found no fault with; return what it means to the user.

        A new request begins a server transaction. Copies are absorbed or answered from memory.

        Raises:
            PeerError: a header that matching needs cannot be read.
        """
        if isinstance(message, Response):
            return self._receive_response(message, source, now_s)
        return self.receive_marked(marked(message, source), source=source, now_s=now_s)

    def receive_marked(self, request: Request, *, source: Address, now_s: float) -> tuple[Told, ...]:
        """Take a request as `receive` does that says already where it came from: what `marked` returned."""
        key = server_key(request)
        known = self._by_key.get(key)
        if known is not None:
            event = Input.ACK if request.method == "ACK" else Input.REQUEST
            return self._happen(known, event, _Cause(now_s=now_s, message=request, source=source))
        if request.method == "ACK":
            return (Told(what=Do.TELL_ACK, transaction=None, message=request, source=source),)
        via = request.headers.via
        reliable = is_reliable(via)
        transaction = Transaction(
            machine=INVITE_SERVER if request.method == "INVITE" else SERVER,
            state=State.TRYING,
            key=key,
            request=request,
            peer=source if reliable else reply_address(via),
            reliable=reliable,
        )
        merge = _merge_key(request)
        if merge is not None:
            self._merging.setdefault(merge, []).append(transaction)
        return self._begin(transaction, _Cause(now_s=now_s, message=request, source=source))

    def _receive_response(self, response: Response, source: Address, now_s: float) -> tuple[Told, ...]:
        known = self._by_key.get(client_key(response))
        if known is None:
            return (Told(what=Do.TELL_RESPONSE, transaction=None, message=response, source=source),)
        event = _by_class(response, Input.RECEIVE_1XX, Input.RECEIVE_2XX, Input.RECEIVE_REFUSAL)
        return self._happen(known, event, _Cause(now_s=now_s, message=response, source=source))

    def knows(self, request: Request) -> bool:
        """Whether a received request is a copy of one that is still remembered; PeerError as in `receive`."""
        return server_key(request) in self._by_key

    def invite_of(self, cancel: Request) -> Transaction | None:
        """The server transaction that a received CANCEL means (§9.2); None where there is none."""
        return self._by_key.get(server_key(cancel, "INVITE"))

    def is_merged(self, transaction: Transaction) -> bool:
        """Whether its request came before by another way and is still known: an end answers 482 (§8.2.2.2)."""
        merge = _merge_key(transaction.request)
        return merge is not None and self._merging.get(merge, [transaction])[0] is not transaction

    # What goes out

    def request(self, request: Request, *, peer: Address, now_s: float, user: object = None) -> Transaction:
        """Send a request, whose top Via is ours with a new branch, and keep at it as its machine says.

        Raises:
            LocalError: it is an ACK (see `send`), its Via or CSeq cannot be read, or its branch is in use.
        """
        if request.method == "ACK":
            raise LocalError("an ACK is no transaction")
        try:
            key = client_key(request)
            reliable = is_reliable(request.headers.via)
        except PeerError as error:
            raise LocalError(str(error)) from None
        if key in self._by_key:
            raise LocalError("the branch is in use")
        request.to_bytes()  # refuses before anything is kept
        machine = INVITE_CLIENT if request.method == "INVITE" else CLIENT
        transaction = Transaction(
            machine=machine,
            state=machine.begin.state,
            key=key,
            request=request,
            peer=peer,
            reliable=reliable,
            user=user,
        )
        self._begin(transaction, _Cause(now_s=now_s, source=peer))
        return transaction

    def respond(self, transaction: Transaction, response: Response, *, now_s: float) -> bool:
        """Answer a request that was received; return whether it was sent.

        A response after the final one is discarded, but for a 2xx to an INVITE that was accepted, which is sent again.

        Raises:
            LocalError: the transaction is a client's, or the response cannot be written.
        """
        if transaction.is_client:
            raise LocalError("we sent this request: it is not for us to answer")
        response.to_bytes()
        event = _by_class(response, Input.SEND_1XX, Input.SEND_2XX, Input.SEND_REFUSAL)
        if (transaction.state, event) not in transaction.machine.cells:
            return False
        self._happen(transaction, event, _Cause(now_s=now_s, message=response, source=transaction.peer))
        return True

    def send(self, message: Message, *, peer: Address) -> None:
        """Send once, outside any transaction: the ACK of a 2xx, a stateless response, a copy of a 2xx."""
        self._outgoing.append((message.to_bytes(), peer))

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        """What is to be sent, in order; each is returned once."""
        out, self._outgoing = self._outgoing, []
        return out

    def forget(self, transaction: Transaction) -> None:
        """End a transaction without another word (§9.1: a cancelled INVITE that is never answered)."""
        transaction.state = State.TERMINATED
        transaction.waits.clear()
        self._drop(transaction)

    # Time

    def timer_at(self) -> float | None:
        """When `handle_timer` is to be called next; None while no timer runs."""
        while self._queue:
            due_s, _, transaction, timer = self._queue[0]
            if transaction.waits.get(timer, (None,))[0] == due_s:
                return due_s
            heappop(self._queue)
        return None

    def handle_timer(self, now_s: float) -> tuple[Told, ...]:
        """Let every timer that is due fire, the earliest first."""
        told: list[Told] = []
        # Bounded by what is due now: a timer that starts again is due later than now.
        while (due_s := self.timer_at()) is not None and due_s <= now_s:
            _, _, transaction, timer = heappop(self._queue)
            told += self._happen(transaction, timer, _Cause(now_s=now_s, source=transaction.peer))
        return tuple(told)

    def transport_failed(self, peer: Address, *, now_s: float) -> tuple[Told, ...]:
        """What we sent to this address did not go out: every transaction with it is told (§17.1.4)."""
        concerned = [one for one in self._by_key.values() if one.peer == peer]
        return tuple(
            told
            for one in concerned
            for told in self._happen(one, Input.TRANSPORT_ERROR, _Cause(now_s=now_s, source=peer))
        )

    # The machines

    def _begin(self, transaction: Transaction, cause: _Cause) -> tuple[Told, ...]:
        self._by_key[transaction.key] = transaction
        begin = transaction.machine.begin
        transaction.state = begin.state
        return self._do(transaction, begin.actions, cause)

    def _happen(self, transaction: Transaction, event: Event, cause: _Cause) -> tuple[Told, ...]:
        if isinstance(event, Timer):
            _, waited_s = transaction.waits.pop(event)
            cause = _Cause(now_s=cause.now_s, source=cause.source, waited_s=waited_s)
        cell = transaction.machine.cells.get((transaction.state, event))
        if cell is None:
            return ()
        transaction.state = cell.state
        if isinstance(cause.message, Response):
            transaction.response = cause.message
        told = self._do(transaction, cell.actions, cause)
        if cell.state is State.TERMINATED:
            self.forget(transaction)
        return told

    def _do(self, transaction: Transaction, actions: tuple[Action, ...], cause: _Cause) -> tuple[Told, ...]:
        told: list[Told] = []
        for action in actions:
            match action:
                case Start(timer):
                    wait_s = first_wait_s(timer, self.times, reliable=transaction.reliable)
                    if wait_s is not None:
                        self._wait(transaction, timer, cause.now_s, wait_s)
                case Again(timer, longest):
                    wait_s = self.times.t2_s if longest else next_wait_s(timer, self.times, cause.waited_s)
                    self._wait(transaction, timer, cause.now_s, wait_s)
                case Stop(timer):
                    transaction.waits.pop(timer, None)
                case _ if action in _TELLING:
                    told.append(Told(what=action, transaction=transaction, message=cause.message, source=cause.source))
                case _:
                    self._send_for(transaction, action)
        return tuple(told)

    def _send_for(self, transaction: Transaction, action: Do) -> None:
        message: Message | None = transaction.response
        match action:
            case Do.SEND_REQUEST:
                message = transaction.request
            case Do.SEND_ACK if transaction.response is not None:
                message = ack_of_refusal(transaction.request, transaction.response)
            case Do.SEND_TRYING:
                message = transaction.response = response_to(transaction.request, 100)
        if message is not None:
            self.send(message, peer=transaction.peer)

    def _wait(self, transaction: Transaction, timer: Timer, now_s: float, wait_s: float) -> None:
        due_s = now_s + wait_s
        transaction.waits[timer] = due_s, wait_s
        heappush(self._queue, (due_s, next(self._order), transaction, timer))

    def _drop(self, transaction: Transaction) -> None:
        self._by_key.pop(transaction.key, None)
        if transaction.is_client:
            return
        merge = _merge_key(transaction.request)
        if merge is not None:
            left = [one for one in self._merging.get(merge, []) if one is not transaction]
            if left:
                self._merging[merge] = left
            else:
                self._merging.pop(merge, None)
