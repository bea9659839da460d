"""The speech of a test call on a clock of its own: what was lost, late and uneven on purpose is what is counted."""

from collections.abc import Iterable

import pytest

from doorwright.model.media import USUAL_MEDIA
from doorwright.probe.conversation import Conversation, Heard
from doorwright.sip.formats import STATIC, Codec
from doorwright.sip.offer import Agreed, Direction
from doorwright.sip.rtcp import (
    Bye,
    ReceiverReport,
    ReportBlock,
    SenderReport,
    SourceDescription,
    middle_65536ths,
    ntp_of,
    parse_rtcp,
    print_rtcp,
)
from doorwright.sip.rtp import RtpPacket, parse_rtp
from doorwright.studies.measured_speech import measured_speech

BEGIN_S, UNIX_S = 1000.0, 1_900_000_000.0
THEIRS = 0x5EED


def chance(count: int) -> bytes:
    """No chance at all: our source is 0x07070707, our first number 0x0707 >> 1 = 899."""
    return b"\x07" * count


def conversation(*, direction: Direction = Direction.SENDRECV, jitter_buffer_s: float = 0.04) -> Conversation:
    formats = ((0, STATIC[0]), (101, Codec("telephone-event", 8000)))
    agreed = Agreed(
        kind="audio", protocol="RTP/AVP", direction=direction, local_port=40000, address="192.0.2.22", port=40002,
        control_port=40003, send=formats, receive=formats,
    )  # fmt: skip
    return Conversation(agreed, begins_s=BEGIN_S, begins_unix_s=UNIX_S, chance=chance, jitter_buffer_s=jitter_buffer_s)


def packet(nth: int, *, first: int = 65_530, source: int = THEIRS, number: int = 0) -> bytes:
    """The nth packet of their speech: 160 ticks each, across the turn of the sequence numbers."""
    return bytes(
        RtpPacket(
            payload_type=number,
            sequence=(first + nth) % 65_536,
            timestamp=nth * 160,
            source=source,
            payload=b"\xff" * 160,
        )
    )


def hear(one: Conversation, numbers: Iterable[int], *, late_s: dict[int, float] | None = None) -> Heard:
    """Hear these packets, each 20 ms after the other and some later than that."""
    arrivals = sorted((BEGIN_S + nth * 0.02 + (late_s or {}).get(nth, 0.0), nth) for nth in numbers)
    for at_s, nth in arrivals:
        one.receive(packet(nth), now_s=at_s)
    assert one.heard is not None
    return one.heard


def test_nothing_lost_is_nothing_lost() -> None:
    heard = hear(conversation(), range(50))
    assert (heard.expected_count, heard.lost_count, heard.late_count, heard.gone_ratio) == (50, 0, 0, 0.0)
    assert heard.burst_ratio == 1.0
    assert heard.jitter_ms == pytest.approx(0.0, abs=1e-6)


def test_what_was_lost_is_counted_with_its_bursts() -> None:
    # 50 packets less 10, 11, 12 and 30: 4 of 50. Bursts of 3 and 1, 2 on average; by chance 1 / (1 - 0.08): the ratio
    # of G.107 is 2 x 0.92 = 1.84.
    heard = hear(conversation(), set(range(50)) - {10, 11, 12, 30})
    assert (heard.expected_count, heard.lost_count) == (50, 4)
    assert heard.gone_ratio == pytest.approx(0.08)
    assert heard.burst_ratio == pytest.approx(1.84)


def test_what_comes_after_the_jitter_buffer_is_as_good_as_lost() -> None:
    # packet 20 is 50 ms late where 40 ms are waited; packet 25 is 30 ms late
    heard = hear(conversation(), range(50), late_s={20: 0.05, 25: 0.03})
    assert (heard.lost_count, heard.late_count) == (0, 1)
    assert heard.gone_ratio == pytest.approx(0.02)
    assert hear(conversation(jitter_buffer_s=0.06), range(50), late_s={20: 0.05}).late_count == 0


def test_jitter_is_that_of_the_standard() -> None:
    # RFC 3550 §6.4.1, J += (|D| - J) / 16: the last but one packet 16 ms late makes D = 16 ms, J = 1 ms; the last, in
    # time again, D = -16 ms, J = 1 + 15/16 = 1.9375 ms.
    assert hear(conversation(), range(10), late_s={8: 0.016}).jitter_ms == pytest.approx(1.9375, rel=1e-6)


def test_a_packet_that_came_twice_is_no_loss_made_good() -> None:
    one = conversation()
    hear(one, range(20))
    one.receive(packet(19), now_s=BEGIN_S + 0.4)
    heard = one.heard
    assert heard is not None
    assert heard.lost_count == -1  # RFC 3550 §A.3 lets it be negative
    assert heard.gone_ratio == 0.0


