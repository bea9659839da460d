"""An endpoint among odd company: faults and codes, forks, routes, old stations, limits (RFC 3261 §8.2, §12, §13)."""

from collections.abc import Mapping
from types import MappingProxyType

import pytest

from doorwright.sip.errors import LocalError
from doorwright.sip.events import (
    Answered,
    Asked,
    Connected,
    Ended,
    Faulty,
    Informed,
    Invited,
    Progress,
    Refused,
    Reinvited,
    Replied,
    Why,
    Withdrawn,
)
from doorwright.sip.headers import Headers
from doorwright.sip.message import Request, Response, parse, response_to
from doorwright.sip.return_path import Address
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri
from tests.unit.sip.wire import DOOR, FLAT, FLAT_URI, OFFER, Wire, brief, chance_of, endpoint, event_of, events_of

BEGIN = {
    "Via": "SIP/2.0/UDP 192.0.2.1:5060;branch=z9hG4bKone",
    "Max-Forwards": "70",
    "From": "<sip:100@192.0.2.1>;tag=a",
    "To": "<sip:205@192.0.2.2>",
    "Call-ID": "call",
    "Contact": "<sip:100@192.0.2.1>",
}


def request(
    method: str,
    *,
    number: int = 1,
    body: bytes = b"",
    also: Mapping[str, str | None] = MappingProxyType({}),
    **changed: str | None,
) -> Request:
    """A request of a caller made by hand; a header given as None is left out, "_" in a name is "-"."""
    told = {**BEGIN, "CSeq": f"{number} {method}"}
    for name, value in {**also, **changed}.items():
        key = name.replace("_", "-")
        told.pop(key, None)
        if value is not None:
            told[key] = value
    return Request(method, FLAT_URI, Headers(told.items()), body)


def answers(end: Endpoint, asked: Request, *, source: Address = DOOR, now_s: float = 0.0) -> list[Response]:
    """What the endpoint says at once to a request."""
    end.receive_datagram(asked.to_bytes(), source=source, now_s=now_s)
    said = [parse(data) for data, _ in end.datagrams_to_send()]
    return [message for message in said if isinstance(message, Response)]


@pytest.mark.parametrize(
    ("asked", "code", "header"),
    [
        (request("MESSAGE"), 405, ("Allow", "INVITE, ACK, BYE, CANCEL, OPTIONS, INFO")),  # §8.2.1
        (request("REGISTER", Contact=None), 405, ("Allow", "INVITE, ACK, BYE, CANCEL, OPTIONS, INFO")),
        (request("SELL"), 501, None),  # §21.5.2
        (request("INVITE", Require="100rel"), 420, ("Unsupported", "100rel")),  # §8.2.2.3
        (
            request("INVITE", body=b"x", Content_Type="text/plain"),
            415,
            ("Accept", "application/sdp, application/dtmf-relay, application/dtmf"),
        ),  # §8.2.3
        (request("INVITE", Contact=None), 400, None),  # §8.1.1.8
        (request("INVITE", Call_ID=None), 400, None),  # §8.1.1.4; answered without a transaction
        (request("BYE"), 481, None),  # §15.1.2
        (request("INFO"), 481, None),
        (request("CANCEL"), 481, None),  # §9.2
        (request("BYE", To="<sip:205@192.0.2.2>;tag=unknown"), 481, None),  # §12.2.2
        (request("INVITE", To="<sip:205@192.0.2.2>;tag=unknown"), 481, None),
    ],
    ids=lambda value: f"{value.method}" if isinstance(value, Request) else None,
)
def test_faults_get_their_code(asked: Request, code: int, header: tuple[str, str] | None) -> None:
    flat = endpoint(FLAT, "205")
    (response,) = answers(flat, asked)
    assert response.code == code
    assert response.headers.to.tag  # §8.2.6.2: every response but 100 has one
    if header is not None:
        assert header in response.headers.pairs
    assert {type(event) for event in events_of(flat)} <= {Faulty}


def test_a_faulty_request_is_answered_the_same_each_time() -> None:
    # §8.2.7: a stateless answer has the same tag for each copy
    flat = endpoint(FLAT, "205")
    asked = request("INVITE", Max_Forwards="many")
    assert answers(flat, asked) == answers(flat, asked)
    assert len(events_of(flat)) == 2


