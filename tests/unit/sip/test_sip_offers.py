"""Offers and answers: the worked exchanges of RFC 3264 §10, the table of directions, holding, changing, refusing."""

from dataclasses import replace

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.formats import STATIC, Codec, alike, formats_of, in_common
from doorwright.sip.offer import (
    Direction,
    Stream,
    agree,
    answered,
    direction_of,
    faults_of,
    held,
    make_answer,
    make_offer,
)
from doorwright.sip.sdp import Attribute, Connection, Description, Media, Origin, Times, parse_description

PCMU, PCMA, G722, G729 = Codec("PCMU", 8000), Codec("PCMA", 8000), Codec("G722", 8000), Codec("G729", 8000)
EVENTS = Codec("telephone-event", 8000, parameters="0-15")
OPUS = Codec("opus", 48000, 2)
H264 = Codec("H264", 90000, parameters="profile-level-id=42e01f;packetization-mode=1")
HERE, THERE = Connection(address="192.0.2.1"), Connection(address="192.0.2.2")
ALICE, BOB = Origin(session=1, version=1, address="192.0.2.1"), Origin(session=7, version=7, address="192.0.2.2")

# RFC 3264 §10.1 (from memory): speech and two pictures are offered; the first picture is refused
TEN_ONE = (
    "v=0|o=alice 2890844526 2890844526 IN IP4 host.anywhere.com|s=|c=IN IP4 host.anywhere.com|t=0 0|"
    "m=audio 49170 RTP/AVP 0|a=rtpmap:0 PCMU/8000|m=video 51372 RTP/AVP 31|a=rtpmap:31 H261/90000|"
    "m=video 53000 RTP/AVP 32|a=rtpmap:32 MPV/90000|"
)
# RFC 3264 §10.2 (from memory): three codecs, the stream inactive until one is chosen
TEN_TWO = (
    "v=0|o=alice 2890844526 2890844526 IN IP4 host.anywhere.com|s=|c=IN IP4 host.anywhere.com|t=0 0|"
    "m=audio 62986 RTP/AVP 0 4 18|a=rtpmap:0 PCMU/8000|a=rtpmap:4 G723/8000|a=rtpmap:18 G729/8000|a=inactive|"
)


def read(text: str) -> Description:
    return parse_description(text.replace("|", "\r\n").encode())


def audio(*codecs: Codec, port: int = 4000, direction: Direction = Direction.SENDRECV) -> Stream:
    return Stream(kind="audio", port=port, codecs=codecs, direction=direction)


def offered(*streams: Stream | None, previous: Description | None = None) -> Description:
    return parse_description(bytes(make_offer(streams, origin=ALICE, connection=HERE, previous=previous)))


def reply(offer: Description, *streams: Stream, previous: Description | None = None) -> Description:
    return parse_description(bytes(make_answer(offer, streams, origin=BOB, connection=THERE, previous=previous)))


def test_the_exchange_of_10_1() -> None:
    offer = read(TEN_ONE)
    mpeg = Stream(kind="video", port=53000, codecs=(Codec("MPV", 90000),))
    answer = reply(offer, audio(PCMU, port=49920), mpeg)
    assert [(each.kind, each.port, each.formats) for each in answer.media] == [
        ("audio", 49920, ("0",)),
        ("video", 0, ("31",)),
        ("video", 53000, ("32",)),
    ]
    assert faults_of(answer, offer=offer) == ()
    speech, refused, pictures = agree(offer, answer)
    assert refused is None
    assert speech is not None
    assert pictures is not None
    assert (speech.local_port, speech.port, speech.control_port, speech.codec) == (49170, 49920, 49921, (0, PCMU))
    assert pictures.codec == (32, Codec("MPV", 90000))


def test_the_exchange_of_10_2() -> None:
    offer = read(TEN_TWO)
    answer = reply(offer, audio(Codec("G723", 8000), PCMU, port=54344))
    # the answer keeps the offer's order (§6.1), not ours, and may only be inactive
    assert answer.media[0].formats == ("0", "4")
    assert direction_of(answer, answer.media[0]) is Direction.INACTIVE
    chosen = make_offer([audio(Codec("G723", 8000), port=62986)], origin=ALICE, connection=HERE, previous=offer)
    assert (chosen.origin.session, chosen.origin.version) == (2890844526, 2890844527)
    assert chosen.media[0].formats == ("4",)


