"""Calls and registrations message by message, in the order that RFC 3665 prints them (row S-20), and what strays."""

from dataclasses import replace

import pytest

from doorwright.sip.digest import Account, Challenge, parse_credentials, proves
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
)
from doorwright.sip.machines import Do
from doorwright.sip.message import Request, parse, response_to
from doorwright.sip.return_path import Address
from doorwright.sip.stack import Endpoint
from doorwright.sip.transaction import Transactions
from tests.unit.sip.wire import DOOR, FLAT, FLAT_URI, OFFER, Wire, endpoint, event_of, events_of


def pair() -> tuple[Endpoint, Endpoint, Wire]:
    door, flat = endpoint(DOOR, "100"), endpoint(FLAT, "205")
    return door, flat, Wire({DOOR: door, FLAT: flat})


def connected() -> tuple[Endpoint, Endpoint, Wire, int, int]:
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    theirs = event_of(flat, Invited).call
    flat.answer(theirs, body=OFFER, now_s=0.0)
    wire.settle()
    event_of(door, Answered)
    event_of(flat, Connected)
    wire.trace.clear()
    return door, flat, wire, call, theirs


def test_session_establishment() -> None:
    # RFC 3665 §3.1, F1 to F6
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    invited = event_of(flat, Invited)
    assert invited.request.body == OFFER
    flat.ring(invited.call, now_s=wire.now_s)
    wire.settle()
    assert event_of(door, Progress).response.code == 180
    wire.run(4.0)
    flat.answer(invited.call, body=b"theirs", now_s=wire.now_s)
    wire.settle()
    answered = event_of(door, Answered)
    assert (answered.call, answered.response.body, answered.again, answered.acknowledged) == (
        call,
        b"theirs",
        False,
        True,
    )
    assert event_of(flat, Connected).call == invited.call
    wire.run(60.0)
    flat.bye(invited.call, now_s=wire.now_s)
    wire.run(120.0)
    assert wire.words == ["INVITE", "180 INVITE", "200 INVITE", "ACK", "BYE", "200 BYE"]
    assert [source for _, source, _ in wire.trace] == [DOOR, FLAT, FLAT, DOOR, FLAT, DOOR]
    assert event_of(door, Ended).why is Why.THEY_HUNG_UP
    assert event_of(flat, Ended).why is Why.WE_HUNG_UP
    assert door.timer_at() is None
    assert flat.timer_at() is None


def test_reinvite() -> None:
    # RFC 3665 §3.7, F5 to F9, after the session is established
    door, flat, wire, call, theirs = connected()
    flat.reinvite(theirs, body=b"new offer", now_s=wire.now_s)
    wire.settle()
    assert event_of(door, Reinvited).request.body == b"new offer"
    door.answer(call, body=b"new answer", now_s=wire.now_s)
    wire.settle()
    answered = event_of(flat, Answered)
    assert (answered.again, answered.response.body) == (True, b"new answer")
    event_of(door, Connected)
    door.bye(call, now_s=wire.now_s)
    wire.settle()
    assert wire.words == ["INVITE", "200 INVITE", "ACK", "BYE", "200 BYE"]


def test_no_answer() -> None:
    # RFC 3665 §3.8 as the callee's hop has it: INVITE, 180, CANCEL, 200, 487, ACK
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    flat.ring(event_of(flat, Invited).call, now_s=0.0)
    wire.run(10.0)
    event_of(door, Progress)
    door.cancel(call, now_s=wire.now_s)
    wire.run(100.0)
    assert wire.words == ["INVITE", "180 INVITE", "CANCEL", "200 CANCEL", "487 INVITE", "ACK"]
    refused = event_of(door, Refused)
    assert (refused.code, refused.over) == (487, True)
    assert event_of(flat, Ended).why is Why.THEY_CANCELLED
    assert door.timer_at() is flat.timer_at() is None


@pytest.mark.parametrize(("code", "words"), [(486, "Busy Here"), (480, "Temporarily Unavailable")])
def test_busy_and_unavailable(code: int, words: str) -> None:
    # RFC 3665 §3.9 and §3.11 as the callee's hop has them: INVITE, refusal, ACK
    door, flat, wire = pair()
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    flat.refuse(event_of(flat, Invited).call, code=code, now_s=0.0)
    wire.run(100.0)
    assert wire.words == ["INVITE", f"{code} INVITE", "ACK"]
    refused = event_of(door, Refused)
    assert (refused.code, refused.reason, refused.over) == (code, words, True)
    assert events_of(flat) == []
    assert door.timer_at() is flat.timer_at() is None


