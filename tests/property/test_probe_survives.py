"""Whatever the network sends, reading it ends in an answer or in none, never in a crash."""

import json
from datetime import UTC, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from doorwright.probe.clock import ahead_s
from doorwright.probe.head import Head, read_head
from doorwright.probe.neighbours import from_listing, from_old_table
from doorwright.probe.question import Question
from doorwright.probe.reach import Outcome
from doorwright.probe.rtsp import read_rtsp
from doorwright.probe.sip import asking_options
from doorwright.probe.web import read_web
from doorwright.sip.message import Request, parse, response_to

NOON = datetime(2031, 5, 5, 12, 0, tzinfo=UTC)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(("dst", "lladdr", "state", "x")), inner, max_size=4)
    ),
    max_leaves=12,
)


PEER = ("192.0.2.22", 5060)


def asked() -> tuple[Question, bytes]:
    """Return a question that was sent, and the request."""
    question = Question(patience_s=5.0, now=lambda: NOON)
    question.put(asking_options(PEER, local=("192.0.2.9", 40000), chance=bytes, now_s=0.0), now_s=0.0)
    ((request, _),) = question.datagrams_to_send()
    return question, request


@given(st.lists(st.binary(max_size=200), max_size=4))
def test_any_datagrams_leave_the_question_open(datagrams: list[bytes]) -> None:
    one, _ = asked()
    for data in datagrams:
        one.receive_datagram(data, source=PEER, now_s=0.1)
        one.look()
    assert not one.is_over
    assert one.datagrams_to_send() == []
    assert one.timer_at() == 0.5  # RFC 3261 §17.1.2.2: T1


@given(st.data())
def test_an_answer_with_bytes_changed_is_an_answer_or_none(data: st.DataObject) -> None:
    one, question = asked()
    request = parse(question)
    assert isinstance(request, Request)
    sent = bytearray(response_to(request, 200, to_tag="u").to_bytes())
    for _ in range(data.draw(st.integers(0, 4))):
        sent[data.draw(st.integers(0, len(sent) - 1))] = data.draw(st.integers(0, 255))
    one.receive_datagram(bytes(sent), source=PEER, now_s=0.1)
    one.look()
    assert one.ended().response is None or one.is_over


@given(st.binary(max_size=300), st.binary(max_size=300), st.sampled_from(("HTTP/1.1 200 OK", "RTSP/1.0 200 OK", "")))
def test_any_head_and_any_certificate_are_read(said: bytes, certificate: bytes, start: str) -> None:
    first, fields = read_head(start.encode() + b"\r\n" + said)
    assert first == start
    head = Head(
        outcome=Outcome.ANSWERED, start=first, fields=fields, certificate=certificate, asked_at=NOON, heard_at=NOON
    )
    assert read_web(head).status in (None, 200)
    assert read_rtsp(head).status in (None, 200)


DATES = st.from_regex(r"[A-Z][a-z]{2}, \d{1,3} [A-Z][a-z]{2} \d{1,7} \d{1,3}:\d{1,3}:\d{1,3} .{0,6}")


@given(st.text(max_size=40) | DATES)
def test_any_date_is_a_whole_number_of_seconds_or_none(text: str) -> None:
    ahead = ahead_s(text, asked_at=NOON, heard_at=NOON)
    assert ahead is None or isinstance(ahead, int)


@given(JSON, st.text(max_size=200))
def test_any_table_of_neighbours_is_read(listing: Any, text: str) -> None:
    assert all(one.mac.count("-") == 5 for one in from_listing(json.dumps(listing)).values())
    assert all(one.mac.count("-") == 5 for one in from_old_table("heading\n" + text).values())
    from_listing(text)