def test_an_ack_is_never_answered() -> None:
    # §17.1.1.3
    flat = endpoint(FLAT, "205")
    assert answers(flat, request("ACK", Call_ID=None)) == []
    assert answers(flat, request("ACK", To="<sip:205@192.0.2.2>;tag=unknown")) == []


def test_answers_go_back_the_way_the_request_came() -> None:
    # §18.2.1 and RFC 3581 §4: received, and rport where it is asked for
    flat = endpoint(FLAT, "205")
    behind: Address = ("198.51.100.7", 40000)
    cases = [
        ("SIP/2.0/UDP 10.0.0.1:5070;rport;branch=z9hG4bKa", behind),
        ("SIP/2.0/UDP 10.0.0.1:5070;branch=z9hG4bKb", ("198.51.100.7", 5070)),
        ("SIP/2.0/UDP 10.0.0.1;branch=z9hG4bKc", ("198.51.100.7", 5060)),
        ("SIP/2.0/UDP 198.51.100.7:5070;branch=z9hG4bKd", ("198.51.100.7", 5070)),
        ("SIP/2.0/UDP 198.51.100.7:5071;received=203.0.113.1;branch=z9hG4bKf", ("198.51.100.7", 5071)),
        ("SIP/2.0/UDP door.example;received=203.0.113.1;branch=z9hG4bKe", ("198.51.100.7", 5060)),  # not believed
    ]
    for number, (via, expected) in enumerate(cases):
        asked = request("OPTIONS", Via=via, Call_ID=f"call{number}")
        flat.receive_datagram(asked.to_bytes(), source=behind, now_s=0.0)
        ((data, peer),) = flat.datagrams_to_send()
        assert peer == expected
        assert brief(data) == "200 OPTIONS"
    assert {type(event) for event in events_of(flat)} == {Asked}


def test_a_merged_request_is_refused() -> None:
    # §8.2.2.2: the same INVITE by two ways of a fork; the call goes on
    flat = endpoint(FLAT, "205")
    assert answers(flat, request("INVITE")) == []
    (response,) = answers(flat, request("INVITE", Via="SIP/2.0/UDP 192.0.2.1:5060;branch=z9hG4bKtwo"))
    assert response.code == 482
    assert [type(event) for event in events_of(flat)] == [Invited, Faulty]


def test_a_full_endpoint_says_so() -> None:
    # §21.5.4
    identity = Identity(uri=SipUri(user="205", host="192.0.2.2"), address=FLAT)
    flat = Endpoint(identity, chance=chance_of("205"), most_calls=1)
    assert answers(flat, request("INVITE")) == []
    via = "SIP/2.0/UDP 192.0.2.1:5060;branch=z9hG4bKtwo"
    (response,) = answers(flat, request("INVITE", Call_ID="other", Via=via))
    assert (response.code, response.headers.retry_after_s) == (503, 30)
    (response,) = answers(flat, request("OPTIONS", Call_ID="third", Via=via))
    assert response.code == 486  # §11.2: as an INVITE would be answered


def answered_by_hand() -> tuple[Endpoint, int, str]:
    """A callee in a call that a hand-made caller began with CSeq 1, and the tag that it gave itself."""
    flat = endpoint(FLAT, "205")
    answers(flat, request("INVITE", Record_Route="<sip:192.0.2.9;lr>, <sip:192.0.2.8;lr>"))
    call = event_of(flat, Invited).call
    flat.answer(call, body=OFFER, now_s=0.0)
    ((data, _),) = flat.datagrams_to_send()
    response = parse(data)
    assert isinstance(response, Response)
    # §12.1.1: the routes of the request are in the response that sets up the dialog
    assert response.headers.values("Record-Route") == ("<sip:192.0.2.9;lr>", "<sip:192.0.2.8;lr>")
    return flat, call, response.headers.to.tag or ""