def test_no_response() -> None:
    # RFC 3665 §3.10, at the hop to the silent end: the INVITE seven times (row S-16), then nothing
    door = endpoint(DOOR, "100")
    wire = Wire({DOOR: door})
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.run(100.0)
    assert wire.times_of("INVITE") == [0, 0.5, 1.5, 3.5, 7.5, 15.5, 31.5]
    refused = event_of(door, Refused)
    assert (refused.code, refused.response, refused.over) == (408, None, True)


class Challenger:
    """A server that answers every request 200 once its credentials are good (RFC 7616 by the project's own reader)."""

    def __init__(self, code: int) -> None:
        self.code = code
        self.transactions = Transactions()
        self.taken: list[Request] = []
        self.account = Account(username="100", password="a long secret")  # noqa: S106  (invented)
        self.challenge = Challenge(realm="building", nonce="once", qops=("auth",), algorithm="SHA-256")

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        for told in self.transactions.receive(parse(data), source=source, now_s=now_s):
            if told.what is Do.TELL_ACK and isinstance(told.message, Request):
                self.taken.append(told.message)
            if told.what is not Do.TELL_REQUEST or told.transaction is None:
                continue
            request = told.transaction.request
            asking, answering = {401: ("WWW-Authenticate", "Authorization")}.get(
                self.code, ("Proxy-Authenticate", "Proxy-Authorization")
            )
            given = request.headers.get(answering)
            credentials = parse_credentials(given) if given else None
            if (
                credentials is not None
                and credentials.nonce == self.challenge.nonce
                and proves(credentials, self.account, method=request.method)
            ):
                self.taken.append(request)
                contact = request.headers.get("Contact") or ""
                headers = [("Contact", contact if request.method == "REGISTER" else f"<{FLAT_URI}>")]
                response = response_to(request, 200, to_tag="server", headers=headers)
            else:
                response = response_to(request, self.code, to_tag="server", headers=[(asking, str(self.challenge))])
            self.transactions.respond(told.transaction, response, now_s=now_s)

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        return self.transactions.datagrams_to_send()

    def timer_at(self) -> float | None:
        return self.transactions.timer_at()

    def handle_timer(self, now_s: float) -> None:
        self.transactions.handle_timer(now_s)


def known_to(server: Challenger) -> tuple[Endpoint, Wire]:
    door = endpoint(DOOR, "100", accounts=(server.account,))
    return door, Wire({DOOR: door, FLAT: server})


def test_registration_with_challenge() -> None:
    # RFC 3665 §2.1, F1 to F4; then §2.4, unregistering, with credentials at once
    server = Challenger(401)
    door, wire = known_to(server)
    errand = door.register("sip:192.0.2.2", now_s=0.0)
    wire.settle()
    assert wire.words == ["REGISTER", "401 REGISTER", "REGISTER", "200 REGISTER"]
    replied = event_of(door, Replied)
    assert (replied.errand, replied.method, replied.code) == (errand, "REGISTER", 200)
    door.register("sip:192.0.2.2", expires_s=0, now_s=wire.now_s)
    wire.settle()
    assert wire.words[4:] == ["REGISTER", "200 REGISTER"]
    assert event_of(door, Replied).code == 200
    first, second = server.taken
    # §10.2: one Call-ID for all registrations, CSeq rising by one
    assert first.headers.call_id == second.headers.call_id
    assert [one.headers.cseq.number for one in (first, second)] == [2, 3]
    assert str(first.headers.to.uri) == "sip:100@192.0.2.1"
    assert [one.headers.expires_s for one in (first, second)] == [3600, 0]


def test_a_stale_nonce_is_replaced() -> None:
    # RFC 7616 §3.3: the same password with the new nonce; one answer to the challenge, never two
    server = Challenger(401)
    door, wire = known_to(server)
    door.register("sip:192.0.2.2", now_s=0.0)
    wire.settle()
    server.challenge = replace(server.challenge, nonce="twice", stale=True)
    door.register("sip:192.0.2.2", now_s=1.0)
    wire.settle()
    assert wire.words[4:] == ["REGISTER", "401 REGISTER", "REGISTER", "200 REGISTER"]
    (given,) = server.taken[-1].headers.all("Authorization")
    credentials = parse_credentials(given)
    assert credentials is not None
    assert (credentials.nonce, credentials.count) == ("twice", 1)


