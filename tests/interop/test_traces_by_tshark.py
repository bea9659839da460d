"""Captures of rehearsed calls, read by tshark: nothing malformed, every sum right, the calls as they went.

Needs Debian's package ``tshark``, which was written by others from the same standards.
"""

import os
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from doorwright.app.conditions import Conditions
from doorwright.app.draw_call import DrawnCall, ladders_of
from doorwright.app.keep_trace import keeping_traces
from doorwright.model.calling import RingMode
from doorwright.model.walk import Walk
from doorwright.rehearse.building import Building
from doorwright.rehearse.ladder import Sent, Sort
from doorwright.rehearse.planned import planned
from doorwright.rehearse.wire import Carried, Jack
from doorwright.render.capture import capture_head, captured
from tests.rehearsal.shared_router import OUTSIDE, RECEIVER_3, call_behind_it
from tests.rehearsal.yard import YARD

TSHARK = shutil.which("tshark")
MONDAY_0700 = 7 * 60
CHECKED = ("-n", "-o", "ip.check_checksum:TRUE", "-o", "udp.check_checksum:TRUE")


@pytest.fixture(scope="module", autouse=True)
def _installed() -> None:
    if TSHARK is None:
        if "CI" in os.environ:
            pytest.fail("CI must have tshark: install Debian's package tshark")
        pytest.skip("tshark is not installed (Debian: apt-get install tshark)")


def told(capture: Path, *asked: str) -> str:
    """Return what tshark says of a capture."""
    assert TSHARK is not None
    done = subprocess.run(
        [TSHARK, *CHECKED, "-r", str(capture), *asked], capture_output=True, text=True, check=True, timeout=120
    )
    return done.stdout


def fields(capture: Path, *names: str, only: str = "") -> list[tuple[str, ...]]:
    """Return fields of the packets that a filter lets through."""
    asked = [word for name in names for word in ("-e", name)]
    lines = told(capture, "-T", "fields", "-E", "separator=/t", *asked, *(("-Y", only) if only else ())).splitlines()
    return [tuple(line.split("\t")) for line in lines]


@cache
def drawn(text: str, loss_ratio: float = 0.0) -> DrawnCall:
    in_turn = tuple(replace(home, ring_mode=RingMode.IN_TURN) for home in YARD.dwellings)
    walk = Walk(replace(YARD, dwellings=in_turn))
    (one,) = ladders_of(walk, [text], Conditions(loss_ratio=loss_ratio, seed=4), revision="1", on="2031-03-14")
    return one


def written(folder: Path, call: DrawnCall) -> Path:
    path = folder / "call.pcapng"
    path.write_bytes(call.capture)
    return path


CALLS = ["Gate unit:01, Mon 07:00", "Porch unit:01, Mon 07:00", "Porch unit:02, no answer", "Porch unit:01, no answer"]


@pytest.mark.parametrize("loss_ratio", [0.0, 0.3])
@pytest.mark.parametrize("text", CALLS)
def test_nothing_is_malformed_and_every_sum_is_right(tmp_path: Path, text: str, loss_ratio: float) -> None:
    call = drawn(text, loss_ratio)
    capture = written(tmp_path, call)
    sums = fields(capture, "ip.checksum.status", "udp.checksum.status")
    assert sums == [("1", "1")] * len(call.packets)  # 1 is "good", 0 bad, 2 not looked at
    assert told(capture, "-Y", "_ws.malformed || _ws.expert.severity == 0x00800000") == ""  # 0x00800000 is "error"


@pytest.mark.parametrize("text", CALLS)
def test_the_messages_are_those_of_the_ladder(tmp_path: Path, text: str) -> None:
    call = drawn(text)
    seen = fields(written(tmp_path, call), "sip.Method", "sip.Status-Code", "sip.CSeq.method", only="sip")
    messages = [
        one.words for one in call.ladder.steps if isinstance(one, Sent) and one.sort in (Sort.REQUEST, Sort.RESPONSE)
    ]
    assert len(seen) == len(messages) > 5
    for (method, code, of), words in zip(seen, messages, strict=True):
        assert words.split()[0] == (method or code)
        assert not code or words.endswith(f"({of})")


def test_a_call_goes_as_the_standard_has_it(tmp_path: Path) -> None:
    """RFC 3665 §3.1, without the 100 that a caller within 200 ms of the 180 does not need (RFC 3261 §17.2.1)."""
    seen = fields(written(tmp_path, drawn(CALLS[0])), "sip.Method", "sip.Status-Code", only="sip")
    assert [method or code for method, code in seen] == ["INVITE", "180", "200", "ACK", "BYE", "200"]


def test_who_does_not_answer_is_cancelled(tmp_path: Path) -> None:
    """RFC 3665 §3.8: CANCEL, 200 to it, 487 to the INVITE, ACK."""
    seen = fields(
        written(tmp_path, drawn("Porch unit:02, no answer")), "sip.Method", "sip.Status-Code", "sip.CSeq.method",
        only="sip && ip.addr == 198.51.100.22",
    )  # fmt: skip
    assert [f"{method}{code} {of}" for method, code, of in seen] == [
        "INVITE INVITE", "180 INVITE", "CANCEL CANCEL", "200 CANCEL", "487 INVITE", "ACK ACK",
    ]  # fmt: skip


