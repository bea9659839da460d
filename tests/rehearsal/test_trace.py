"""The trace of a rehearsal: what it says of packets, and that nothing reckoned from a secret stays in it."""

import json
from pathlib import Path

import pytest

from doorwright.app.keep_trace import keeping_traces
from doorwright.model.walk import Walk
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import with_faults
from doorwright.rehearse.journal import Deed, Entry
from doorwright.rehearse.planned import planned
from doorwright.rehearse.trace import packet_line, told_packet, without_credentials
from doorwright.rehearse.wire import Carried, Jack
from doorwright.rehearse.world import World
from doorwright.sip.dtmf import key_packets
from doorwright.sip.message import parse
from doorwright.sip.rtp import RtpPacket
from tests.rehearsal.shared_router import GATE, OUTSIDE, RECEIVER_3, call_behind_it
from tests.rehearsal.wired_yard import WIRED_YARD

JACK = Jack(address="192.0.2.2", cidr="192.0.2.0/25", gateway=None, segment=None, mac="00-00-5E-00-53-02")
# The credentials of RFC 7616 §3.9.1, within a request.
HEAD = (
    b"REGISTER sip:192.0.2.1 SIP/2.0\r\n"
    b'Authorization: Digest username="Mufasa", realm="http-auth@example.org", uri="/dir/index.html", algorithm=MD5,\r\n'
    b' nonce="7ypf/xlj9XXwfDPEoM4URrv/xwf94BcCAzFZH4GiTo0v", nc=00000001, cnonce="f2/wE4q74E6zIJEtWaHKaf5wv/H5QzzpXus'
    b'qGemxURZJ", qop=auth,\r\n\tresponse="8ca523f5e9506fed4657c9700eebdbec"\r\n'
)


def carried(data: bytes, *, arrived: bool = True, port: int = 5060) -> Carried:
    return Carried(
        at_s=1.5, jack=JACK, source_port=port, to=("192.0.2.3", port), data=data, taker=JACK, arrived=arrived
    )


def test_the_response_to_a_challenge_is_blanked_and_nothing_else() -> None:
    data = HEAD + b"Content-Length: 15\r\n\r\nresponse=abcdef"
    blanked = without_credentials(data)
    assert blanked == data.replace(b"8ca523f5e9506fed4657c9700eebdbec", b"0" * 32)
    assert len(blanked) == len(data)
    assert parse(blanked).body == b"response=abcdef"


@pytest.mark.parametrize(
    ("line", "blanked"),
    [
        (b"Proxy-Authorization: Digest response=abc", b"Proxy-Authorization: Digest response=000"),
        (b'AUTHORIZATION :Digest Response = "ab"', b'AUTHORIZATION :Digest Response = "00"'),
        (b'Authentication-Info: rspauth="abcd", nc=1', b'Authentication-Info: rspauth="0000", nc=1'),
        (b'WWW-Authenticate: Digest realm="response=abc"', b'WWW-Authenticate: Digest realm="response=abc"'),
        (b"Subject: response=abc", b"Subject: response=abc"),
    ],
)
def test_each_header_with_credentials(line: bytes, blanked: bytes) -> None:
    start, end = b"OPTIONS sip:192.0.2.1 SIP/2.0\r\n", b"\r\nTo: b\r\n\r\n"
    assert without_credentials(start + line + end) == start + blanked + end


def test_packets_in_words() -> None:
    key = key_packets("5", payload_type=101, source=1, sequence=1, timestamp=0)[0][1]
    speech = RtpPacket(payload_type=0, sequence=1, timestamp=0, source=1, payload=b"\xff" * 160)
    told = [told_packet(carried(data)) for data in (HEAD, bytes(key), bytes(speech))]
    assert told == ["REGISTER sip:192.0.2.1 SIP/2.0", "key 5 in the speech", "speech"]


def test_lines_are_written_as_things_happen_and_appear_when_all_is_over(tmp_path: Path) -> None:
    path = tmp_path / "lines.jsonl"
    with keeping_traces(path, None, {"vcu": "Gate unit"}) as traced:
        assert traced.told is not None
        assert traced.heard is not None
        traced.told(Entry(1.0, Deed.CALLED, "vcu", "01"))
        traced.heard(carried(HEAD + b"\r\n", arrived=False))
        assert not path.exists()
    assert [json.loads(line) for line in path.read_text("utf-8").splitlines()] == [
        {"at_s": 1.0, "at": "Gate unit", "happened": "called", "about": "01"},
        {
            "at_s": 1.5, "from": "192.0.2.2:5060", "to": "192.0.2.3:5060", "packet": "REGISTER sip:192.0.2.1 SIP/2.0",
            "lost": True,
        },
    ]  # fmt: skip


def _break_off(trace: Path, capture: Path) -> None:
    with keeping_traces(trace, capture, {}) as traced:
        assert traced.heard is not None
        traced.heard(carried(HEAD + b"\r\n"))
        raise KeyError("stopped")


def test_what_breaks_off_leaves_the_old_trace(tmp_path: Path) -> None:
    trace, capture = tmp_path / "lines.jsonl", tmp_path / "all.pcapng"
    trace.write_bytes(b"old")
    with pytest.raises(KeyError):
        _break_off(trace, capture)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"lines.jsonl": b"old"}


def test_nobody_is_told_where_nothing_is_kept() -> None:
    with keeping_traces(None, None, {}) as traced:
        assert (traced.told, traced.heard) == (None, None)


def test_behind_a_shared_router_both_hops_are_heard() -> None:
    """RFC 2663 §4.1.2: outside, packets from inside come from the router's address and from a port that it gave."""
    _, packets = call_behind_it()
    lines = [packet_line(one) for one in packets]
    invites = [line for line in lines if str(line["packet"]).startswith("INVITE ")]
    assert [line["from"] for line in invites] == [f"{GATE}:5060"] * 2
    outer, inner = (str(line["to"]) for line in invites)
    assert outer.startswith(f"{OUTSIDE}:2")
    assert inner == f"{RECEIVER_3}:5060"
    assert outer.partition(":")[2] in str(invites[0]["packet"])  # the unit told the router's port as its own
    answers = [line for line in lines if line["packet"] == "SIP/2.0 200 OK"][:2]
    assert [(line["from"], line["to"]) for line in answers] == [(inner, f"{GATE}:5060"), (outer, f"{GATE}:5060")]
    assert not any("lost" in line for line in lines)


def test_what_comes_from_outside_past_the_router_is_heard_and_lost() -> None:
    heard: list[Carried] = []
    plan = planned(Walk(WIRED_YARD))
    faulty = with_faults(plan, (("router-forgets", "uru-3"),), chance=World().chance("faults"))[0]
    building = Building(faulty.boxes.values(), faulty.nets, heard=heard.append)
    gate = building.actors["vcu-gate"].box.jack
    building.wire.send(b"hello", jack=gate, source_port=5060, to=(RECEIVER_3, 5060))
    building.world.run_until(1.0)
    assert [(one.taker, one.arrived) for one in heard] == [(None, False)]