def test_registration_refused() -> None:
    # RFC 3665 §2.5: the credentials are wrong, and are not tried twice
    server = Challenger(401)
    door = endpoint(DOOR, "100", accounts=(Account(username="100", password="wrong"),))  # noqa: S106  (invented)
    wire = Wire({DOOR: door, FLAT: server})
    door.register("sip:192.0.2.2", now_s=0.0)
    wire.run(50.0)
    assert wire.words == ["REGISTER", "401 REGISTER", "REGISTER", "401 REGISTER"]
    assert event_of(door, Replied).code == 401


def test_invite_with_challenge() -> None:
    # RFC 3665 §3.3, F1 to F4 at the first proxy: INVITE, 407, ACK, INVITE with credentials
    server = Challenger(407)
    door, wire = known_to(server)
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.run(0.1)
    assert wire.words == ["INVITE", "407 INVITE", "ACK", "INVITE", "200 INVITE", "ACK"]
    answered = event_of(door, Answered)
    assert answered.response.headers.cseq.number == 2
    taken, ack = server.taken
    assert taken.headers.call_id == answered.response.headers.call_id
    # §22.1: the ACK carries the credentials of its INVITE
    assert ack.headers.all("Proxy-Authorization") == taken.headers.all("Proxy-Authorization") != ()


def test_answer_is_sent_until_acknowledged() -> None:
    # RFC 3261 §13.3.1.4: after T1, doubled up to T2; after 64 times T1 the dialog is confirmed, and hung up
    door, flat, wire = pair()
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    call = event_of(flat, Invited).call
    del wire.ends[DOOR]
    flat.answer(call, body=OFFER, now_s=0.0)
    wire.run(31.9)
    assert wire.times_of("200 INVITE") == [0, 0.5, 1.5, 3.5, 7.5, 11.5, 15.5, 19.5, 23.5, 27.5, 31.5]
    wire.run(32.0)
    assert wire.words[-1] == "BYE"
    assert event_of(flat, Ended).why is Why.NOT_ACKNOWLEDGED


def test_bye_waits_for_the_ack() -> None:
    # RFC 3261 §15: the callee must not hang up before its answer is acknowledged
    door, flat, wire = pair()
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    call = event_of(flat, Invited).call
    flat.answer(call, body=OFFER, now_s=0.0)
    flat.bye(call, now_s=0.0)
    wire.settle()
    assert wire.words == ["INVITE", "200 INVITE", "ACK", "BYE", "200 BYE"]


def test_an_offer_in_the_answer_is_answered_in_the_ack() -> None:
    # RFC 3261 §13.2.1: an INVITE without a body asks for an offer, whose answer is in the ACK
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, now_s=0.0)
    wire.settle()
    flat.answer(event_of(flat, Invited).call, body=b"offer", now_s=0.0)
    wire.run(1.0)
    answered = event_of(door, Answered)
    assert (answered.acknowledged, answered.response.body) == (False, b"offer")
    assert "ACK" not in wire.words
    door.acknowledge(call, body=b"answer")
    wire.run(1.0)
    assert event_of(flat, Connected).request.body == b"answer"
    with pytest.raises(LocalError):
        door.acknowledge(call, body=b"answer")


def test_cancel_waits_for_a_provisional_response() -> None:
    # RFC 3261 §9.1; here the 100 that is sent after 200 ms (§17.2.1)
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    door.cancel(call, now_s=0.0)
    wire.run(1.0)
    assert wire.words == ["INVITE", "100 INVITE", "CANCEL", "200 CANCEL", "487 INVITE", "ACK"]
    assert wire.times_of("CANCEL") == [0.2]
    events_of(flat)


def test_cancel_that_crosses_the_answer() -> None:
    # RFC 3261 §9.1: CANCEL has no effect on a final response; who called acknowledges and hangs up
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    theirs = event_of(flat, Invited).call
    flat.ring(theirs, now_s=0.0)
    wire.settle()
    door.cancel(call, now_s=0.0)
    flat.answer(theirs, body=OFFER, now_s=0.0)
    wire.run(1.0)
    assert wire.words.count("BYE") == 1
    assert event_of(door, Ended).why is Why.WE_HUNG_UP
    assert event_of(flat, Ended).why is Why.THEY_HUNG_UP


def test_cancel_that_is_never_answered() -> None:
    # RFC 3261 §9.1: 64 times T1 after the CANCEL the INVITE is given up
    door, flat, wire = pair()
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    flat.ring(event_of(flat, Invited).call, now_s=0.0)
    wire.settle()
    del wire.ends[FLAT]
    door.cancel(call, now_s=0.0)
    wire.run(31.9)
    assert [type(event) for event in events_of(door)] == [Progress]
    wire.run(32.0)
    assert event_of(door, Ended).why is Why.NO_ANSWER_TO_CANCEL


