"""Stations about a server in virtual time. Nothing is left to chance but what a test draws."""

from collections.abc import Callable
from heapq import heappop, heappush
from itertools import count
from random import Random

from doorwright.sip.headers import Headers
from doorwright.sip.machines import Do
from doorwright.sip.message import Message, Request, Response, parse, response_to
from doorwright.sip.return_path import Address
from doorwright.sip.server import Incident, Server
from doorwright.sip.transaction import Told, Transaction, Transactions, cancel_of
from doorwright.sip.uri import SipUri

SERVER = ("192.0.2.1", 5060)
DELAY_S = 0.01


def chance(seed: int) -> Callable[[int], bytes]:
    """Octets that look like chance and are the same in each run."""
    return Random(seed).randbytes  # noqa: S311


class Network:
    """Carries datagrams with a delay; `fate(data, source, target)` says how many copies arrive."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.now_s = 0.0
        self.stations: dict[Address, Station] = {}
        self.events: list[Incident] = []
        self.fate: Callable[[bytes, Address, Address], int] = lambda *_: 1
        self.carried = 0
        self._due: list[tuple[float, int, Callable[[], None]]] = []
        self._order = count()

    def later(self, after_s: float, action: Callable[[], None]) -> None:
        """Do it so many seconds from now."""
        heappush(self._due, (self.now_s + after_s, next(self._order), action))

    def carry(self, data: bytes, source: Address, target: Address) -> None:
        """Bring it, if its fate will have it."""
        self.carried += 1
        for _ in range(self.fate(data, source, target)):
            self.later(DELAY_S, lambda: self._deliver(data, source, target))

    def _deliver(self, data: bytes, source: Address, target: Address) -> None:
        if target == SERVER:
            self.server.receive_datagram(data, source=source, now_s=self.now_s)
        elif target in self.stations:
            self.stations[target].receive(data)

    def run(self, until_s: float) -> None:
        """Let everything happen up to this moment."""
        while True:
            self._flush()
            due = [each.transactions.timer_at() for each in self.stations.values()]
            due += [self.server.timer_at(), self._due[0][0] if self._due else None]
            next_s = min((each for each in due if each is not None), default=until_s + 1)
            if next_s > until_s:
                break
            self.now_s = max(self.now_s, next_s)
            while self._due and self._due[0][0] <= self.now_s:
                heappop(self._due)[2]()
            self.server.handle_timer(self.now_s)
            for each in self.stations.values():
                each.handle_timer()
        self.now_s = until_s

    def _flush(self) -> None:
        for data, target in self.server.datagrams_to_send():
            self.carry(data, SERVER, target)
        for each in self.stations.values():
            for data, target in each.transactions.datagrams_to_send():
                self.carry(data, each.address, target)
        while (event := self.server.next_event()) is not None:
            self.events.append(event)


class Station:
    """A unit: what came in, and a plan of seconds and codes by which it answers an INVITE.

    Below it run the transactions of the project; what its user does is here: a 2xx is said again until the ACK comes
    (RFC 3261 §13.3.1.4), and each 2xx received is acknowledged (§13.2.2.4).
    """

    def __init__(self, network: Network, host: int, *plan: tuple[float, int]) -> None:
        self.network = network
        self.address = (f"192.0.2.{host}", 5060)
        self.transactions = Transactions()
        self.got: list[tuple[float, Message]] = []  # copies too
        self.told: list[Told] = []  # no copies
        self.is_deaf = False
        self.adds: tuple[tuple[str, str], ...] = ()  # headers of what it answers to an INVITE
        self._plan = plan
        self._acknowledged: set[str] = set()
        network.stations[self.address] = self

    # What was heard

    def codes(self, method: str = "INVITE") -> list[int]:
        """The codes of the responses, copies too, in order."""
        heard = [one for _, one in self.got if isinstance(one, Response)]
        return [one.code for one in heard if one.headers.cseq.method == method]

    def finals(self, method: str = "INVITE") -> list[Response]:
        """The final responses that its transactions told it of."""
        heard = [one.message for one in self.told if isinstance(one.message, Response)]
        return [one for one in heard if one.is_final and one.headers.cseq.method == method]

    def requests(self, method: str) -> list[Request]:
        """The requests that came, copies too, in order."""
        return [one for _, one in self.got if isinstance(one, Request) and one.method == method]

    # What it does

    def send(self, message: Message | bytes) -> None:
        """Once, outside any transaction."""
        data = message if isinstance(message, bytes) else message.to_bytes()
        self.network.carry(data, self.address, SERVER)

    def request(self, method: str, target: str, *, seq: int = 1, **more: str) -> Request:
        """A request of this station; `more` are headers, with "_" for "-"."""
        host = self.address[0]
        contact = {"Contact": f"<sip:unit@{host}>"} if method == "INVITE" else {}
        headers = {
            "Via": f"SIP/2.0/UDP {host};branch=z9hG4bK{host}{method}{seq}",
            "Max-Forwards": "70",
            "From": f"<sip:unit@{host}>;tag={host}",
            "To": f"<{target}>",
            "Call-ID": f"call@{host}",
            "CSeq": f"{seq} {method}",
            **contact,
            **{name.replace("_", "-"): value for name, value in more.items()},
        }
        return Request(method, target, Headers(headers.items()))

    def ask(self, message: Request) -> Transaction:
        """Send a request and keep at it."""
        return self.transactions.request(message, peer=SERVER, now_s=self.network.now_s)

    def cancel(self, invite: Transaction) -> None:
        """Give up a call."""
        self.ask(cancel_of(invite.request))

    def receive(self, data: bytes) -> None:
        """Take what came."""
        message = parse(data)
        self.got.append((self.network.now_s, message))
        if not self.is_deaf:
            self._act(self.transactions.receive(message, source=SERVER, now_s=self.network.now_s))

    def handle_timer(self) -> None:
        """Let its transactions do what is due."""
        self._act(self.transactions.handle_timer(self.network.now_s))

    def _act(self, all_told: tuple[Told, ...]) -> None:
        for told in all_told:
            self.told.append(told)
            message, transaction = told.message, told.transaction
            if told.what is Do.TELL_ACK and isinstance(message, Request):
                self._acknowledged.add(message.headers.call_id)
            elif isinstance(message, Request) and transaction is not None:
                self._answer(transaction, message)
            elif isinstance(message, Response) and message.is_success and message.headers.cseq.method == "INVITE":
                self._acknowledge(message)

    def _answer(self, transaction: Transaction, came: Request) -> None:
        if came.method == "INVITE":
            for after_s, code in self._plan:
                self._later_say(transaction, code, after_s)
            return
        self._say(transaction, 200)
        invite = self.transactions.invite_of(came) if came.method == "CANCEL" else None
        if invite is not None and invite.is_open:
            self._say(invite, 487)

    def _later_say(self, transaction: Transaction, code: int, after_s: float) -> None:
        self.network.later(after_s, lambda: self._say(transaction, code))

    def _say(self, transaction: Transaction, code: int, wait_s: float = 0.5) -> None:
        came = transaction.request
        headers = [("Contact", f"<sip:unit@{self.address[0]}>"), *self.adds]
        if came.method == "INVITE":
            headers += [("Record-Route", value) for value in came.headers.all("Record-Route")]
        said = response_to(came, code, to_tag=f"tag{self.address[0]}", headers=headers)
        sent = self.transactions.respond(transaction, said, now_s=self.network.now_s)
        if sent and came.method == "INVITE" and said.is_success:
            self.network.later(wait_s, lambda: self._again(transaction, code, min(2 * wait_s, 4.0)))

    def _again(self, transaction: Transaction, code: int, wait_s: float) -> None:
        if transaction.request.headers.call_id not in self._acknowledged:
            self._say(transaction, code, wait_s)

    def _acknowledge(self, accepted: Response) -> None:
        """By the way that Record-Route says, else to the Contact itself (§12.2.1.1)."""
        headers = accepted.headers
        pairs = {
            "Via": f"SIP/2.0/UDP {self.address[0]};branch=z9hG4bKack{len(self.got)}",
            "Max-Forwards": "70",
            "From": headers.get("From") or "",
            "To": headers.get("To") or "",
            "Call-ID": headers.call_id,
            "CSeq": f"{headers.cseq.number} ACK",
        }
        routes = [("Route", str(each)) for each in reversed(headers.record_routes)]
        contact = headers.contacts[0].uri
        assert isinstance(contact, SipUri)
        ack = Request("ACK", str(contact), Headers([*pairs.items(), *routes]))
        self.transactions.send(ack, peer=SERVER if routes else (contact.host, 5060))
