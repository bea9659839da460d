"""The registrar: who can be reached where, and until when (RFC 3261 §10.3). State and time only; no transactions.

`Registrar.answer` is called once for each REGISTER, however often that came: the transaction below it repeats the
response, because a second reading would find its own CSeq used (§10.3 step 7).
"""

from collections.abc import Collection
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush
from re import compile as pattern
from typing import Final

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import Parameters
from doorwright.sip.guard import Guard
from doorwright.sip.headers import DEFAULT_EXPIRES_S, lenient_seconds
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.return_path import PORT
from doorwright.sip.uri import NameAddr, SipUri, Uri, equivalent
from doorwright.sip.validate import Abilities, faults_for_registrar, faults_for_server

_ABILITIES: Final = Abilities(methods=("REGISTER",))
ONE_HOUR_S: Final = 3600  # §10.3 step 7: an interval of an hour or more is never too brief
_QVALUE: Final = pattern(r"0(?:\.[0-9]{0,3})?|1(?:\.0{0,3})?")  # §25.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a registrar grants.

    Attributes:
        shortest_s: what is asked for below this gets 423 with Min-Expires; an hour or more never does.
        longest_s: what is asked for above this is cut to it.
        default_s: for a contact that names no time.
        bindings: the most for one address of record.
    """

    shortest_s: int = 60
    longest_s: int = ONE_HOUR_S
    default_s: int = DEFAULT_EXPIRES_S
    bindings: int = 10

    def __post_init__(self) -> None:
        if not 0 < self.shortest_s <= ONE_HOUR_S or self.longest_s < self.shortest_s or self.bindings < 1:
            raise LocalError("a registrar grants from 1 to 3600 seconds at least, no less at most, and a binding")


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """One way to reach an address of record.

    Attributes:
        uri: the contact, with all parameters of the address.
        q: thousandths from 0 to 1000, the wish of the one who registered; 1000 where nothing was said (our own choice:
            §16.6 orders by q and says nothing of its absence, and one binding without q is the usual case).
        until_s: when it ends, on the clock of `Registrar.answer`.
        others: parameters of the contact other than q and expires, told back as they came.
    """

    uri: Uri
    q: int
    call_id: str
    cseq: int
    until_s: float
    display: str = ""
    told_q: str | None = None
    others: Parameters = field(default_factory=Parameters)

    def told(self, now_s: float) -> str:
        """The contact as a response names it, with the whole seconds that are left, never 0 (§10.3 step 8)."""
        params = self.others if self.told_q is None else self.others.having("q", self.told_q)
        left_s = max(1, int(self.until_s - now_s))
        return str(NameAddr(self.uri, self.display, params.having("expires", str(left_s))))


class Registrar:
    """Bindings of the users of one domain, and the answers to REGISTER.

    An address of record is known by its user alone: all `domains` are names of this one server, with its port or with
    none, whatever parameters stand beside them (§10.3 step 5 drops these).
    """

    def __init__(
        self,
        *,
        domains: Collection[str],
        users: Collection[str],
        port: int = PORT,
        guard: Guard | None = None,
        limits: Limits | None = None,
    ) -> None:
        """Set up.

        Args:
            domains: names and addresses of this server, as they stand behind the @.
            users: the addresses of record that there are; with the limit on bindings they bound the memory.
            port: of this server; another beside the same host is another server's.
            guard: asks for credentials, and an account may then register the user of its own name only; None lets
                everybody register.
            limits: what is granted.
        """
        self.domains = frozenset(each.lower() for each in domains)
        self.users = frozenset(users)
        self._port = port
        self._guard = guard
        self._limits = limits or Limits()
        self._bindings: dict[str, list[Binding]] = {}
        self._count = 0
        self._ends: list[tuple[float, str]] = []  # when some binding of that user may end; what is late is passed over

    def serves(self, uri: Uri) -> bool:
        """Whether the address is one of this domain."""
        return isinstance(uri, SipUri) and uri.host.lower() in self.domains and uri.port in {None, self._port}

    def bindings_of(self, user: str, *, now_s: float) -> tuple[Binding, ...]:
        """What is bound to the user, the most wanted first; among equals the one that was bound first."""
        here = (each for each in self._bindings.get(user, ()) if each.until_s > now_s)
        return tuple(sorted(here, key=lambda each: -each.q))

    def timer_at(self) -> float | None:
        """When the next binding may end; forgetting it later costs memory only, for nobody is shown it."""
        return self._ends[0][0] if self._ends else None

    def handle_timer(self, now_s: float) -> tuple[tuple[str, Binding], ...]:
        """Forget what is over; return it, user beside binding, the longest over first."""
        over: list[tuple[str, Binding]] = []
        while self._ends and self._ends[0][0] <= now_s:
            _, user = heappop(self._ends)
            held = self._bindings.get(user, [])
            over += [(user, each) for each in held if each.until_s <= now_s]
            self._keep(user, [each for each in held if each.until_s > now_s])
        return tuple(over)

    def answer(self, request: Request, *, now_s: float, to_tag: str) -> Response:
        """The response to a REGISTER that `validate` found no fault with; nothing is half done where it is a refusal.

        `to_tag` goes into To where that has none (§8.2.6.2).
        """
        try:
            user = self._admitted(request, now_s)
            held = [each for each in self._bindings.get(user, ()) if each.until_s > now_s]
            kept = self._altered(request, held, now_s)
        except PeerError as fault:
            return response_to(request, fault.code, fault.reason, to_tag=to_tag, headers=fault.headers)
        if kept is not held:
            self._keep(user, kept)
            for each in kept:
                if each not in held:
                    heappush(self._ends, (each.until_s, user))
            self._tidy()
        told = [("Contact", each.told(now_s)) for each in kept]
        return response_to(request, 200, to_tag=to_tag, headers=told)

    def _keep(self, user: str, bindings: list[Binding]) -> None:
        self._count += len(bindings) - len(self._bindings.get(user, ()))
        if bindings:
            self._bindings[user] = bindings
        else:
            self._bindings.pop(user, None)

    def _tidy(self) -> None:
        """Renewals leave their old ends behind; rebuilt when most are old, the list stays in proportion."""
        if len(self._ends) > 64 + 2 * self._count:
            self._ends = [(each.until_s, user) for user, held in self._bindings.items() for each in held]
            heapify(self._ends)

    def _admitted(self, request: Request, now_s: float) -> str:
        """§10.3 steps 2 to 5: the user whose bindings the request may see and change."""
        for fault in (*faults_for_server(request, _ABILITIES), *faults_for_registrar(request)):
            raise fault
        account = None if self._guard is None else self._guard.admit(request, now_s=now_s)
        uri = request.headers.to.uri
        user = uri.user_text if isinstance(uri, SipUri) else ""
        if account is not None and account.username != user:
            problem = f"the account {account.username} may not register another user"
            raise PeerError(problem, code=403, clause="RFC 3261 §10.3 step 4")
        if not self.serves(uri) or user not in self.users:
            raise PeerError("no such address of record here", code=404, clause="RFC 3261 §10.3 step 5")
        return user

    def _altered(self, request: Request, held: list[Binding], now_s: float) -> list[Binding]:
        """§10.3 steps 6 and 7: the bindings after the request, `held` itself where it only asks."""
        headers = request.headers
        if headers.contact_star:
            for each in held:
                self._in_order(request, each)
            return []
        if not headers.contacts:
            return held
        kept = list(held)
        for contact in headers.contacts:
            told = contact.params.get("expires")
            asked_s = headers.expires_s if told is None else lenient_seconds(told)
            granted_s = min(self._limits.default_s if asked_s is None else asked_s, self._limits.longest_s)
            if asked_s is not None and 0 < asked_s < self._limits.shortest_s:
                least = (("Min-Expires", str(self._limits.shortest_s)),)
                raise PeerError("a registration too brief", code=423, clause="RFC 3261 §10.3 step 7", headers=least)
            place = next((at for at, each in enumerate(kept) if equivalent(each.uri, contact.uri)), None)
            if place is not None and kept[place] in held:
                self._in_order(request, kept[place])
            if granted_s == 0:
                if place is not None:
                    del kept[place]
                continue
            made = _binding(contact, request, now_s + granted_s)
            if place is None:
                kept.append(made)
            else:
                kept[place] = made
        if len(kept) > self._limits.bindings:
            problem = f"more than {self._limits.bindings} bindings for one address of record"
            raise PeerError(problem, code=403, reason="Too Many Bindings", clause="")  # our own choice: no RFC says
        return kept

    def _in_order(self, request: Request, binding: Binding) -> None:
        """Within one Call-ID the later CSeq wins, so a request that was overtaken changes nothing (§10.3)."""
        if request.headers.call_id == binding.call_id and request.headers.cseq.number <= binding.cseq:
            raise PeerError("a registration that was overtaken", code=500, clause="RFC 3261 §10.3 step 7")


def _binding(contact: NameAddr, request: Request, until_s: float) -> Binding:
    told_q = contact.params.get("q")
    if told_q is not None and not _QVALUE.fullmatch(told_q):
        raise PeerError("q is not a number from 0 to 1 with three digits at most", clause="RFC 3261 §25.1")
    return Binding(
        uri=contact.uri,
        q=1000 if told_q is None else round(float(told_q) * 1000),
        call_id=request.headers.call_id,
        cseq=request.headers.cseq.number,
        until_s=until_s,
        display=contact.display,
        told_q=told_q,
        others=contact.params.without("q").without("expires"),
    )
