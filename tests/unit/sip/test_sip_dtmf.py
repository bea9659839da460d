"""Keys: event codes and layout (RFC 4733), what is sent for a press, what is heard of one, and INFO bodies."""

import pytest

from doorwright.sip.dtmf import (
    InfoKey,
    KeyListener,
    KeyPressed,
    KeyReleased,
    TelephoneEvent,
    code_of,
    key_of,
    key_packets,
    parse_event,
    parse_event_list,
    parse_info,
    print_info,
)
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.rtp import RtpPacket


def sent(key: str = "5", **changes: object) -> list[tuple[float, RtpPacket]]:
    usual: dict[str, object] = {"payload_type": 101, "source": 1, "sequence": 65534, "timestamp": 1000}
    return list(key_packets(key, **(usual | changes)))  # type: ignore[arg-type]


def test_the_codes_of_the_sixteen_keys() -> None:
    # S-18: RFC 4733 §3.2, table 3
    table = {"0": 0, "1": 1, "9": 9, "*": 10, "#": 11, "A": 12, "B": 13, "C": 14, "D": 15}
    assert {key: code_of(key) for key in table} == table
    assert code_of("d") == 15
    assert [key_of(code) for code in (10, 11, 15, 16, 255)] == ["*", "#", "D", None, None]
    for wrong in ("", "E", "12", "ß"):
        with pytest.raises(LocalError):
            code_of(wrong)


def test_the_layout_of_an_event() -> None:
    # S-19: event 8, E 1, R 1, volume 6, duration 16; by hand: 5, end, -10 dBm0, 800 ticks = 0320
    event = TelephoneEvent(code=5, ended=True, duration_ticks=800, level_dbm0=-10)
    assert bytes(event) == bytes.fromhex("058a0320")
    assert parse_event(bytes.fromhex("058a0320")) == event
    assert parse_event(bytes.fromhex("05ca0320")) == event  # §2.3.3: the reserved bit is ignored
    assert parse_event(bytes.fromhex("0b3fffff")) == TelephoneEvent(
        code=11, ended=False, duration_ticks=65535, level_dbm0=-63
    )
    for octets in ("", "058a03", "058a032000"):
        with pytest.raises(PeerError):
            parse_event(bytes.fromhex(octets))
    for wrong in (
        TelephoneEvent(code=256, ended=False, duration_ticks=0),
        TelephoneEvent(code=5, ended=False, duration_ticks=65536),
        TelephoneEvent(code=5, ended=False, duration_ticks=0, level_dbm0=1),
    ):
        with pytest.raises(LocalError):
            bytes(wrong)


def test_a_press_of_100_ms() -> None:
    # RFC 4733 §2.5.1 by hand, 50 ms updates at 8 kHz: 400 ticks at 50 ms, then the end with 800 at 100, 150, 200 ms
    packets = sent(duration_ms=100.0, interval_ms=50.0)
    told = [(at_s, packet.sequence, packet.marker, packet.payload.hex()) for at_s, packet in packets]
    assert told == [
        (0.05, 65534, True, "050a0190"),
        (0.1, 65535, False, "058a0320"),
        (0.15, 0, False, "058a0320"),
        (0.2, 1, False, "058a0320"),
    ]
    assert {packet.timestamp for _, packet in packets} == {1000}  # §2.5.1.2: that of the start


def test_a_short_press_is_its_end_alone_with_the_marker() -> None:
    packets = sent(duration_ms=40.0)
    assert [packet.marker for _, packet in packets] == [True, False, False]
    assert {packet.payload.hex() for _, packet in packets} == {"058a0140"}  # 40 ms = 320 ticks


def test_a_press_of_ten_seconds_goes_on_in_a_new_segment() -> None:
    # §2.5.1.3 by hand: 80 000 ticks are a segment of 65 535, without the end bit, and one of 14 465 from there on
    packets = [packet for _, packet in sent(duration_ms=10_000.0, timestamp=2**32 - 1)]
    whole = [packet for packet in packets if parse_event(packet.payload).duration_ticks == 65535]
    assert {(packet.timestamp, parse_event(packet.payload).ended) for packet in whole} == {(2**32 - 1, False)}
    last = parse_event(packets[-1].payload)
    assert (packets[-1].timestamp, last.ended, last.duration_ticks) == (65534, True, 14465)
    assert sum(packet.marker for packet in packets) == 1
    assert [packet.sequence for packet in packets] == [(65534 + place) % 65536 for place in range(len(packets))]


def test_what_cannot_be_pressed_is_our_own_error() -> None:
    for changes in ({"duration_ms": 0.0}, {"interval_ms": 0.0}, {"clock_hz": 0}):
        with pytest.raises(LocalError):
            sent(**changes)