def test_requests_out_of_order_are_refused() -> None:
    # §12.2.2
    flat, call, tag = answered_by_hand()
    told = {"To": f"<sip:205@192.0.2.2>;tag={tag}", "Content_Type": "application/dtmf-relay"}
    first = request("INFO", number=7, body=b"1", Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKi", also=told)
    late = request("INFO", number=6, body=b"2", Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKj", also=told)
    same = request("INFO", number=7, body=b"3", Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKk", also=told)
    assert [one.code for one in answers(flat, first)] == [200]
    assert [one.code for one in answers(flat, late)] == [500]
    assert [one.code for one in answers(flat, same)] == [500]  # §12.2.1.1: each number is one more than the last
    assert [type(event) for event in events_of(flat)] == [Informed, Faulty, Faulty]
    assert flat.next_event() is None
    assert call >= 1


def test_the_callee_follows_the_recorded_route() -> None:
    # §12.1.1 and §12.2.1.1: in the order of the request; the first hop is where it is sent, the target stays
    flat, call, tag = answered_by_hand()
    ack = request("ACK", To=f"<sip:205@192.0.2.2>;tag={tag}", Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKk")
    assert answers(flat, ack) == []
    event_of(flat, Connected)
    flat.bye(call, now_s=1.0)
    ((data, peer),) = flat.datagrams_to_send()
    bye = parse(data)
    assert isinstance(bye, Request)
    assert peer == ("192.0.2.9", 5060)
    assert bye.target == "sip:100@192.0.2.1"
    assert bye.headers.all("Route") == ("<sip:192.0.2.9;lr>", "<sip:192.0.2.8;lr>")
    assert (bye.headers.to.tag, bye.headers.from_.tag) == ("a", tag)


class Caller:
    """An endpoint that called, and what is said to it by hand."""

    def __init__(self) -> None:
        self.end = endpoint(DOOR, "100")
        self.call = self.end.invite(FLAT_URI, body=OFFER, now_s=0.0)
        (self.invite,) = self.sent()

    def sent(self) -> list[Request]:
        said = [parse(data) for data, _ in self.end.datagrams_to_send()]
        return [message for message in said if isinstance(message, Request)]

    def hears(self, code: int, tag: str, *headers: tuple[str, str], now_s: float = 0.1) -> list[Request]:
        """A response to the INVITE; what is asked then."""
        contact = ("Contact", f"<sip:{tag}@192.0.2.2:5062>")
        response = response_to(self.invite, code, to_tag=tag, headers=[contact, *headers])
        self.end.receive_datagram(response.to_bytes(), source=FLAT, now_s=now_s)
        return self.sent()


def test_an_invite_says_what_it_must() -> None:
    # §8.1.1, §13.2.1
    invite = Caller().invite
    headers = invite.headers
    assert invite.target == FLAT_URI
    assert (str(headers.to), str(headers.from_.uri)) == (f"<{FLAT_URI}>", "sip:100@192.0.2.1")
    assert headers.from_.tag
    assert headers.via.names_transaction
    assert headers.via.wants_rport
    assert headers.max_forwards == 70
    assert str(headers.contacts[0]) == "<sip:100@192.0.2.1:5060>"
    assert headers.tokens("Allow")
    assert (headers.content_type, invite.body) == ("application/sdp", OFFER)


def test_a_fork_that_answers_twice() -> None:
    # §13.2.2.4: both are acknowledged; the second is hung up; the call is with the first
    caller = Caller()
    caller.hears(180, "one")
    caller.hears(180, "two")
    (ack,) = caller.hears(200, "two")
    assert (ack.method, ack.target) == ("ACK", "sip:two@192.0.2.2:5062")
    ack, bye = caller.hears(200, "one")
    assert [one.method for one in (ack, bye)] == ["ACK", "BYE"]
    assert {str(one.headers.to.tag) for one in (ack, bye)} == {"one"}
    caller.end.receive_datagram(response_to(bye, 200).to_bytes(), source=FLAT, now_s=0.2)
    assert bye.headers.cseq.number == 2
    (again,) = caller.hears(200, "two", now_s=0.6)  # its ACK was lost
    assert (again.method, again.headers.to.tag) == ("ACK", "two")
    (again,) = caller.hears(200, "one", now_s=0.6)
    assert (again.method, again.headers.to.tag) == ("ACK", "one")
    assert [type(event) for event in events_of(caller.end)] == [Progress, Progress, Answered]
    caller.end.bye(caller.call, now_s=1.0)
    (bye,) = caller.sent()
    assert bye.headers.to.tag == "two"


def test_the_caller_follows_the_recorded_route_backwards() -> None:
    # §12.1.2
    caller = Caller()
    route = ("Record-Route", "<sip:192.0.2.8;lr>, <sip:192.0.2.9;lr>")
    (ack,) = caller.hears(200, "one", route)
    assert ack.headers.all("Route") == ("<sip:192.0.2.9;lr>", "<sip:192.0.2.8;lr>")
    assert ack.target == "sip:one@192.0.2.2:5062"
    assert ack.headers.cseq.number == caller.invite.headers.cseq.number
    assert ack.headers.via.branch != caller.invite.headers.via.branch  # §17.1.1.3: a transaction of its own


def test_a_strict_router_stands_on_the_request_line() -> None:
    # §12.2.1.1: without lr the first route is the Request-URI, and the target ends the route
    caller = Caller()
    (ack,) = caller.hears(200, "one", ("Record-Route", "<sip:192.0.2.8;lr>, <sip:192.0.2.9;method=x>"))
    assert ack.target == "sip:192.0.2.9"
    assert ack.headers.all("Route") == ("<sip:192.0.2.8;lr>", "<sip:one@192.0.2.2:5062>")


def test_a_host_that_is_a_name_is_reached_the_way_it_was_called() -> None:
    door = endpoint(DOOR, "100")
    call = door.invite("sip:205@building.example", body=OFFER, through=FLAT, now_s=0.0)
    ((data, peer),) = door.datagrams_to_send()
    assert peer == FLAT
    invite = parse(data)
    assert isinstance(invite, Request)
    response = response_to(invite, 200, to_tag="b", headers=[("Contact", "<sip:205@flat.example>")])
    door.receive_datagram(response.to_bytes(), source=FLAT, now_s=0.1)
    ((data, peer),) = door.datagrams_to_send()
    assert (brief(data), peer) == ("ACK", FLAT)
    assert call >= 1


@pytest.mark.parametrize("target", ["205", "sip:205@192.0.2.2?Subject=x", "sip:205@192.0.2.2;method=BYE", "sip:a b@h"])
def test_an_address_that_no_request_line_may_hold_is_refused(target: str) -> None:
    with pytest.raises(LocalError):
        endpoint(DOOR, "100").invite(target, through=FLAT, now_s=0.0)


def test_a_response_for_somebody_else_is_dropped() -> None:
    # §8.1.3.3: a second Via says that it has further to go
    caller = Caller()
    response = response_to(caller.invite, 200, to_tag="b")
    further = response.with_headers(response.headers.adding("Via", "SIP/2.0/UDP 192.0.2.77;branch=z9hG4bKx"))
    caller.end.receive_datagram(further.to_bytes(), source=FLAT, now_s=0.1)
    assert caller.sent() == []
    event_of(caller.end, Faulty)


def test_a_call_from_a_station_of_before_rfc_3261() -> None:
    # §12.1.1 and §17.2.3: no branch, no tag in From; ACK and BYE find the call
    flat = endpoint(FLAT, "205")
    old: dict[str, str | None] = {
        "Via": "SIP/2.0/UDP 192.0.2.1:5060",
        "From": "<sip:100@192.0.2.1>",
        "Max_Forwards": None,
    }
    assert answers(flat, request("INVITE", also=old)) == []
    assert answers(flat, request("INVITE", also=old), now_s=0.1) == []
    call = event_of(flat, Invited).call
    flat.answer(call, body=OFFER, now_s=0.2)
    ((data, _),) = flat.datagrams_to_send()
    response = parse(data)
    old["To"] = response.headers.get("To")
    assert answers(flat, request("ACK", also=old), now_s=0.3) == []
    event_of(flat, Connected)
    assert [one.code for one in answers(flat, request("BYE", number=2, also=old), now_s=1.0)] == [200]
    assert event_of(flat, Ended).why is Why.THEY_HUNG_UP


def test_a_bye_before_the_answer_ends_the_call() -> None:
    # §15: who called may hang up an early dialog; the INVITE is answered 487 (§15.1.2)
    flat = endpoint(FLAT, "205")
    answers(flat, request("INVITE"))
    call = event_of(flat, Invited).call
    flat.ring(call, now_s=0.0)
    ((data, _),) = flat.datagrams_to_send()
    to = parse(data).headers.get("To") or ""
    bye = request("BYE", number=2, To=to, Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKb")
    assert [one.code for one in answers(flat, bye)] == [200, 487]
    assert event_of(flat, Ended).why is Why.THEY_HUNG_UP


def test_a_change_that_is_taken_back() -> None:
    door, flat = endpoint(DOOR, "100"), endpoint(FLAT, "205")
    wire = Wire({DOOR: door, FLAT: flat})
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    theirs = event_of(flat, Invited).call
    flat.answer(theirs, body=OFFER, now_s=0.0)
    wire.settle()
    events_of(door)
    events_of(flat)
    door.reinvite(call, body=OFFER, now_s=1.0)
    with pytest.raises(LocalError):
        door.reinvite(call, body=OFFER, now_s=1.0)
    wire.run(2.0)
    event_of(flat, Reinvited)
    door.cancel(call, now_s=wire.now_s)
    wire.settle()
    event_of(flat, Withdrawn)
    refused = event_of(door, Refused)
    assert (refused.code, refused.over) == (487, False)
    door.info(call, body=b"Signal=1\r\n", now_s=wire.now_s)
    wire.settle()
    assert event_of(door, Replied).code == 200


def test_a_second_invite_while_one_is_open() -> None:
    # §14.2: 500 with Retry-After of up to 10 s
    flat, _, tag = answered_by_hand()
    told = {"To": f"<sip:205@192.0.2.2>;tag={tag}"}
    first = request("INVITE", number=2, Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKi", also=told)
    second = request("INVITE", number=3, Via="SIP/2.0/UDP 192.0.2.1;branch=z9hG4bKj", also=told)
    assert answers(flat, first) == []
    (response,) = answers(flat, second)
    assert response.code == 500
    assert response.headers.retry_after_s in range(11)


def test_rubbish_is_told_and_not_answered() -> None:
    flat = endpoint(FLAT, "205")
    for rubbish in (b"", b"\r\n\r\n", b"\x00" * 9, b"SIP/2.0 99 x\r\n\r\n", b"HTTP/1.1 200 OK\r\n\r\n", b"x" * 70000):
        flat.receive_datagram(rubbish, source=DOOR, now_s=0.0)
        assert flat.datagrams_to_send() == []
        event_of(flat, Faulty)


def test_an_invitation_expires() -> None:
    # §13.3.1: 487 when the Expires of the INVITE has passed without a final response
    flat = endpoint(FLAT, "205")
    answers(flat, request("INVITE", Expires="30"))
    call = event_of(flat, Invited).call
    flat.ring(call, now_s=0.0)
    flat.datagrams_to_send()
    flat.handle_timer(29.9)
    assert flat.datagrams_to_send() == []
    flat.handle_timer(30.0)
    assert [brief(data) for data, _ in flat.datagrams_to_send()] == ["487 INVITE"]
    assert event_of(flat, Ended).why is Why.EXPIRED
    with pytest.raises(LocalError):
        flat.answer(call, now_s=30.1)
    # answered in time, it holds
    flat = endpoint(FLAT, "205")
    via = "SIP/2.0/UDP 192.0.2.1:5060;branch=z9hG4bKtwo"
    answers(flat, request("INVITE", Expires="30", Call_ID="other", Via=via), now_s=40.0)
    flat.answer(event_of(flat, Invited).call, body=OFFER, now_s=41.0)
    flat.handle_timer(70.0)
    assert "487 INVITE" not in [brief(data) for data, _ in flat.datagrams_to_send()]
    assert flat.next_event() is None


def test_an_invitation_for_years_leaves_nothing_behind() -> None:
    flat = endpoint(FLAT, "205")
    answers(flat, request("INVITE", Expires="4294967295"))
    call = event_of(flat, Invited).call
    flat.refuse(call, now_s=1.0)
    answers(flat, request("ACK"), now_s=1.1)
    for _ in range(9):
        at_s = flat.timer_at()
        if at_s is not None:
            flat.handle_timer(at_s)
    assert flat.timer_at() is None


def within(tag: str, method: str, number: int, *, branch: str, **changed: str) -> Request:
    """A request of the hand-made caller in its call."""
    via = f"SIP/2.0/UDP 192.0.2.1;branch=z9hG4bK{branch}"
    return request(method, number=number, To=f"<sip:205@192.0.2.2>;tag={tag}", Via=via, also=changed)


def test_nothing_is_asked_before_the_answer_is_acknowledged() -> None:
    # §14.1 for INVITE; who called may not have seen the 2xx, and would answer 481
    flat, call, tag = answered_by_hand()
    for wrong in (
        lambda: flat.reinvite(call, body=OFFER, now_s=0.1),
        lambda: flat.info(call, body=b"Signal=1\r\n", now_s=0.1),
    ):
        with pytest.raises(LocalError):
            wrong()
    assert flat.datagrams_to_send() == []
    answers(flat, within(tag, "ACK", 1, branch="ack"))
    flat.info(call, body=b"Signal=1\r\n", now_s=0.2)
    assert [brief(data) for data, _ in flat.datagrams_to_send()] == ["INFO"]


def test_a_bye_waits_for_every_ack() -> None:
    # §15, where the caller changed the call before it acknowledged the first answer
    flat, call, tag = answered_by_hand()
    answers(flat, within(tag, "INVITE", 2, branch="again"))
    flat.answer(call, body=OFFER, now_s=0.1)
    flat.bye(call, now_s=0.2)
    assert [brief(data) for data, _ in flat.datagrams_to_send()] == ["200 INVITE"]
    flat.receive_datagram(within(tag, "ACK", 1, branch="ack1").to_bytes(), source=DOOR, now_s=0.3)
    assert flat.datagrams_to_send() == []
    flat.receive_datagram(within(tag, "ACK", 2, branch="ack2").to_bytes(), source=DOOR, now_s=0.3)
    assert [brief(data) for data, _ in flat.datagrams_to_send()] == ["BYE"]


def test_a_changed_contact_is_where_requests_go() -> None:
    # §12.2.2: a re-INVITE refreshes the target, never the route
    flat, call, tag = answered_by_hand()
    answers(flat, within(tag, "ACK", 1, branch="ack1"))
    answers(flat, within(tag, "INVITE", 2, branch="again", Contact="<sip:100@192.0.2.1:5099>"))
    flat.answer(call, body=OFFER, now_s=0.1)
    answers(flat, within(tag, "ACK", 2, branch="ack2"))
    flat.datagrams_to_send()
    flat.bye(call, now_s=0.2)
    ((data, peer),) = flat.datagrams_to_send()
    bye = parse(data)
    assert isinstance(bye, Request)
    assert bye.target == "sip:100@192.0.2.1:5099"
    assert peer == ("192.0.2.9", 5060)
    assert bye.headers.all("Route") == ("<sip:192.0.2.9;lr>", "<sip:192.0.2.8;lr>")


def test_after_a_bye_nothing_is_said_again_and_nothing_known() -> None:
    # §15.1.2; the ACK was lost, the BYE came
    flat, _, tag = answered_by_hand()
    assert [one.code for one in answers(flat, within(tag, "BYE", 2, branch="bye"))] == [200]
    flat.handle_timer(0.5)
    assert flat.datagrams_to_send() == []
    assert [one.code for one in answers(flat, within(tag, "BYE", 3, branch="other"))] == [481]


def test_a_change_that_meets_nobody_ends_the_call() -> None:
    # §12.2.1.2: 481 to a re-INVITE; BYE is sent, for they may know the half of it
    caller = Caller()
    caller.hears(200, "one")
    caller.end.reinvite(caller.call, body=OFFER, now_s=1.0)
    (caller.invite,) = caller.sent()
    assert [one.method for one in caller.hears(481, "one", now_s=1.1)] == ["ACK", "BYE"]
    told = events_of(caller.end)
    assert [type(event) for event in told] == [Answered, Refused, Ended]
    assert isinstance(told[-1], Ended)
    assert told[-1].why is Why.NO_LONGER_KNOWN
