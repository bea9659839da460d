"""The stateful proxy (RFC 3261 §16): calls a user wherever it is registered, and hands back what answers best.

A transaction user like the registrar: it is told what its `Transactions` found, and gives them what is to be sent.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count, groupby
from typing import Final

from doorwright.sip.errors import PeerError
from doorwright.sip.forking import Branch, Fork
from doorwright.sip.forwarding import (
    Here,
    branch_of,
    breadth_of,
    copy_for,
    handed_back,
    has_looped,
    hop_to,
    loop_mark,
    next_hop,
    unrouted,
)
from doorwright.sip.guard import Guard
from doorwright.sip.machines import Do
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.registrar import Binding, Registrar
from doorwright.sip.transaction import Told, Transaction, Transactions, cancel_of, new_branch
from doorwright.sip.uri import SipUri, Uri
from doorwright.sip.validate import faults_for_proxy

_BREADTH_EXCEEDED: Final = (440, "Max-Breadth Exceeded")  # RFC 5393 §5.3.3.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How a proxy goes about it.

    Attributes:
        in_turn: call the bindings of one q after those of the next higher, not all at once.
        turn_s: how long a group may ring in turn before the next is called (our own choice; the RFC sets no figure).
        record_route: stay in the dialog, so that what follows comes this way as well.
    """

    in_turn: bool = False
    turn_s: float = 20.0
    record_route: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A request that was passed on has its final response.

    Attributes:
        target: whom it was for, as the request said.
        code: of the response that went back.
    """

    call_id: str
    method: str
    target: str
    code: int


class Proxy:
    """Forks for the users of one registrar.

    Requests for addresses elsewhere go on where the address is a number and the transport UDP; names are not looked up.
    """

    def __init__(
        self,
        transactions: Transactions,
        registrar: Registrar,
        *,
        here: Here,
        chance: Callable[[int], bytes],
        guard: Guard | None = None,
        manner: Manner | None = None,
    ) -> None:
        """Set up.

        Args:
            transactions: of this proxy's socket; shared with the registrar's.
            registrar: knows where users are.
            here: who we are on the wire.
            chance: makes that many octets which nobody can foresee, for branches and tags.
            guard: asks for credentials (407) on everything but ACK and CANCEL, which cannot be asked (§22.1).
            manner: how to fork.
        """
        self._transactions = transactions
        self._registrar = registrar
        self._here = here
        self._chance = chance
        self._guard = guard
        self._manner = manner or Manner()
        self._forks: dict[Transaction, Fork] = {}  # by the transaction that the request came by
        self._branches: dict[Transaction, Branch] = {}  # by the transaction that the copy went by
        self._due: list[tuple[float, int, Fork | Branch]] = []  # late in its knowledge: see `timer_at`
        self._order = count()
        self.settled: list[Settled] = []

    def __len__(self) -> int:
        return len(self._forks)

    # What comes in

    def handle(self, told: Told, *, now_s: float) -> None:
        """Act on what the transactions tell, but for requests that are the server's own business."""
        transaction, message = told.transaction, told.message
        if isinstance(message, Request):
            if message.method == "ACK":
                self._pass_ack(message)
            elif transaction is not None and message.method == "CANCEL":
                self._cancelled(transaction, now_s)
            elif transaction is not None:
                self._take(transaction, now_s)
        branch = None if transaction is None else self._branches.get(transaction)
        if branch is None:
            return  # a stray response is not passed on (RFC 6026 §8.9); a caller that never sends ACK is its own loss
        if isinstance(message, Response):
            self._hear(branch, message, now_s)
        elif told.what in {Do.TELL_TIMEOUT, Do.TELL_ERROR} and branch.is_open:
            self._give_up(branch, 408 if told.what is Do.TELL_TIMEOUT else 503, now_s)

    def _take(self, transaction: Transaction, now_s: float) -> None:
        """§16.3 to §16.6: judge the request, find its targets, send the first copies."""
        request = transaction.request
        try:
            mark = self._judged(request, now_s)
            onward = unrouted(request if self._guard is None else self._guard.without_credentials(request), self._here)
            groups = self._targets(onward, now_s)
            breadth = _share(breadth_of(request), sum(map(len, groups)))
        except PeerError as fault:
            self._refuse(transaction, fault, now_s)
            return
        fork = Fork(server=transaction, request=onward, mark=mark, breadth=breadth, groups=groups)
        self._forks[transaction] = fork
        self._next_group(fork, now_s)
        self._settle(fork, now_s)

    def _judged(self, request: Request, now_s: float) -> str:
        """§16.3; return the loop mark."""
        for fault in faults_for_proxy(request):
            raise fault
        if has_looped(request, self._here):
            raise PeerError("a request that we have sent on before", code=482, clause="RFC 3261 §16.3")
        if self._guard is not None:
            self._guard.admit(request, now_s=now_s)
        return loop_mark(request)

    def _targets(self, request: Request, now_s: float) -> list[list[Uri]]:
        """§16.5: groups of targets, the first to be tried first; never empty."""
        uri = request.uri
        if not self._registrar.serves(uri):
            if next_hop(request, uri) is None:
                if isinstance(uri, SipUri) and uri.scheme == "sip":
                    # §16.6 step 7 with RFC 3263 §4.3: no way there is a 503, which goes back as 500.
                    raise PeerError("names are not looked up here, nor is it UDP", code=500, clause="RFC 3261 §16.6")
                raise PeerError("an address of a scheme we cannot route", code=416, clause="RFC 3261 §16.3")
            return [[uri]]
        user = uri.user_text if isinstance(uri, SipUri) else ""
        if user not in self._registrar.users:
            raise PeerError("no such user here", code=404, clause="RFC 3261 §16.5")
        bound = [each for each in self._registrar.bindings_of(user, now_s=now_s) if hop_to(each.uri) is not None]
        if not bound:
            raise PeerError("the user is registered nowhere", code=480, clause="RFC 3261 §16.5")
        return _grouped(bound, in_turn=self._manner.in_turn)

    def _refuse(self, transaction: Transaction, fault: PeerError, now_s: float) -> None:
        response = response_to(
            transaction.request, fault.code, fault.reason, to_tag=self._chance(8).hex(), headers=fault.headers
        )
        self._transactions.respond(transaction, response, now_s=now_s)

    def _pass_ack(self, request: Request) -> None:
        """The ACK of a 2xx goes on once and is never answered, whatever is wrong with it (§16.11)."""
        try:
            onward = unrouted(request if self._guard is None else self._guard.without_credentials(request), self._here)
            if faults_for_proxy(request) or has_looped(request, self._here) or self._registrar.serves(onward.uri):
                return
        except PeerError:
            return
        peer = next_hop(onward, onward.uri)
        if peer is not None:
            branch = branch_of(new_branch(self._chance), loop_mark(request))
            copy = copy_for(onward, onward.uri, here=self._here, branch=branch, breadth=1, record=False)
            self._transactions.send(copy, peer=peer)

    def _cancelled(self, transaction: Transaction, now_s: float) -> None:
        """§16.10, §9.2. Of an INVITE that we do not know we have passed nothing on, so there is nobody to tell."""
        invite = self._transactions.invite_of(transaction.request)
        code = 481 if invite is None else 200
        response = response_to(transaction.request, code, to_tag=self._chance(8).hex())
        self._transactions.respond(transaction, response, now_s=now_s)
        fork = None if invite is None else self._forks.get(invite)
        if fork is not None and not fork.closed:
            self._end(fork.stop(), now_s)

    # The way out

    def _next_group(self, fork: Fork, now_s: float) -> None:
        for target in fork.groups.pop(0):
            peer = next_hop(fork.request, target)
            if peer is None:
                continue  # the target is a number, but Route names a name: told by the empty group
            copy = copy_for(
                fork.request,
                target,
                here=self._here,
                branch=branch_of(new_branch(self._chance), fork.mark),
                breadth=fork.breadth,
                record=self._manner.record_route and fork.is_invite,
            )
            sent = self._transactions.request(copy, peer=peer, now_s=now_s)
            branch = Branch(fork=fork, transaction=sent)
            fork.branches.append(branch)
            self._branches[sent] = branch
            if fork.is_invite:
                self._wait(branch, now_s + self._transactions.times.proxy_s)
        fork.turn_s = now_s + self._manner.turn_s if fork.groups else None
        if fork.turn_s is not None:
            heappush(self._due, (fork.turn_s, next(self._order), fork))

    def _end(self, branches: Sequence[Branch], now_s: float) -> None:
        """CANCEL what rings; what has said nothing yet is cancelled as soon as it does (§9.1)."""
        for branch in branches:
            branch.cancelling = True
            if branch.fork.is_invite and branch.heard and not branch.cancelled:
                branch.cancelled = True
                transaction = branch.transaction
                self._transactions.request(cancel_of(transaction.request), peer=transaction.peer, now_s=now_s)
                self._wait(branch, now_s + self._transactions.times.patience_s)

    # The way back

    def _hear(self, branch: Branch, response: Response, now_s: float) -> None:
        """§16.7 for one response."""
        fork = branch.fork
        back = handed_back(response)
        if back is None:
            return
        if response.code < 200:
            self._hear_provisional(branch, back, now_s)
        elif response.is_success and fork.is_invite:
            self._hear_accepted(branch, back, now_s)
        elif branch.is_open:
            branch.answer = back
            del self._branches[branch.transaction]
            if response.is_success:
                self._hand_back(fork, back, now_s)
            elif response.code >= 600:
                self._end(fork.stop(), now_s)  # step 5: nobody else is asked
            self._settle(fork, now_s)

    def _hear_provisional(self, branch: Branch, back: Response, now_s: float) -> None:
        branch.heard = True
        if branch.cancelling:
            self._end([branch], now_s)
        elif back.code > 100 and branch.fork.is_invite:
            self._wait(branch, now_s + self._transactions.times.proxy_s)  # step 2: Timer C starts again
        if back.code > 100:
            self._transactions.respond(branch.fork.server, back, now_s=now_s)  # discarded after a final response

    def _hear_accepted(self, branch: Branch, back: Response, now_s: float) -> None:
        """Every 2xx to an INVITE goes back at once, copies too: it is the caller who chooses (§16.7 step 5)."""
        fork = branch.fork
        if branch.is_open:
            branch.answer = back
            # The transaction tells of copies until Timer M; then the branch is forgotten.
            self._wait(branch, now_s + self._transactions.times.patience_s)
        self._hand_back(fork, back, now_s)
        self._end(fork.stop(), now_s)
        self._settle(fork, now_s)

    def _hand_back(self, fork: Fork, back: Response, now_s: float) -> None:
        if not self._transactions.respond(fork.server, back, now_s=now_s) and back.is_success and fork.is_invite:
            # The caller's transaction is over (Timer L), and another answers late: it must learn of that one too.
            self._transactions.send(back, peer=fork.server.peer)
        if not fork.closed:
            fork.closed = True
            self.settled.append(
                Settled(
                    call_id=fork.request.headers.call_id,
                    method=fork.request.method,
                    target=fork.server.request.target,
                    code=back.code,
                )
            )

    def _give_up(self, branch: Branch, code: int, now_s: float) -> None:
        """Nothing came, or nothing could be sent: as if the branch had said so (§16.8, §16.9)."""
        branch.answer = response_to(branch.fork.server.request, code, to_tag=self._chance(8).hex())
        branch.own = True
        self._transactions.forget(branch.transaction)
        del self._branches[branch.transaction]
        self._settle(branch.fork, now_s)

    def _settle(self, fork: Fork, now_s: float) -> None:
        """Where nothing is awaited any more, ask the next, or hand back the best; then forget."""
        while not fork.open_branches() and fork.groups and not fork.closed:
            self._next_group(fork, now_s)
        if fork.open_branches():
            return
        if not fork.closed:
            if fork.branches:
                self._hand_back(fork, fork.best(), now_s)
            else:
                fork.closed = True
                fault = PeerError("names are not looked up here, nor is it UDP", code=500, clause="RFC 3261 §16.6")
                self._refuse(fork.server, fault, now_s)
        self._forks.pop(fork.server, None)

    # Time

    def _wait(self, branch: Branch, due_s: float) -> None:
        """Set the limit. What is put off keeps its place in the queue, so that ringing for ever costs nothing."""
        is_first = branch.limit_s is None or due_s < branch.limit_s
        branch.limit_s = due_s
        if is_first:
            heappush(self._due, (due_s, next(self._order), branch))

    def timer_at(self) -> float | None:
        """When `handle_timer` is to be called next; None while nothing is awaited."""
        while self._due:
            due_s, _, one = self._due[0]
            limit_s = one.turn_s if isinstance(one, Fork) else self._limit_s(one)
            if due_s == limit_s:
                return due_s
            heappop(self._due)
            if limit_s is not None and limit_s > due_s:
                heappush(self._due, (limit_s, next(self._order), one))
        return None

    def _limit_s(self, branch: Branch) -> float | None:
        return branch.limit_s if branch.transaction in self._branches else None

    def handle_timer(self, now_s: float) -> None:
        """Let everything that is due happen: the next turn, Timer C, the end of patience after a CANCEL."""
        while (due_s := self.timer_at()) is not None and due_s <= now_s:
            one = heappop(self._due)[2]
            if isinstance(one, Fork):
                self._end(one.open_branches(), now_s)
                self._next_group(one, now_s)
                self._settle(one, now_s)
                continue
            one.limit_s = None
            if not one.is_open:
                del self._branches[one.transaction]  # accepted, and its copies are over
            elif one.heard and not one.cancelled:
                self._end([one], now_s)  # §16.8: Timer C
            else:
                self._give_up(one, 408, now_s)


def _share(breadth: int, ways: int) -> int:
    """What each way may be split into, so that all of them together stay within what came (RFC 5393 §5.3.3)."""
    if breadth < ways:
        code, reason = _BREADTH_EXCEEDED
        raise PeerError("may not be split so far", code=code, reason=reason, clause="RFC 5393 §5.3.3")
    return breadth // ways


def _grouped(bound: Sequence[Binding], *, in_turn: bool) -> list[list[Uri]]:
    """All at once, or the bindings of each q for themselves, as they stand: the most wanted first (§16.6)."""
    if not in_turn:
        return [[each.uri for each in bound]]
    return [[each.uri for each in group] for _, group in groupby(bound, key=lambda each: each.q)]
