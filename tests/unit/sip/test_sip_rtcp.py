"""RTCP: layouts by hand, the worked round trip of RFC 3550, report intervals."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.rtcp import (
    CNAME,
    Bye,
    Described,
    OtherRtcp,
    ReceiverReport,
    ReportBlock,
    Rtcp,
    SenderReport,
    SourceDescription,
    middle_65536ths,
    ntp_of,
    parse_rtcp,
    print_rtcp,
    report_interval_s,
    report_on,
    round_trip_s,
)
from doorwright.sip.rtp import Reception, RtpPacket

BLOCK = ReportBlock(source=2, fraction_lost_256ths=76, lost_count=-2, extended_highest=65538, jitter_ticks=4)
REPORT = ReceiverReport(source=1, reports=(BLOCK,))


def test_the_round_trip_of_the_figure() -> None:
    # RFC 3550 §6.4.1, figure 2: NTP b44db705.20000000 (3024992005.125 s), arrival b710:8000 (46864.5 s), LSR b705:2000
    # (46853.125 s), DLSR 0005:4000 (5.25 s), delay 6.125 s
    ntp = 0xB44DB705_20000000
    assert ntp / 2**32 == 3024992005.125
    assert middle_65536ths(ntp) == 0xB7052000
    block = ReportBlock(
        source=0,
        fraction_lost_256ths=0,
        lost_count=0,
        extended_highest=0,
        jitter_ticks=0,
        last_sr_65536ths=0xB7052000,
        since_last_sr_65536ths=0x00054000,
    )
    assert round_trip_s(block, arrival_ntp=0xB44DB710_80000000) == 6.125
    assert round_trip_s(block, arrival_ntp=0xB44DB70A_50000000) == 0.0  # clocks that drift: a shade less than none
    assert round_trip_s(BLOCK, arrival_ntp=0xB44DB710_80000000) is None


def test_ntp_counts_from_1900() -> None:
    # RFC 5905 §6 (from memory): 1970-01-01 is 2 208 988 800 s of era 0
    assert ntp_of(unix_s=0.5) == 2_208_988_800 << 32 | 1 << 31
    assert ntp_of(unix_s=2**32 - 2_208_988_800) == 0  # the turn in 2036


def test_a_receiver_s_report_by_hand() -> None:
    # V=2, RC=1 -> 81; type 201 = c9; 7 words follow; loss -2 in 24 bits: fffffe
    wanted = "81c9 0007 00000001 00000002 4c fffffe 00010002 00000004 00000000 00000000"
    assert print_rtcp((REPORT,)) == bytes.fromhex(wanted)


def test_a_sender_s_report_and_who_it_is_by_hand() -> None:
    sender = SenderReport(source=1, ntp=2 << 32 | 3, timestamp=4, packets_count=5, octets_count=6)
    who = SourceDescription(chunks=(Described(source=1, items=((CNAME, b"a@b"),)),))
    # SDES: 81 ca, chunk 4 + 2 + 3 octets, then 3 null octets: 12 = 3 words
    wanted = "80c8 0006 00000001 00000002 00000003 00000004 00000005 00000006 81ca 0003 00000001 01 03 614062 000000"
    assert print_rtcp((sender, who)) == bytes.fromhex(wanted)
    # four null octets where the items end on a word: 4 + 2 + 2 = 8
    who = SourceDescription(chunks=(Described(source=1, items=((CNAME, b"ab"),)),))
    assert print_rtcp((REPORT, who)).endswith(bytes.fromhex("81ca 0003 00000001 0102 6162 00000000"))


@pytest.mark.parametrize(
    "packets",
    [
        (REPORT,),
        (ReceiverReport(source=1, reports=(BLOCK,) * 31, extension=b"1234"),),
        (SenderReport(source=1, ntp=2**64 - 1, timestamp=4, packets_count=5, octets_count=6, reports=(BLOCK, BLOCK)),),
        (
            REPORT,
            SourceDescription(
                chunks=(Described(source=1, items=()), Described(source=2, items=((1, b""), (2, b"ab"))))
            ),
        ),
        (REPORT, Bye(sources=(1, 2)), OtherRtcp(kind=204, count=3, body=b"\0\0\0\1name")),
        (REPORT, Bye(sources=(), cause=b"door closed"), Bye(sources=(1,), cause=b"abc")),
    ],
)
def test_compound_packets_read_back(packets: tuple[Rtcp, ...]) -> None:
    assert parse_rtcp(print_rtcp(packets)) == packets


def test_padding_of_the_last_packet_is_taken_off() -> None:
    padded = print_rtcp((REPORT,)) + bytes.fromhex("a1cb 0002 00000009 00000004")
    assert parse_rtcp(padded) == (REPORT, Bye(sources=(9,)))


@pytest.mark.parametrize(
    "octets",
    [
        "",
        "81c9",
        "80ca 0000",  # begins with no report
        "40c9 0001 00000001",  # version 1
        "80c9 0002 00000001",  # cut short
        "81c9 0001 00000001",  # a block is promised
        "80c9 0000",  # no source
        "80c8 0001 00000001",
        "80c9 0001 00000001 81",  # what follows is no header
        "a0c9 0002 00000001 00000004 80cb 0000",  # padding before the last
        "a0c9 0002 00000001 00000003",  # padding of no whole words
        "a0c9 0002 00000001 00000010",  # more padding than packet
        "a0c9 0000",
        "80c9 0001 00000001 81ca 0001 00000001",  # items never end
        "80c9 0001 00000001 81ca 0002 00000001 01ff 6100",
        "80c9 0001 00000001 82cb 0001 00000001",  # one of two that leave
        "80c9 0001 00000001 80cb 0001 09616263",  # cause cut short
    ],
)
def test_a_broken_report_is_the_peer_s_error(octets: str) -> None:
    with pytest.raises(PeerError):
        parse_rtcp(bytes.fromhex(octets))


@pytest.mark.parametrize(
    "packets",
    [
        (),
        (Bye(sources=(1,)),),
        (ReceiverReport(source=1 << 32),),
        (ReceiverReport(source=1, reports=(BLOCK,) * 32),),
        (ReceiverReport(source=1, extension=b"abc"),),
        (REPORT, SourceDescription(chunks=(Described(source=1, items=((0, b""),)),))),
        (REPORT, SourceDescription(chunks=(Described(source=1, items=((1, bytes(256)),)),))),
        (SenderReport(source=1, ntp=1 << 64, timestamp=0, packets_count=0, octets_count=0),),
        (
            ReceiverReport(
                source=1,
                reports=(
                    ReportBlock(
                        source=1, fraction_lost_256ths=0, lost_count=1 << 23, extended_highest=0, jitter_ticks=0
                    ),
                ),
            ),
        ),
    ],
)
def test_a_report_that_cannot_be_is_our_own_error(packets: tuple[Rtcp, ...]) -> None:
    with pytest.raises(LocalError):
        print_rtcp(packets)


def test_a_block_tells_what_was_received() -> None:
    reception = Reception(RtpPacket(payload_type=8, sequence=10, timestamp=0, source=7), clock_hz=8000)
    for sequence in (10, 11, 12, 15, 16, 17, 19, 20):  # the trace of test_sip_rtp: 3 of 10 lost, 76 in 256ths
        packet = RtpPacket(payload_type=8, sequence=sequence, timestamp=160 * sequence, source=7)
        reception.receive(packet, now_s=0.02 * sequence)
    block = report_on(reception, now_s=10.0, last_sr=(0xB44DB705_20000000, 4.75))
    assert block == ReportBlock(
        source=7,
        fraction_lost_256ths=76,
        lost_count=3,
        extended_highest=20,
        jitter_ticks=0,
        last_sr_65536ths=0xB7052000,
        since_last_sr_65536ths=0x00054000,  # 5.25 s, as in figure 2 of RFC 3550
    )
    assert report_on(reception, now_s=11.0).last_sr_65536ths == 0


@pytest.mark.parametrize(
    ("changes", "wanted_s"),
    # RFC 3550 §6.3.1 by hand; e - 3/2 = 1.2182818; chance 0.5 makes the factor 1
    [
        ({}, 5.0 / 1.2182818),
        ({"first": True}, 2.5 / 1.2182818),
        # 1000 members, 1 sender: a receiver shares three quarters: 100 * 999 / (0.75 * 400) = 333 s
        ({"members_count": 1000, "senders_count": 1, "we_sent": False}, 333.0 / 1.2182818),
        # the sender has a quarter alone: 100 * 1 / 100 = 1 s, less than the least
        ({"members_count": 1000, "senders_count": 1, "we_sent": True}, 5.0 / 1.2182818),
        # half of them send: all share: 100 * 1000 / 400 = 250 s
        ({"members_count": 1000, "senders_count": 500}, 250.0 / 1.2182818),
        ({"chance": lambda: 0.0}, 2.5 / 1.2182818),
    ],
)
def test_the_time_between_reports(changes: dict[str, object], wanted_s: float) -> None:
    usual: dict[str, object] = {
        "members_count": 2,
        "senders_count": 2,
        "we_sent": True,
        "rtcp_octets_per_s": 400.0,
        "mean_octets": 100.0,
        "first": False,
        "chance": lambda: 0.5,
    }
    assert report_interval_s(**(usual | changes)) == pytest.approx(wanted_s, rel=1e-6)  # type: ignore[arg-type]
