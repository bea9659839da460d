"""A wire between sans-IO ends on virtual time, with a trace of what was sent on it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from heapq import heappop, heappush
from itertools import count
from typing import Protocol, TypeVar

from doorwright.sip.digest import Account
from doorwright.sip.events import Happening
from doorwright.sip.message import Request, parse
from doorwright.sip.return_path import Address
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri

DOOR: Address = ("192.0.2.1", 5060)
FLAT: Address = ("192.0.2.2", 5060)
OFFER = b"v=0\r\no=- 1 1 IN IP4 192.0.2.1\r\ns=-\r\nt=0 0\r\n"  # bytes to the endpoint; never read by it
FLAT_URI = "sip:205@192.0.2.2"
Kind = TypeVar("Kind")


class End(Protocol):
    """What stands at an end of the wire."""

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None: ...
    def datagrams_to_send(self) -> list[tuple[bytes, Address]]: ...
    def timer_at(self) -> float | None: ...
    def handle_timer(self, now_s: float) -> None: ...


def chance_of(seed: str) -> Callable[[int], bytes]:
    """Octets that look like chance and are the same in each run."""
    numbers = count()
    return lambda size: sha256(f"{seed} {next(numbers)}".encode()).digest()[:size]


def endpoint(address: Address, user: str, *, accounts: tuple[Account, ...] = (), transport: str = "UDP") -> Endpoint:
    """An endpoint of this user at this address."""
    uri = SipUri(user=user, host=address[0])
    identity = Identity(uri=uri, address=address, transport=transport)
    return Endpoint(identity, chance=chance_of(user), accounts=accounts)


def events_of(end: Endpoint) -> list[Happening]:
    """All that it has to tell."""
    found: list[Happening] = []
    while (event := end.next_event()) is not None:
        found.append(event)
    return found


def event_of(end: Endpoint, kind: type[Kind]) -> Kind:
    """The one event of this kind among all that it has to tell."""
    (found,) = [event for event in events_of(end) if isinstance(event, kind)]
    return found


def brief(data: bytes) -> str:
    """A message in a word: its method, or its code and the method it answers."""
    message = parse(data)
    return message.method if isinstance(message, Request) else f"{message.code} {message.headers.cseq.method}"


def always(_: int) -> tuple[float, ...]:
    """A wire that brings each datagram once, at once."""
    return (0.0,)


@dataclass
class Wire:
    """Carries datagrams between ends.

    Attributes:
        delays: for the n-th datagram, after how many seconds each of its copies arrives; none if it is lost.
        trace: when, from where, and what was sent.
    """

    ends: dict[Address, End]
    delays: Callable[[int], tuple[float, ...]] = always
    now_s: float = 0.0
    trace: list[tuple[float, Address, str]] = field(default_factory=list)
    _under_way: list[tuple[float, int, bytes, Address, Address]] = field(default_factory=list)
    _sent: int = 0
    _order: int = 0

    def collect(self) -> None:
        """Take what the ends want to send."""
        for source, end in self.ends.items():
            for data, destination in end.datagrams_to_send():
                self.trace.append((round(self.now_s, 6), source, brief(data)))
                for delay_s in self.delays(self._sent):
                    self._order += 1
                    heappush(self._under_way, (self.now_s + delay_s, self._order, data, source, destination))
                self._sent += 1

    def run(self, until_s: float) -> None:
        """Let happen what happens until then."""
        while True:
            self.collect()
            due = [at_s for end in self.ends.values() if (at_s := end.timer_at()) is not None]
            due += [self._under_way[0][0]] if self._under_way else []
            if not due or min(due) > until_s:
                break
            self.now_s = max(self.now_s, min(due))
            if self._under_way and self._under_way[0][0] <= self.now_s:
                _, _, data, source, destination = heappop(self._under_way)
                if destination in self.ends:
                    self.ends[destination].receive_datagram(data, source=source, now_s=self.now_s)
                continue
            for end in self.ends.values():
                at_s = end.timer_at()
                if at_s is not None and at_s <= self.now_s:
                    end.handle_timer(self.now_s)
        self.now_s = max(self.now_s, until_s)

    def settle(self) -> None:
        """Let happen what needs no time."""
        self.run(self.now_s)

    @property
    def words(self) -> list[str]:
        """What was sent, in order, from the start of the trace."""
        return [word for _, _, word in self.trace]

    def times_of(self, word: str) -> list[float]:
        """When this was sent."""
        return [at_s for at_s, _, said in self.trace if said == word]
