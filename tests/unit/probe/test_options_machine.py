"""The client's transaction on virtual time: RFC 3261 §17.1.2 and its figures (T1 500 ms, T2 4 s)."""

from doorwright.probe.sip import OptionsClient
from doorwright.sip.message import Request, parse, response_to
from doorwright.sip.validate import validate


def client(*, patience_s: float = 32.0, address: str = "192.0.2.22", port: int = 5060) -> OptionsClient:
    branch = "abc123"
    local = ("192.0.2.9", 40000)
    return OptionsClient(address=address, port=port, local=local, token=branch, now_s=100.0, patience_s=patience_s)


def sent(one: OptionsClient) -> list[float]:
    moments = []
    while (due_s := one.timer_at()) is not None:
        if one.handle_timer(due_s):
            moments.append(due_s - 100.0)
    return moments


def request_of(one: OptionsClient) -> Request:
    request = parse(one.request)
    assert isinstance(request, Request)
    return request


def test_the_request_is_valid_and_names_its_end() -> None:
    request = request_of(client())
    assert validate(request) == ()
    assert (request.target, str(request.headers.to)) == ("sip:192.0.2.22", "<sip:192.0.2.22>")
    assert request.headers.via.host == "192.0.2.9"
    assert request_of(client(port=5070)).target == "sip:192.0.2.22:5070"
    assert request_of(client(address="2001:db8::7")).target == "sip:[2001:db8::7]"


def test_repetitions_double_up_to_t2() -> None:
    # §17.1.2.2: 500 ms, 1 s, 2 s, 4 s, 4 s, ... until timer F fires at 64 T1 = 32 s
    assert sent(client()) == [0, 0.5, 1.5, 3.5, 7.5, 11.5, 15.5, 19.5, 23.5, 27.5, 31.5]


def test_giving_up_earlier_sends_no_more() -> None:
    one = client(patience_s=5)
    assert sent(one) == [0, 0.5, 1.5, 3.5]
    assert (one.response, one.was_unreadable) == (None, False)


def test_after_a_provisional_response_it_repeats_every_t2() -> None:
    one = client(patience_s=10)
    assert one.handle_timer(100.0)
    one.receive(response_to(request_of(one), 100).to_bytes())
    assert sent(one) == [0.5, 4.5, 8.5]  # §17.1.2.2: the timer that runs fires once more, then every T2


def test_a_final_response_ends_it() -> None:
    one = client()
    assert one.handle_timer(100.0)
    one.receive(response_to(request_of(one), 404, to_tag="u").to_bytes())
    assert one.timer_at() is None
    assert one.response is not None
    assert one.response.code == 404
    assert not one.handle_timer(200.0)


def test_a_timer_that_comes_early_does_nothing() -> None:
    one = client()
    assert one.handle_timer(100.0)
    assert not one.handle_timer(100.4)


def test_a_response_through_further_hops_is_dropped() -> None:
    one = client()
    response = response_to(request_of(one), 200, to_tag="u")
    further = response.with_headers(response.headers.adding("Via", "SIP/2.0/UDP 192.0.2.77;branch=z9hG4bKx"))
    one.receive(further.to_bytes())  # §8.1.3.3
    assert one.response is None
    assert one.was_unreadable
