"""The question on virtual time, by the transaction of RFC 3261 §17.1.2 and its figures (T1 500 ms, T2 4 s)."""

from collections.abc import Callable
from datetime import UTC, datetime

from doorwright.probe.question import Question
from doorwright.probe.sip import asking_options
from doorwright.sip.message import Request, parse, response_to
from doorwright.sip.validate import validate

NOON = datetime(2031, 5, 5, 12, 0, tzinfo=UTC)
LOCAL = ("192.0.2.9", 40000)
BEGIN_S = 100.0


class Asked:
    """A question to 192.0.2.22, driven by hand; every datagram has its turn at once unless it is held back."""

    def __init__(self, *, address: str = "192.0.2.22", port: int = 5060, patience_s: float = 32.0) -> None:
        self.peer = (address, port)
        self.question = Question(patience_s=patience_s, now=lambda: NOON)
        chance: Callable[[int], bytes] = bytes
        self.question.put(asking_options(self.peer, local=LOCAL, chance=chance, now_s=BEGIN_S), now_s=BEGIN_S)
        self.sent: list[tuple[float, bytes]] = []

    def send(self, now_s: float, *, held: bool = False) -> None:
        for data, to in self.question.datagrams_to_send():
            assert to == self.peer
            self.sent.append((now_s - BEGIN_S, data))
        if not held and self.question.wants_turn.is_set():
            self.question.wants_turn.clear()
            self.question.turn(now_s=now_s)
            self.send(now_s)

    def run(self, until_s: float, *, held: bool = False) -> None:
        while (due_s := self.question.timer_at()) is not None and due_s <= until_s:
            self.question.handle_timer(due_s)
            self.question.look()
            self.send(due_s, held=held)

    @property
    def moments(self) -> list[float]:
        return [moment_s for moment_s, _ in self.sent]

    @property
    def request(self) -> Request:
        request = parse(self.sent[0][1])
        assert isinstance(request, Request)
        return request

    def hear(self, data: bytes, now_s: float) -> None:
        self.question.receive_datagram(data, source=self.peer, now_s=now_s)
        self.question.look()
        self.send(now_s)


def asked(address: str = "192.0.2.22", port: int = 5060) -> Asked:
    made = Asked(address=address, port=port)
    made.send(BEGIN_S)
    return made


def test_the_request_is_valid_and_names_its_end() -> None:
    request = asked().request
    assert validate(request) == ()
    assert (request.target, str(request.headers.to)) == ("sip:192.0.2.22", "<sip:192.0.2.22>")
    assert request.headers.via.host == "192.0.2.9"
    assert request.headers.get("User-Agent") == "Doorwright"
    assert asked(port=5070).request.target == "sip:192.0.2.22:5070"
    assert asked(address="2001:db8::7").request.target == "sip:[2001:db8::7]"


def test_repetitions_double_up_to_t2() -> None:
    # §17.1.2.2: 500 ms, 1 s, 2 s, 4 s, 4 s, ... until timer F fires at 64 T1 = 32 s
    one = asked()
    one.run(BEGIN_S + 60)
    assert one.moments == [0, 0.5, 1.5, 3.5, 7.5, 11.5, 15.5, 19.5, 23.5, 27.5, 31.5]
    assert len({data for _, data in one.sent}) == 1
    assert one.question.is_over
    assert one.question.ended().response is None


def test_patience_ends_before_timer_f() -> None:
    one = Asked(patience_s=5)
    one.send(BEGIN_S)
    one.run(BEGIN_S + 5)
    assert one.moments == [0, 0.5, 1.5, 3.5]
    assert one.question.give_up_at_s == BEGIN_S + 5  # repetitions do not lengthen it


def test_what_waits_for_its_turn_waits_once() -> None:
    one = asked()
    one.run(BEGIN_S + 8, held=True)  # repetitions fall due at 0.5, 1.5, 3.5, 7.5 s, and the pace gives no turn
    assert one.moments == [0]
    one.question.turn(now_s=BEGIN_S + 8)
    one.send(BEGIN_S + 8, held=True)
    assert one.moments == [0, 8]


def test_after_a_provisional_response_it_repeats_every_t2() -> None:
    one = asked()
    one.hear(response_to(one.request, 100).to_bytes(), BEGIN_S)
    one.run(BEGIN_S + 10)
    assert one.moments == [0, 0.5, 4.5, 8.5]  # §17.1.2.2: the timer that runs fires once more, then every T2


def test_a_final_response_ends_it() -> None:
    one = asked()
    one.hear(response_to(one.request, 404, to_tag="u").to_bytes(), BEGIN_S + 0.1)
    assert one.question.timer_at() is None
    ended = one.question.ended()
    assert ended.response is not None
    assert ended.response.code == 404


def test_a_timer_that_comes_early_does_nothing() -> None:
    one = asked()
    one.question.handle_timer(BEGIN_S + 0.4)
    one.send(BEGIN_S + 0.4)
    assert one.moments == [0]


def test_a_response_through_further_hops_is_dropped() -> None:
    one = asked()
    response = response_to(one.request, 200, to_tag="u")
    further = response.with_headers(response.headers.adding("Via", "SIP/2.0/UDP 192.0.2.77;branch=z9hG4bKx"))
    one.hear(further.to_bytes(), BEGIN_S + 0.1)  # §8.1.3.3
    assert not one.question.is_over
    assert one.question.was_unreadable


def test_whoever_is_asked_makes_us_send_nothing() -> None:
    one = asked()
    one.hear(one.request.to_bytes(), BEGIN_S + 0.1)
    assert one.moments == [0]


def test_an_error_of_the_network_ends_it() -> None:
    one = asked()
    one.question.fail(ConnectionRefusedError())
    assert one.question.is_over
    assert one.question.ended().outcome == "refused"  # §17.1.4: somebody is there to refuse