def test_speech_and_keys_are_seen_as_such(tmp_path: Path) -> None:
    """Both directions say three packets; each of the two doors' digits comes with four (RFC 4733 §2.5.1.4)."""
    call = drawn(CALLS[1])
    capture = written(tmp_path, call)
    streams = [line.split() for line in told(capture, "-q", "-z", "rtp,streams").splitlines() if " 0x" in line]
    assert {(words[2], words[4], words[5]) for words in streams} == {
        ("192.0.2.11", "198.51.100.11", "40000"), ("198.51.100.11", "192.0.2.11", "40000"),
    }  # fmt: skip
    assert all("0 (0.0%)" in " ".join(words) for words in streams)  # numbers without gaps: nothing counts as lost
    keys = fields(capture, "rtpevent.event_id", "rtpevent.end_of_event", only="rtpevent")
    assert Counter(key for key, _ in keys) == {"1": 4, "2": 4}
    assert Counter(ended for _, ended in keys) == {"0": 2, "1": 6}  # the last is sent three times
    speech = fields(capture, "ip.src", "rtp.p_type", only="rtp && !rtpevent && udp.port == 40000")
    assert Counter(speech) == {("192.0.2.11", "0"): 3, ("198.51.100.11", "0"): 3}  # 0 is PCMU (RFC 3551 table 4)


def test_frames_are_those_of_the_plan(tmp_path: Path) -> None:
    """Doors are in VLAN 20, homes in VLAN 21: a packet to the other one is addressed to its gateway."""
    capture = written(tmp_path, drawn(CALLS[1]))
    seen = set(fields(capture, "ip.src", "ip.dst", "vlan.id", "eth.src", "eth.dst"))
    assert {(source, vlan) for source, _, vlan, _, _ in seen} == {
        ("192.0.2.10", "20"), ("192.0.2.11", "20"), ("198.51.100.11", "21"),
    }  # fmt: skip
    mac_of = {source: mac for source, _, _, mac, _ in seen}
    assert len(set(mac_of.values())) == 3
    for source, to, _, _, mac in seen:
        near = source.startswith("192.0.2.") and to.startswith("192.0.2.")
        assert (mac == mac_of[to]) is near
    assert len({mac for source, to, _, _, mac in seen if source[:3] != to[:3]}) == 2  # a gateway in each VLAN


def test_a_lost_packet_says_so(tmp_path: Path) -> None:
    call = drawn(CALLS[1], 0.3)
    comments = fields(written(tmp_path, call), "frame.comment")
    lost = [not one.arrived for one in call.packets]
    assert any(lost)
    assert [comment == "lost on the way" for (comment,) in comments] == lost


def test_a_whole_rehearsal_is_read_and_tells_nothing_of_secrets(tmp_path: Path) -> None:
    walk = Walk(YARD)
    plan = planned(walk)
    names = {box.id: box.name for box in plan.boxes.values()}
    with keeping_traces(tmp_path / "lines.jsonl", tmp_path / "all.pcapng", names) as traced:
        building = Building(plan.boxes.values(), plan.nets, told=traced.told, heard=traced.heard)
        building.power_up()
        building.visit("vcu-gate", "01", minute=MONDAY_0700, moods={})
    capture = tmp_path / "all.pcapng"
    credentials = fields(capture, "sip.auth.username", "sip.auth.digest.response", only="sip.auth.username")
    assert len(credentials) == 7  # every unit but the first, which registers with nobody
    assert {response.strip('"0') for _, response in credentials} == {""}
    assert fields(capture, "sip.Status-Code", only="sip.Status-Code == 200 && sip.CSeq.method == REGISTER") == [
        ("200",)
    ] * len(credentials)
    assert told(capture, "-Y", "_ws.malformed || _ws.expert.severity == 0x00800000") == ""
    assert set(fields(capture, "ip.checksum.status", "udp.checksum.status")) == {("1", "1")}


def test_a_long_message_goes_in_fragments_and_is_put_together_again(tmp_path: Path) -> None:
    """20 bytes of IPv4 and 8 of UDP: 4000 bytes take 1472, then 1480, then 1048; only the whole has a sum of UDP."""
    jack = Jack(address="192.0.2.2", cidr="192.0.2.0/25", gateway=None, segment=None, mac="00-00-5E-00-53-02")
    taker = replace(jack, address="192.0.2.3", mac="00-00-5E-00-53-03")
    head = b"OPTIONS sip:a@192.0.2.3 SIP/2.0\r\nCall-ID: 1\r\nX-Filling: "
    data = head + b"x" * (4000 - len(head) - 4) + b"\r\n\r\n"
    one = Carried(at_s=1.0, jack=jack, source_port=5060, to=("192.0.2.3", 5060), data=data, taker=taker, arrived=True)
    capture = tmp_path / "long.pcapng"
    capture.write_bytes(capture_head() + captured(one))
    assert fields(capture, "frame.len", "ip.flags.mf") == [("1514", "1"), ("1514", "1"), ("1082", "0")]
    assert fields(capture, "sip.Method", "udp.length", "udp.checksum.status", only="sip") == [("OPTIONS", "4008", "1")]


def test_both_hops_past_a_shared_router_are_sound(tmp_path: Path) -> None:
    _, packets = call_behind_it()
    capture = tmp_path / "router.pcapng"
    capture.write_bytes(capture_head() + b"".join(map(captured, packets)))
    sums = fields(capture, "ip.checksum.status", "udp.checksum.status")
    assert sums == [("1", "1")] * len(packets)
    assert told(capture, "-Y", "_ws.malformed || _ws.expert.severity == 0x00800000") == ""
    seen = fields(capture, "sip.Method", "ip.dst", "vlan.id", only="sip.Method == INVITE")
    assert seen == [("INVITE", OUTSIDE, "20"), ("INVITE", RECEIVER_3, "21")]