def test_nonsense_keys_and_other_sources_spoil_nothing() -> None:
    one = conversation()
    hear(one, set(range(20)) - {5})
    one.receive(packet(5, number=101), now_s=BEGIN_S + 0.1)  # a key stood in its place: its number counts
    for nth in range(10):
        one.receive(packet(nth, source=THEIRS + 1), now_s=BEGIN_S + 0.1)
    one.receive(b"\x00\x01junk", now_s=BEGIN_S + 0.2)
    one.receive_report(b"\x80\xc8", now_s=BEGIN_S + 0.2)
    heard = one.heard
    assert heard is not None
    assert (heard.expected_count, heard.lost_count, heard.late_count) == (20, 0, 0)


def test_a_packet_is_sent_every_20_ms_also_where_we_wake_late() -> None:
    one = conversation()
    sent = one.packets_to_send(BEGIN_S)
    assert one.due_s() == pytest.approx(BEGIN_S + 0.02)
    sent += one.packets_to_send(BEGIN_S + 0.095)  # four more are due: at 20, 40, 60, 80 ms
    read = [parse_rtp(data) for data in sent]
    assert [each.sequence - 899 for each in read] == [0, 1, 2, 3, 4]
    assert [(each.timestamp - read[0].timestamp) % 2**32 for each in read] == [0, 160, 320, 480, 640]
    assert [each.marker for each in read] == [True, False, False, False, False]
    assert {each.payload for each in read} == {b"\xff" * 160}


def test_who_only_listens_sends_no_speech() -> None:
    one = conversation(direction=Direction.RECVONLY)
    assert one.packets_to_send(BEGIN_S + 1) == []
    report = one.report_to_send(BEGIN_S + 1)
    assert report is not None
    assert isinstance(parse_rtcp(report)[0], ReceiverReport)


def test_our_reports_say_what_we_sent_and_heard() -> None:
    one = conversation()
    one.packets_to_send(BEGIN_S + 0.99)  # 50 packets: 0 to 49
    hear(one, set(range(50)) - {1, 2})
    assert one.report_to_send(BEGIN_S + 0.99) is None
    data = one.report_to_send(BEGIN_S + 1.0)
    assert data is not None
    report, named = parse_rtcp(data)
    assert isinstance(report, SenderReport)
    assert isinstance(named, SourceDescription)
    assert (report.packets_count, report.octets_count) == (50, 8000)  # RFC 3550 §6.4.1: payload alone
    assert report.ntp == ntp_of(unix_s=UNIX_S + 1.0)
    (block,) = report.reports
    assert (block.source, block.lost_count) == (THEIRS, 2)
    assert block.fraction_lost_256ths == 2 * 256 // 50
    *_, leave = parse_rtcp(one.farewell(BEGIN_S + 1.2))
    assert leave == Bye(sources=(report.source,))


def test_their_report_tells_loss_and_round_trip() -> None:
    one = conversation()
    one.packets_to_send(BEGIN_S + 0.99)
    assert (one.told, one.round_trip_ms) == (None, None)
    # our report left at 1.0 s; they had it for 0.25 s; their answer is here at 1.27 s: 20 ms there and back
    block = ReportBlock(
        source=0x07070707, fraction_lost_256ths=0, lost_count=5, extended_highest=899 + 49, jitter_ticks=24,
        last_sr_65536ths=middle_65536ths(ntp_of(unix_s=UNIX_S + 1.0)), since_last_sr_65536ths=16_384,
    )  # fmt: skip
    one.receive_report(print_rtcp((ReceiverReport(source=THEIRS, reports=(block,)),)), now_s=BEGIN_S + 1.27)
    told = one.told
    assert told is not None
    assert (told.expected_count, told.lost_count, told.gone_ratio) == (50, 5, 0.1)
    assert told.jitter_ms == 3.0  # 24 ticks of 8 000 a second
    assert one.round_trip_ms == pytest.approx(20.0, abs=0.1)


def test_the_rating_takes_what_was_measured() -> None:
    def rated(**given: float) -> float:
        found = measured_speech(
            codec="PCMU", profile=None, media=USUAL_MEDIA, packet_ms=20.0,
            round_trip_ms=given.pop("round_trip_ms", None), gone_ratio=given.pop("gone_ratio", 0.0), **given,
        )  # fmt: skip
        assert found is not None
        return found.rating_points

    # 20 ms in a packet, 40 ms of jitter buffer, half a round trip of 80 ms: 100 ms, of which ITU-T G.107
    # clause 7 makes R = 90.66373 (Ta = T = Tr/2 = 100 ms, all else at its defaults; row Q-6 of the check values).
    assert rated(round_trip_ms=80.0) == pytest.approx(90.66373, abs=1e-4)
    # G.107 equation 7-29, G.711 without concealment: 8 per cent lost in bursts of ratio 2 take 95 x 8 / (8/2 + 4.3)
    assert rated() - rated(gone_ratio=0.08, burst_ratio=2.0) == pytest.approx(95 * 8 / (4 + 4.3))
    assert measured_speech(
        codec="G722", profile=None, media=USUAL_MEDIA, packet_ms=20, round_trip_ms=None, gone_ratio=0
    ) is None  # fmt: skip