def heard(
    packets: list[tuple[float, RtpPacket]], listener: KeyListener | None = None
) -> list[KeyPressed | KeyReleased]:
    listener = listener or KeyListener()
    told: list[KeyPressed | KeyReleased] = []
    for at_s, packet in packets:
        told += listener.receive(packet, now_s=at_s)
    return told


PRESSED, RELEASED = KeyPressed(code=5), KeyReleased(code=5, duration_s=0.1)


@pytest.mark.parametrize("places", [(0, 1, 2, 3), (1, 2, 3), (3,), (0, 3), (1, 0, 2), (0, 0, 1, 1, 3, 2)])
def test_one_press_is_heard_once_whatever_is_lost_late_or_doubled(places: tuple[int, ...]) -> None:
    packets = sent()
    assert heard([packets[place] for place in places]) == [PRESSED, RELEASED]
    assert PRESSED.key == RELEASED.key == "5"
    assert RELEASED.certain


def test_the_same_key_twice_is_two_presses() -> None:
    assert heard(sent() + sent(timestamp=3000)) == [PRESSED, RELEASED] * 2


def test_a_press_whose_ends_are_lost_ends_with_the_next() -> None:
    first = sent(duration_ms=200.0)[:3]
    told = heard(first + sent("6", timestamp=5000))
    assert told[:2] == [PRESSED, KeyReleased(code=5, duration_s=0.15, certain=False)]
    assert told[2:] == [KeyPressed(code=6), KeyReleased(code=6, duration_s=0.1)]


def test_a_press_whose_ends_are_lost_ends_with_silence() -> None:
    listener = KeyListener(silence_s=0.15)
    assert listener.timer_at() is None
    assert heard(sent()[:1], listener) == [PRESSED]
    assert listener.timer_at() == pytest.approx(0.2)
    assert listener.handle_timer(now_s=0.19) == ()
    assert listener.handle_timer(now_s=0.25) == (KeyReleased(code=5, duration_s=0.05, certain=False),)
    assert listener.handle_timer(now_s=9.0) == ()
    assert listener.timer_at() is None
    assert heard(sent()[1:], listener) == []  # the ends come after all


def test_a_press_of_ten_seconds_is_heard_as_one_press() -> None:
    told = heard(sent(duration_ms=10_000.0))
    assert told == [PRESSED, KeyReleased(code=5, duration_s=10.0)]
    # even if all of the first segment but its start is lost
    packets = sent(duration_ms=10_000.0)
    kept = packets[:1] + [each for each in packets if each[1].timestamp != 1000]
    assert heard(kept) == [PRESSED, KeyReleased(code=5, duration_s=10.0)]


def test_late_packets_of_an_older_press_are_not_new_presses() -> None:
    old, new = sent(), sent("6", timestamp=9000)
    assert heard(old + new[:1] + old + new[1:])[2:] == [KeyPressed(code=6), KeyReleased(code=6, duration_s=0.1)]


def test_lists_of_events() -> None:
    # RFC 4733 §2.4.1: "0-15,66,70"; without a list the sixteen keys
    assert parse_event_list("0-15,66, 70") == frozenset({*range(16), 66, 70})
    assert parse_event_list("") == frozenset(range(16))
    for wrong in ("16-15", "256", "1;2", "1,,2", "-1", "٣"):
        with pytest.raises(PeerError):
            parse_event_list(wrong)


def test_info_bodies_in_use() -> None:
    """Common practice: no standard describes these bodies."""
    relay = "application/dtmf-relay"
    assert print_info(InfoKey(key="#", duration_ms=160)) == b"Signal=#\r\nDuration=160\r\n"
    assert parse_info(b"Signal=#\r\nDuration=160\r\n", content_type=relay) == InfoKey(key="#", duration_ms=160)
    assert parse_info(b"signal = a\nDURATION = 250", content_type="Application/DTMF-Relay;x=1") == InfoKey(
        key="A", duration_ms=250
    )
    assert parse_info(b"Signal=10\r\n", content_type=relay) == InfoKey(key="*")
    assert parse_info(b"5\r\n", content_type="application/dtmf") == InfoKey(key="5")
    assert print_info(InfoKey(key="5")) == b"Signal=5\r\n"


@pytest.mark.parametrize(
    "body", [b"", b"Signal=\r\n", b"Signal=55", b"Signal=X", b"Duration=1", b"\xff\x00", b"Signal=5\nDuration=long"]
)
def test_a_broken_info_body_is_answered_with_400(body: bytes) -> None:
    with pytest.raises(PeerError) as raised:
        parse_info(body, content_type="application/dtmf-relay")
    assert raised.value.code == 400


def test_another_type_is_answered_with_415_and_what_is_taken() -> None:
    with pytest.raises(PeerError) as raised:
        parse_info(b"5", content_type="text/plain")
    assert raised.value.code == 415
    assert raised.value.headers == (("Accept", "application/dtmf-relay, application/dtmf"),)