def test_a_digit_is_carried_by_info() -> None:
    door, flat, wire, _, theirs = connected()
    errand = flat.info(theirs, body=b"Signal=5\r\n", now_s=wire.now_s)
    wire.settle()
    assert wire.words == ["INFO", "200 INFO"]
    informed = event_of(door, Informed)
    assert (informed.request.body, informed.request.headers.content_type) == (b"Signal=5\r\n", "application/dtmf-relay")
    replied = event_of(flat, Replied)
    assert (replied.errand, replied.code) == (errand, 200)


def test_options_are_answered() -> None:
    # RFC 3261 §11.2: Allow and Accept tell what an INVITE would be told
    door, flat, wire = pair()
    door.options(FLAT_URI, now_s=0.0)
    wire.settle()
    response = event_of(door, Replied).response
    assert response is not None
    assert response.headers.tokens("Allow") == ("INVITE", "ACK", "BYE", "CANCEL", "OPTIONS", "INFO")
    assert "application/sdp" in response.headers.tokens("Accept")
    event_of(flat, Asked)


def test_invites_that_cross() -> None:
    # RFC 3261 §14.2: both get 491, and the call stays as it was
    door, flat, wire, call, theirs = connected()
    door.reinvite(call, body=OFFER, now_s=wire.now_s)
    flat.reinvite(theirs, body=OFFER, now_s=wire.now_s)
    wire.settle()
    assert wire.words == ["INVITE", "INVITE", "491 INVITE", "491 INVITE", "ACK", "ACK"]
    for end in (door, flat):
        refused = event_of(end, Refused)
        assert (refused.code, refused.over) == (491, False)
    door.bye(call, now_s=wire.now_s)
    wire.settle()
    assert wire.words[-2:] == ["BYE", "200 BYE"]


def test_the_other_end_has_forgotten_the_call() -> None:
    # RFC 3261 §12.2.1.2: 481 ends the call
    door, _, wire, call, _ = connected()
    fresh = endpoint(FLAT, "205")
    wire.ends[FLAT] = fresh
    door.info(call, body=b"Signal=1\r\n", now_s=wire.now_s)
    wire.settle()
    assert wire.words == ["INFO", "481 INFO", "BYE", "481 BYE"]
    assert [type(event) for event in events_of(door)] == [Replied, Ended]
    assert {type(event) for event in events_of(fresh)} == {Faulty}


def test_both_hang_up_at_once() -> None:
    door, flat, wire, call, theirs = connected()
    door.bye(call, now_s=wire.now_s)
    flat.bye(theirs, now_s=wire.now_s)
    wire.settle()
    assert wire.words == ["BYE", "BYE", "200 BYE", "200 BYE"]
    assert event_of(door, Ended).why is event_of(flat, Ended).why is Why.WE_HUNG_UP


def test_ringing_is_said_again_each_minute() -> None:
    # RFC 3261 §13.3.1.1, lest a proxy gives up
    door, flat, wire = pair()
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.settle()
    flat.ring(event_of(flat, Invited).call, now_s=0.0)
    wire.run(150.0)
    assert wire.times_of("180 INVITE") == [0, 60, 120]


def test_sending_that_fails_counts_as_503() -> None:
    # RFC 3261 §8.1.3.1
    door = endpoint(DOOR, "100")
    call = door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    door.transport_failed(FLAT, now_s=0.1)
    refused = event_of(door, Refused)
    assert (refused.call, refused.code, refused.over) == (call, 503, True)


def test_what_the_state_does_not_allow_is_refused_and_changes_nothing() -> None:
    door, flat, wire, call, theirs = connected()
    for wrong in (
        lambda: door.cancel(call, now_s=0.0),
        lambda: flat.answer(theirs, now_s=0.0),
        lambda: flat.ring(theirs, now_s=0.0),
        lambda: flat.refuse(theirs, now_s=0.0),
        lambda: door.bye(call + 100, now_s=0.0),
        lambda: door.invite("sip:205@flat.example", now_s=0.0),
        lambda: door.invite("205", now_s=0.0),
    ):
        with pytest.raises(LocalError):
            wrong()
    wire.settle()
    assert wire.words == []


def test_over_tcp_nothing_but_the_answer_is_sent_again() -> None:
    # RFC 3261 §13.3.1.4: the 2xx is sent again over any transport; Timers A, E and G are for UDP only
    door = endpoint(DOOR, "100", transport="TCP")
    wire = Wire({DOOR: door})
    door.invite(FLAT_URI, body=OFFER, now_s=0.0)
    wire.run(33.0)
    assert wire.words == ["INVITE"]
    assert event_of(door, Refused).code == 408