@pytest.mark.parametrize(
    ("offer", "allowed"),
    # RFC 3264 §6.1, said there in words: what may answer each direction
    [
        ("sendrecv", {"sendrecv", "sendonly", "recvonly", "inactive"}),
        ("sendonly", {"recvonly", "inactive"}),
        ("recvonly", {"sendonly", "inactive"}),
        ("inactive", {"inactive"}),
    ],
)
def test_the_table_of_directions(offer: str, allowed: set[str]) -> None:
    assert {answered(Direction(offer), wanted).value for wanted in Direction} == allowed
    for said in Direction:
        live = offered(audio(PCMU, direction=Direction(offer)))
        answer = reply(live, audio(PCMU))
        forced = replace(
            answer, media=tuple(replace(each, attributes=(Attribute(said.value),)) for each in answer.media)
        )
        assert (faults_of(forced, offer=live) == ()) is (said.value in allowed)


def test_nobody_sends_to_one_who_does_not_receive() -> None:
    for first in Direction:
        for second in Direction:
            offer = offered(audio(PCMU, direction=first))
            answer = reply(offer, audio(PCMU, direction=second))
            (ours,), (theirs,) = agree(offer, answer), agree(answer, offer)
            assert ours is not None
            assert theirs is not None
            assert ours.direction.sends is theirs.direction.receives
            assert ours.direction.receives is theirs.direction.sends
            assert not (ours.direction.sends and not first.sends)
            assert not (theirs.direction.sends and not second.sends)


def test_holding() -> None:
    # RFC 3264 §8.4: sendrecv becomes sendonly, recvonly becomes inactive
    assert [held(each) for each in (Direction.SENDRECV, Direction.RECVONLY)] == [Direction.SENDONLY, Direction.INACTIVE]
    first = offered(audio(PCMU))
    hold = offered(audio(PCMU, direction=held(Direction.SENDRECV)), previous=first)
    assert hold.origin.version == 2
    answer = reply(hold, audio(PCMU))
    assert direction_of(answer, answer.media[0]) is Direction.RECVONLY


def test_the_old_way_of_holding() -> None:
    # RFC 3264 §8.4: RFC 2543 set the address to 0.0.0.0
    offer = replace(offered(audio(PCMU)), connection=Connection(address="0.0.0.0"))  # noqa: S104
    answer = reply(offer, audio(PCMU))
    assert direction_of(answer, answer.media[0]) is Direction.RECVONLY
    (ours,) = agree(answer, offer)
    assert ours is not None
    assert not ours.direction.sends


def test_codecs_are_in_the_order_and_under_the_numbers_of_the_offer() -> None:
    offer = offered(audio(OPUS, G722, PCMA, EVENTS))
    assert offer.media[0].formats == ("96", "9", "8", "97")  # RFC 3551: 9 and 8 static, dynamic from 96
    answer = reply(offer, audio(EVENTS, PCMA, G722, port=5000))
    assert answer.media[0].formats == ("9", "8", "97")
    (ours,) = agree(offer, answer)
    assert ours is not None
    assert ours.codec == (9, G722)
    assert ours.events_number == 97
    assert (ours.address, ours.port) == ("192.0.2.2", 5000)


def test_each_side_may_use_its_own_numbers() -> None:
    # §5.1: a number says what its writer wants to receive; an answer may choose another (§6.1: should not)
    offer = offered(audio(PCMA, EVENTS))
    other = read(
        "v=0|o=- 1 1 IN IP4 192.0.2.2|s=-|c=IN IP4 192.0.2.2|t=0 0|"
        "m=audio 6 RTP/AVP 8 101|a=rtpmap:101 TELEPHONE-EVENT/8000|"
    )
    assert faults_of(other, offer=offer) == ()
    (ours,) = agree(offer, other)
    assert ours is not None
    assert ours.events_number == 101
    assert [number for number, _ in ours.receive] == [8, 96]


def test_a_stream_of_keys_alone_is_refused_and_keys_of_another_clock_are_not_sent() -> None:
    with pytest.raises(PeerError) as raised:
        reply(offered(audio(EVENTS)), audio(PCMU, EVENTS))
    assert raised.value.code == 488
    offer = offered(audio(OPUS, EVENTS))
    (ours,) = agree(offer, reply(offer, audio(OPUS, EVENTS)))
    assert ours is not None
    assert ours.events_number is None  # RFC 4733 §2.2: the clock of the stream is 48 000


def test_nothing_in_common_is_488() -> None:
    for wanted in (
        audio(G729),
        Stream(kind="video", port=2, codecs=(H264,)),
        replace(audio(PCMU), protocol="RTP/SAVP"),
    ):
        with pytest.raises(PeerError) as raised:
            reply(offered(audio(PCMU)), wanted)
        assert raised.value.code == 488
    multicast = replace(offered(audio(PCMU)), connection=Connection(address="233.252.0.1/127"))
    with pytest.raises(PeerError):
        reply(multicast, audio(PCMU))


