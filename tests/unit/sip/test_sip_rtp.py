"""RTP packets, sequence numbers, loss and jitter: traces worked by hand from RFC 3550's appendix."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.rtp import Extension, Jitter, Reception, RtpPacket, SequenceCount, later_by, parse_rtp


def test_the_header_is_laid_out_as_in_rfc_3550_5_1() -> None:
    packet = RtpPacket(
        payload_type=8, sequence=0x1234, timestamp=0x01020304, source=0xA0B0C0D0, payload=b"x", marker=True
    )
    # by hand: V=2 -> 80; M=1, PT=8 -> 88
    assert bytes(packet) == bytes.fromhex("8088 1234 01020304 a0b0c0d0 78")
    assert parse_rtp(bytes(packet)) == packet


def test_contributors_extension_and_padding_stand_where_they_belong() -> None:
    packet = RtpPacket(
        payload_type=0,
        sequence=1,
        timestamp=2,
        source=3,
        payload=b"\xd5",
        contributors=(7, 8),
        extension=Extension(0xBEDE, b"abcd"),
        padding_count=3,
    )
    # by hand: V=2, P=1, X=1, CC=2 -> 10 1 1 0010 = b2
    wanted = "b200 0001 00000002 00000003 00000007 00000008 bede 0001 61626364 d5 000003"
    assert bytes(packet) == bytes.fromhex(wanted)
    assert parse_rtp(bytes(packet)) == packet


def test_an_extension_may_be_empty_and_the_last_thing_in_a_packet() -> None:
    packet = RtpPacket(payload_type=0, sequence=1, timestamp=2, source=3, extension=Extension(5))
    assert bytes(packet) == bytes.fromhex("9000 0001 00000002 00000003 0005 0000")
    assert parse_rtp(bytes(packet)) == packet


@pytest.mark.parametrize(
    "octets",
    [
        "",
        "8000 0001 00000002 000000",  # 11 octets
        "4000 0001 00000002 00000003",  # version 1
        "8200 0001 00000002 00000003 00000007",  # one of two contributors
        "9000 0001 00000002 00000003 bede",  # half an extension's header
        "9000 0001 00000002 00000003 bede 0002 00000000",  # one of two words
        "a000 0001 00000002 00000003 00",  # padding of nothing
        "a000 0001 00000002 00000003 02",  # more padding than packet
        "a000 0001 00000002 00000003",  # padding promised in a packet without payload: 3 octets of header
    ],
)
def test_a_broken_packet_is_the_peer_s_error(octets: str) -> None:
    with pytest.raises(PeerError):
        parse_rtp(bytes.fromhex(octets))


@pytest.mark.parametrize(
    "changes",
    [
        {"payload_type": 128},
        {"sequence": 65536},
        {"timestamp": -1},
        {"source": 1 << 32},
        {"contributors": tuple(range(16))},
        {"padding_count": 256},
        {"extension": Extension(0, b"abc")},
    ],
)
def test_a_packet_that_cannot_be_is_our_own_error(changes: dict[str, object]) -> None:
    fields: dict[str, object] = {"payload_type": 0, "sequence": 0, "timestamp": 0, "source": 0}
    with pytest.raises(LocalError):
        bytes(RtpPacket(**(fields | changes)))  # type: ignore[arg-type]


def counted(*sequences: int) -> SequenceCount:
    count = SequenceCount(sequences[0])
    for each in sequences:
        count.update(each)
    return count


def test_a_source_is_one_after_two_packets_in_order() -> None:
    count = SequenceCount(100)
    assert [count.update(each) for each in (100, 101, 102)] == [False, True, True]
    # §A.1: init_seq at the second, so the base is 101: expected 102 - 101 + 1
    assert (count.expected_count, count.received_count, count.lost_count) == (2, 2, 0)


def test_a_source_that_begins_out_of_order_proves_itself_later() -> None:
    count = SequenceCount(100)
    assert [count.update(each) for each in (100, 300, 302, 303)] == [False, False, False, True]
    assert count.expected_count == 1


def test_a_source_that_needs_no_proof_counts_from_its_first_packet() -> None:
    count = SequenceCount(100, sequential_count=0)
    assert count.update(100)
    assert count.update(102)
    assert (count.expected_count, count.received_count, count.lost_count) == (3, 2, 1)


def test_loss_by_hand() -> None:
    # base 11; 13, 14 and 18 never come: expected 20 - 11 + 1 = 10, received 11 12 15 16 17 19 20 = 7
    count = counted(10, 11, 12, 15, 16, 17, 19, 20)
    assert (count.expected_count, count.received_count, count.lost_count) == (10, 7, 3)
    assert count.close_interval() == 76  # (3 << 8) / 10 = 76.8, truncated (§A.3)
    for each in (21, 22, 23, 24):
        count.update(each)
    assert count.close_interval() == 0
    assert count.close_interval() == 0  # nothing was expected


def test_late_packets_are_received_and_doubled_ones_make_loss_negative() -> None:
    count = counted(10, 11, 13, 12, 13, 13)
    # expected 11..13 = 3; received 11 13 12 13 13 = 5
    assert (count.extended_highest, count.lost_count) == (13, -2)
    assert count.close_interval() == 0


def test_the_turn_of_the_numbers_is_counted() -> None:
    count = counted(65533, 65534, 65535, 1, 0, 2)
    # 65535 -> 1 turns: 65536 + 2; expected 65538 - 65534 + 1 = 5; received 65534 65535 1 0 2 = 5
    assert (count.extended_highest, count.expected_count, count.lost_count) == (65538, 5, 0)


def test_a_source_may_be_proven_across_the_turn() -> None:
    assert counted(65535, 0).proven


def test_a_jump_needs_two_in_order_and_then_begins_anew() -> None:
    count = counted(10, 11, 12)
    assert [count.update(each) for each in (30000, 13, 30000, 30001, 30002)] == [False, True, False, True, True]
    # §A.1: after two in order at 30000 and 30001, init_seq at 30001
    assert (count.extended_highest, count.expected_count, count.lost_count) == (30002, 2, 0)


@pytest.mark.parametrize(
    ("step", "valid"),
    # §A.1: udelta < MAX_DROPOUT (3000); else udelta <= 65536 - MAX_MISORDER (100) is bad; else late
    [(2999, True), (3000, False), (-100, False), (-99, True)],
)
def test_the_bounds_of_dropout_and_misorder(step: int, valid: bool) -> None:
    count = counted(20000, 20001)
    assert count.update(20001 + step) is valid


def test_cumulative_loss_stays_within_24_bits_and_all_lost_within_eight() -> None:
    count = counted(0, 1)
    for turn in range(6000):  # each step loses 2998: 17 988 000 in all, more than 0x7FFFFF = 8 388 607
        count.update((1 + 2999 * (turn + 1)) % 65536)
    assert count.expected_count - count.received_count == 6000 * 2998
    assert count.lost_count == 0x7FFFFF
    assert count.close_interval() == 255  # 2998 of 2999 in 256ths: 255.9


def test_jitter_of_the_worked_trace() -> None:
    # sent 0, 160, ..., 640; arrived 0, 160, 360, 480, 640 ticks of 8 kHz. By hand: 0; 0; 40/16; then
    # |-40|: 2.5 + 37.5/16; then 0: 4.84375 - 4.84375/16
    jitter = Jitter()
    trace = [
        jitter.update(arrival_ticks=arrival, timestamp=160 * place)
        for place, arrival in enumerate((0, 160, 360, 480, 640))
    ]
    assert trace == [0.0, 0.0, 2.5, 4.84375, 4.541015625]


def test_the_turn_of_the_timestamp_is_no_jitter() -> None:
    jitter = Jitter()
    for place in range(5):
        assert jitter.update(arrival_ticks=160.0 * place, timestamp=(2**32 - 320 + 160 * place) % 2**32) == 0.0


def test_distance_of_timestamps_across_the_turn() -> None:
    assert later_by(5, 2**32 - 5) == 10
    assert later_by(2**32 - 5, 5) == -10
    assert later_by(7, 7) == 0


def test_a_reception_counts_what_is_valid() -> None:
    first = RtpPacket(payload_type=8, sequence=1, timestamp=0, source=9)
    reception = Reception(first, clock_hz=8000)
    # 20 ms packets; the fourth is 5 ms late: 40 ticks / 16 = 2.5 ticks = 0.3125 ms
    for place, late_s in enumerate((0.0, 0.0, 0.0, 0.005)):
        packet = RtpPacket(payload_type=8, sequence=1 + place, timestamp=160 * place, source=9)
        assert reception.receive(packet, now_s=0.02 * place + late_s) is (place > 0)
    assert reception.jitter_s == pytest.approx(0.0003125)
    with pytest.raises(LocalError):
        reception.receive(RtpPacket(payload_type=8, sequence=5, timestamp=0, source=10), now_s=1.0)
    with pytest.raises(LocalError):
        Reception(first, clock_hz=0)
