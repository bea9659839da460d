"""The timers of RFC 3261 Table 4 on virtual time (rows S-13 to S-16), over UDP and TCP."""

import pytest

from doorwright.sip.errors import LocalError
from doorwright.sip.headers import Headers
from doorwright.sip.machines import State
from doorwright.sip.message import Request, response_to
from doorwright.sip.return_path import Address
from doorwright.sip.timers import FIGURES, Timer, Times, first_wait_s, next_wait_s
from doorwright.sip.transaction import Told, Transaction, Transactions
from tests.unit.sip.wire import brief

HERE: Address = ("192.0.2.1", 5060)
THERE: Address = ("192.0.2.2", 5060)


def request(method: str, transport: str = "UDP") -> Request:
    pairs = [
        ("Via", f"SIP/2.0/{transport} 192.0.2.1:5060;branch=z9hG4bKone"),
        ("Max-Forwards", "70"),
        ("From", "<sip:100@192.0.2.1>;tag=a"),
        ("To", "<sip:205@192.0.2.2>"),
        ("Call-ID", "call"),
        ("CSeq", f"1 {method}"),
    ]
    return Request(method, "sip:205@192.0.2.2", Headers(pairs))


class Clock:
    """Runs transactions on virtual time, and writes down when what was sent and told."""

    def __init__(self) -> None:
        self.transactions = Transactions()
        self.now_s = 0.0
        self.sent: list[tuple[float, str]] = []
        self.told: list[tuple[float, Told]] = []

    def run(self, until_s: float) -> None:
        self._take()
        while (at_s := self.transactions.timer_at()) is not None and at_s <= until_s:
            self.now_s = at_s
            self.told += [(at_s, told) for told in self.transactions.handle_timer(at_s)]
            self._take()
        self.now_s = until_s

    def _take(self) -> None:
        self.sent += [(self.now_s, brief(data).split()[0]) for data, _ in self.transactions.datagrams_to_send()]

    def times(self, word: str) -> list[float]:
        return [round(at_s, 6) for at_s, said in self.sent if said == word]

    def ask(self, method: str, transport: str = "UDP") -> Transaction:
        return self.transactions.request(request(method, transport), peer=THERE, now_s=self.now_s)

    def asked(self, method: str, transport: str = "UDP") -> Transaction:
        (told,) = self.transactions.receive(request(method, transport), source=HERE, now_s=self.now_s)
        assert told.transaction is not None
        return told.transaction

    def hear(self, one: Transaction, code: int) -> None:
        self.transactions.receive(response_to(one.request, code, to_tag="b"), source=THERE, now_s=self.now_s)

    def say(self, one: Transaction, code: int) -> None:
        self.transactions.respond(one, response_to(one.request, code, to_tag="b"), now_s=self.now_s)

    def end_of(self, one: Transaction) -> float:
        """When the transaction ends, to a hundredth of a second."""
        while one.state is not State.TERMINATED:
            at_s = self.transactions.timer_at()
            assert at_s is not None
            self.run(at_s)
        return round(self.now_s, 6)


# Row S-16 and §17.1.1.2: 0.5, then doubled without end until Timer B at 64·T1 = 32 s (row S-14).
UNANSWERED_INVITE_S = [0, 0.5, 1.5, 3.5, 7.5, 15.5, 31.5]
# §17.1.2.2: doubled up to T2 = 4 s: 0.5, 1.5, 3.5, 7.5, then every 4 s.
UNANSWERED_REQUEST_S = [0, 0.5, 1.5, 3.5, 7.5, 11.5, 15.5, 19.5, 23.5, 27.5, 31.5]


@pytest.mark.parametrize(("method", "expected_s"), [("INVITE", UNANSWERED_INVITE_S), ("BYE", UNANSWERED_REQUEST_S)])
def test_a_request_is_sent_until_nobody_will_answer(method: str, expected_s: list[float]) -> None:
    clock = Clock()
    clock.ask(method)
    clock.run(100.0)
    assert clock.times(method) == expected_s
    assert [at_s for at_s, _ in clock.told] == [32.0]


@pytest.mark.parametrize("method", ["INVITE", "BYE"])
def test_over_tcp_a_request_is_sent_once(method: str) -> None:
    clock = Clock()
    clock.ask(method, "TCP")
    clock.run(100.0)
    assert clock.times(method) == [0]
    assert [at_s for at_s, _ in clock.told] == [32.0]