def test_every_offered_stream_has_its_line_and_times_are_kept() -> None:
    offer = replace(
        offered(audio(PCMU, port=4000), audio(PCMU, port=4002), Stream(kind="video", port=4004, codecs=(H264,))),
        times=(Times(start=1, stop=2),),
    )
    offer = replace(offer, media=(*offer.media, Media(kind="image", port=4006, protocol="udptl", formats=("t38",))))
    answer = reply(offer, audio(PCMU, port=5000), Stream(kind="video", port=5004, codecs=(H264,)))
    assert [(each.kind, each.port) for each in answer.media] == [
        ("audio", 5000),
        ("audio", 0),
        ("video", 5004),
        ("image", 0),
    ]
    assert answer.media[3].formats == ("t38",)  # §6: at least one format stands in the line
    assert answer.times == (Times(start=1, stop=2),)
    assert agree(offer, answer)[1] is None


def test_streams_are_ended_and_added_but_never_taken_away() -> None:
    video = Stream(kind="video", port=4004, codecs=(H264,))
    first = offered(audio(PCMA, OPUS, EVENTS), video)
    again = offered(audio(PCMA, OPUS, EVENTS), video, previous=first)
    assert again == first  # §8: nothing changed, so the version did not
    fewer = offered(audio(PCMA, EVENTS), previous=first)
    assert [(each.kind, each.port) for each in fewer.media] == [("audio", 4000), ("video", 0)]
    assert fewer.media[0].formats == ("8", "97")  # §8.3.2: 97 was events before, and stays so
    assert fewer.origin == replace(first.origin, version=2)
    more = offered(audio(PCMA, EVENTS, G729, Codec("iLBC", 8000)), video, audio(PCMU, port=4008), previous=fewer)
    assert more.media[0].formats == ("8", "97", "18", "96")
    assert [each.port for each in more.media] == [4000, 4004, 4008]
    with pytest.raises(LocalError):
        offered(video, previous=first)  # §8.1: the place of speech that goes on
    with pytest.raises(LocalError):
        offered(audio(PCMA), None)


def test_an_offer_that_cannot_be_is_our_own_error() -> None:
    for wrong in (audio(), audio(PCMU, port=0), audio(PCMU, port=65536)):
        with pytest.raises(LocalError):
            offered(wrong)
    assert offered(audio(PCMU, port=65535)).media[0].port == 65535
    many = [Codec(f"X-{number}", 8000) for number in range(33)]
    assert offered(audio(*many[:32])).media[0].formats[-1] == "127"  # RFC 3551 §3: 96 to 127 are dynamic
    with pytest.raises(LocalError):
        offered(audio(*many))


def test_the_static_numbers() -> None:
    # RFC 3551 §6, tables 4 and 5 (from memory), told again by their clocks
    clocks = {
        8000: {0, 3, 4, 5, 7, 8, 9, 12, 13, 15, 18},
        16000: {6},
        44100: {10, 11},
        11025: {16},
        22050: {17},
        90000: {14, 25, 26, 28, 31, 32, 33, 34},
    }
    assert {number: codec.clock_hz for number, codec in STATIC.items()} == {
        number: clock_hz for clock_hz, numbers in clocks.items() for number in numbers
    }
    assert [number for number, codec in STATIC.items() if codec.channels_count != 1] == [10]


def test_an_answer_to_a_stream_that_is_over_is_over() -> None:
    offer = offered(None, previous=offered(audio(PCMU)))
    answer = reply(offer, audio(PCMU))  # nothing alive was offered, so this is no 488
    assert answer.media[0].port == 0
    alive = replace(answer, media=(replace(answer.media[0], port=9),))
    assert [each.clause for each in faults_of(alive, offer=offer)] == ["RFC 3264 §6"]


def test_answers_that_break_the_rules() -> None:
    offer = offered(audio(PCMU), Stream(kind="video", port=2, codecs=(H264,)))
    good = reply(offer, audio(PCMU), Stream(kind="video", port=3, codecs=(H264,)))
    assert faults_of(good, offer=offer) == ()
    assert len(faults_of(replace(good, media=good.media[:1]), offer=offer)) == 1
    assert len(faults_of(replace(good, media=good.media[::-1]), offer=offer)) == 2
    assert len(faults_of(replace(good, connection=None), offer=offer)) == 2
    alien = replace(good.media[0], formats=("8",), attributes=())
    assert len(faults_of(replace(good, media=(alien, good.media[1])), offer=offer)) == 1
    for wrong in (replace(good, media=good.media[:1]), replace(good, media=(alien, good.media[1]))):
        with pytest.raises(PeerError) as raised:
            agree(offer, wrong)
        assert raised.value.code == 488


def test_where_reports_go_and_how_long_packets_are() -> None:
    offer = offered(replace(audio(PCMU), packet_ms=20))
    assert offer.media[0].values_of("ptime") == ("20",)
    told = replace(offer.media[0], attributes=(Attribute("rtcp", "53020 IN IP4 192.0.2.9"), Attribute("ptime", "2.5")))
    (ours,) = agree(reply(offer, audio(PCMU)), replace(offer, media=(told,)))
    assert ours is not None
    assert (ours.control_port, ours.packet_ms) == (53020, 2.5)  # RFC 3605 §2.1, RFC 8866 §6.4
    for name, value in (("rtcp", "x"), ("ptime", "0"), ("ptime", "nan")):
        broken = replace(offer.media[0], attributes=(Attribute(name, value),))
        with pytest.raises(PeerError):
            agree(offer, replace(offer, media=(broken,)))


def test_numbers_that_nothing_explains_are_left_out() -> None:
    media = Media(
        kind="audio",
        port=2,
        protocol="RTP/AVP",
        formats=("120", "8", "8", "0"),
        attributes=(Attribute("rtpmap", "0 X-OWN/16000"), Attribute("fmtp", "8 a=b")),
    )
    # the rtpmap goes before the static table, as RFC 8866 §6.6 lets it
    assert formats_of(media) == ((8, Codec("PCMA", 8000, 1, "a=b")), (0, Codec("X-OWN", 16000)))
    for broken in (
        "8",
        "8 PCMA",
        "8 PCMA/0",
        "8 PCMA/8000/0",
        "8 PCMA/8000/1/1",
        "x PCMA/8000",
        "128 PCMA/8000",
        "8 /8000",
    ):
        with pytest.raises(PeerError):
            formats_of(replace(media, attributes=(Attribute("rtpmap", broken),)))
    with pytest.raises(PeerError):
        formats_of(replace(media, formats=("t38",)))


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        # RFC 6184 §8.1, table 5 (from memory): the profiles behind the octets
        ("profile-level-id=42e01f", "profile-level-id=42c00a", True),  # both constrained baseline
        ("profile-level-id=42e01f", "profile-level-id=4d801f", True),  # main with set 0 is that too
        ("profile-level-id=42e01f", "profile-level-id=42001f", False),  # baseline
        ("profile-level-id=42e01f", "profile-level-id=640028", False),  # high
        ("profile-level-id=64001f", "PROFILE-LEVEL-ID=640028", True),
        ("", "profile-level-id=42000A", True),  # what is unsaid is baseline, level 1
        ("profile-level-id=58c00a", "profile-level-id=42e01f", True),  # extended with sets 0 and 1
        ("profile-level-id=58800a", "profile-level-id=42000a", True),
        ("profile-level-id=58000a", "profile-level-id=58300a", True),  # extended; sets 2 and 3 say nothing of it
        ("profile-level-id=58000a", "profile-level-id=42000a", False),
        ("profile-level-id=4d001f", "profile-level-id=4d401f", True),  # main
        ("packetization-mode=1", "packetization-mode=0", False),  # §8.2.2: another format
        ("packetization-mode=0", "", True),
        ("profile-level-id=xyz", "profile-level-id=xyz", False),
    ],
)
def test_when_two_pictures_are_alike(one: str, other: str, same: bool) -> None:
    assert alike(Codec("H264", 90000, 1, one), Codec("h264", 90000, 1, other)) is same


def test_what_is_in_common() -> None:
    # RFC 6184 §8.2.2: the answer may lower the level; 1f is level 3.1, 28 is level 4.0 (§8.1)
    better = replace(H264, parameters="packetization-mode=1;profile-level-id=42c028;x")
    common = in_common(better, H264)
    assert common is not None
    assert common.parameters == "profile-level-id=42c01F;packetization-mode=1"
    # RFC 4733 §2.4.1
    events = in_common(replace(EVENTS, parameters="0-11,66"), replace(EVENTS, parameters="5,6,7,10-70"))
    assert events is not None
    assert events.parameters == "5-7,10-11,66"
    assert in_common(replace(EVENTS, parameters="66"), EVENTS) is None
    assert in_common(PCMU, replace(PCMU, parameters="ours")) == replace(PCMU, parameters="ours")