def test_a_provisional_response_slows_a_request_and_stops_an_invite() -> None:
    # §17.1.2.2: in Proceeding, Timer E is T2 from its next firing on; §17.1.1.2: an INVITE is not sent again
    clock = Clock()
    bye = clock.ask("BYE")
    clock.run(0.6)
    clock.hear(bye, 100)
    clock.run(12.0)
    assert clock.times("BYE") == [0, 0.5, 1.5, 5.5, 9.5]
    clock = Clock()
    invite = clock.ask("INVITE")
    clock.run(0.6)
    clock.hear(invite, 180)
    clock.run(1000.0)
    assert clock.times("INVITE") == [0, 0.5]
    assert invite.state is State.PROCEEDING


@pytest.mark.parametrize(
    ("method", "code", "transport", "expected_s"),
    [
        ("INVITE", 486, "UDP", 32.0),  # Timer D: at least 32 s
        ("INVITE", 486, "TCP", 0.0),
        ("INVITE", 200, "UDP", 32.0),  # Timer M: 64·T1 (RFC 6026 §7.2)
        ("INVITE", 200, "TCP", 32.0),
        ("BYE", 200, "UDP", 5.0),  # Timer K: T4
        ("BYE", 200, "TCP", 0.0),
    ],
)
def test_how_long_a_client_awaits_copies(method: str, code: int, transport: str, expected_s: float) -> None:
    clock = Clock()
    one = clock.ask(method, transport)
    clock.hear(one, code)
    assert clock.end_of(one) == expected_s


@pytest.mark.parametrize(
    ("method", "code", "transport", "expected_s"),
    [
        ("INVITE", 200, "UDP", 32.0),  # Timer L: 64·T1 (RFC 6026 §7.1)
        ("INVITE", 200, "TCP", 32.0),
        ("INVITE", 486, "UDP", 32.0),  # Timer H: 64·T1
        ("INVITE", 486, "TCP", 32.0),
        ("BYE", 200, "UDP", 32.0),  # Timer J: 64·T1
        ("BYE", 200, "TCP", 0.0),
    ],
)
def test_how_long_a_server_remembers(method: str, code: int, transport: str, expected_s: float) -> None:
    clock = Clock()
    one = clock.asked(method, transport)
    clock.say(one, code)
    assert clock.end_of(one) == expected_s


def test_a_refusal_is_sent_until_it_is_acknowledged() -> None:
    # §17.2.1: Timer G, T1 doubled up to T2; over TCP once
    clock = Clock()
    clock.say(clock.asked("INVITE"), 486)
    clock.run(100.0)
    assert clock.times("486") == UNANSWERED_REQUEST_S
    clock = Clock()
    clock.say(clock.asked("INVITE", "TCP"), 486)
    clock.run(100.0)
    assert clock.times("486") == [0]


@pytest.mark.parametrize(("transport", "expected_s"), [("UDP", 5.0), ("TCP", 0.0)])
def test_copies_of_the_ack_are_awaited(transport: str, expected_s: float) -> None:
    # Timer I: T4
    clock = Clock()
    one = clock.asked("INVITE", transport)
    clock.say(one, 486)
    clock.transactions.receive(request("ACK", transport), source=HERE, now_s=0.0)
    assert one.state is State.CONFIRMED
    assert clock.end_of(one) == expected_s
    assert clock.times("486") == [0]


def test_an_invite_without_an_answer_gets_100_after_200_ms() -> None:
    # §17.2.1
    clock = Clock()
    clock.asked("INVITE")
    clock.run(10.0)
    assert clock.sent == [(0.2, "100")]
    clock = Clock()
    clock.say(clock.asked("INVITE"), 180)
    clock.run(10.0)
    assert clock.times("100") == []


def test_base_figures() -> None:
    # Table 4 (row S-13); Timer C above three minutes (row S-15)
    times = Times()
    assert (times.t1_s, times.t2_s, times.t4_s, times.patience_s) == (0.5, 4.0, 5.0, 32.0)
    assert times.d_s >= 32.0
    assert times.proxy_s > 180.0
    assert set(FIGURES) == set(Timer)


def test_timers_follow_the_base_figures() -> None:
    # a slower network: T1 = 1 s, so 64·T1 = 64 s
    times = Times(t1_s=1.0)
    assert first_wait_s(Timer.B, times, reliable=False) == 64.0
    assert first_wait_s(Timer.A, times, reliable=True) is None
    assert first_wait_s(Timer.K, times, reliable=True) == 0.0
    assert next_wait_s(Timer.A, times, 8.0) == 16.0
    assert next_wait_s(Timer.G, times, 3.0) == 4.0
    with pytest.raises(LocalError):
        Times(t1_s=0.0)
