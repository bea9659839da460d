"""Any octets give a value or a PeerError, and what is printed reads back: descriptions, digests, media, keys."""

import string
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.sip import dtmf, rtcp, rtp, sdp
from doorwright.sip.challenged import Answerer
from doorwright.sip.digest import Account, Challenge, Credentials, parse_challenge, parse_credentials
from doorwright.sip.errors import PeerError
from doorwright.sip.formats import Codec
from doorwright.sip.offer import Direction, Stream, agree, faults_of, make_answer, make_offer
from doorwright.sip.rtcp import Rtcp


def person(username: str, word: str, realm: str | None = None) -> Account:
    return Account(username=username, password=word, realm=realm)


WHOLE = (
    b"v=0\r\no=- 1 1 IN IP4 192.0.2.1\r\ns=-\r\ni=x\r\nc=IN IP4 192.0.2.1\r\nb=AS:64\r\nt=0 0\r\nr=1 2 3\r\na=x:y\r\n"
    b"m=audio 4000/2 RTP/AVP 0 8 101\r\nc=IN IP4 192.0.2.1\r\na=rtpmap:101 telephone-event/8000\r\na=fmtp:101 0-15\r\n"
    b"a=ptime:20\r\na=sendonly\r\nm=video 4002 RTP/AVP 96\r\na=rtpmap:96 H264/90000\r\n"
    b"a=fmtp:96 profile-level-id=42e01f\r\n"
)
DIGESTS = (
    'Digest realm="door", nonce="n\\"1", qop="auth,auth-int", algorithm=SHA-256, stale=true, opaque="", charset=UTF-8',
    'Digest realm="door", nonce="1", domain="sip:d", userhash=true, x=y',
    'Digest username*=UTF-8\'\'J%C3%A4, realm="door", nonce="1", uri="sip:d", response="0", nc=00000001, qop=auth',
)
STREAMS = (
    Stream(kind="audio", port=5000, codecs=(Codec("PCMA", 8000), Codec("PCMU", 8000), Codec("telephone-event", 8000))),
    Stream(kind="video", port=5002, codecs=(Codec("H264", 90000, 1, "profile-level-id=42e01f"),)),
)
OUR_ORIGIN = sdp.Origin(session=1, version=1, address="192.0.2.2")
OURS = sdp.Connection(address="192.0.2.2")


def spoilt(whole: bytes) -> st.SearchStrategy[bytes]:
    """A good text with some pieces put in, left out or said twice: deeper than chance alone would get."""

    @st.composite
    def build(draw: st.DrawFn) -> bytes:
        text = whole
        for _ in range(draw(st.integers(1, 3))):
            begin = draw(st.integers(0, len(text)))
            end = min(len(text), begin + draw(st.sampled_from([0, 0, 1, 2, 8, 30])))
            put = draw(
                st.one_of(st.binary(max_size=4), st.sampled_from([b"\r\n", b"\n", b"=", b'"', b",", b"0", text[:40]]))
            )
            text = text[:begin] + put + text[end:]
        return text

    return build()


@given(st.one_of(st.binary(), spoilt(WHOLE)))
def test_any_octets_are_a_description_or_a_fault(data: bytes) -> None:
    try:
        session = sdp.parse_description(data)
    except PeerError:
        return
    assert sdp.parse_description(bytes(session)) == session
    try:
        answer = make_answer(session, STREAMS, origin=OUR_ORIGIN, connection=OURS)
        agree(answer, session)
    except PeerError:
        return
    assert [each.kind for each in answer.media] == [each.kind for each in session.media]
    assert sdp.parse_description(bytes(answer)) == answer


words = st.text(st.sampled_from(string.ascii_letters + string.digits + "-."), min_size=1, max_size=8)
texts = st.text(st.characters(exclude_characters="\r\n\0", exclude_categories=["Cs"]), min_size=1, max_size=12)
connections = st.builds(sdp.Connection, address=words)
attributes = st.builds(sdp.Attribute, words, st.none() | texts)
bandwidths = st.builds(sdp.Bandwidth, words, st.integers(0, 2**32))
sessions = st.builds(
    sdp.Description,
    origin=st.builds(
        sdp.Origin, username=words, session=st.integers(0, 2**64 - 1), version=st.integers(0, 2**64 - 1), address=words
    ),
    name=texts,
    title=st.none() | texts,
    uri=st.none() | texts,
    emails=st.tuples() | st.tuples(texts, texts),
    phones=st.tuples() | st.tuples(texts),
    connection=st.none() | connections,
    bandwidths=st.tuples() | st.tuples(bandwidths, bandwidths),
    times=st.lists(
        st.builds(sdp.Times, start=st.integers(0, 99), repeats=st.tuples() | st.tuples(texts), zones=st.none() | texts),
        min_size=1,
        max_size=3,
    ).map(tuple),
    key=st.none() | texts,
    attributes=st.lists(attributes, max_size=3).map(tuple),
    media=st.lists(
        st.builds(
            sdp.Media,
            kind=words,
            port=st.integers(0, 65535),
            ports_count=st.none() | st.integers(1, 9),
            protocol=words,
            formats=st.lists(words, min_size=1, max_size=3).map(tuple),
            title=st.none() | texts,
            connections=st.lists(connections, max_size=2).map(tuple),
            bandwidths=st.tuples() | st.tuples(bandwidths),
            key=st.none() | texts,
            attributes=st.lists(attributes, max_size=3).map(tuple),
        ),
        max_size=3,
    ).map(tuple),
)


@given(sessions)
def test_every_description_reads_back(session: sdp.Description) -> None:
    assert sdp.parse_description(bytes(session)) == session


@given(
    st.one_of(
        st.text(),
        *(spoilt(each.encode()).map(lambda octets: octets.decode("utf-8", "surrogateescape")) for each in DIGESTS),
    )
)
def test_any_text_is_a_digest_or_a_fault(text: str) -> None:
    for parse in (parse_challenge, parse_credentials):
        reader: Callable[[str], Challenge | Credentials | None] = parse
        try:
            told = reader(text)
        except PeerError:
            continue
        assert told is None or reader(str(told)) == told
    unit = Answerer([person("u", "p")])
    if unit.challenged(401, [text]):
        ((_, value),) = unit.headers(method="INVITE", uri="sip:1@d", chance=bytes)
        assert parse_credentials(value) is not None


@given(st.binary(max_size=80))
def test_any_datagram_is_a_packet_or_a_fault(data: bytes) -> None:
    try:
        packet = rtp.parse_rtp(data)
    except PeerError:
        return
    assert rtp.parse_rtp(bytes(packet)) == packet
    assert len(bytes(packet)) == len(data)


@given(st.binary(max_size=40).map(lambda rest: b"\x81\xc9\x00\x07" + bytes(28) + rest) | st.binary(max_size=80))
def test_any_datagram_is_reports_or_a_fault(data: bytes) -> None:
    try:
        packets = rtcp.parse_rtcp(data)
    except PeerError:
        return
    assert rtcp.parse_rtcp(rtcp.print_rtcp(packets)) == packets


items = st.lists(st.tuples(st.integers(1, 255), st.binary(max_size=6)), max_size=3).map(tuple)
reports: st.SearchStrategy[Rtcp] = st.one_of(
    st.builds(rtcp.ReceiverReport, source=st.integers(0, 2**32 - 1)),
    st.builds(
        rtcp.SourceDescription,
        chunks=st.lists(st.builds(rtcp.Described, source=st.integers(0, 9), items=items), max_size=3).map(tuple),
    ),
    st.builds(rtcp.Bye, sources=st.tuples() | st.tuples(st.just(1)), cause=st.none() | st.binary(max_size=9)),
)


@given(st.lists(reports, max_size=4))
def test_every_report_reads_back(packets: list[Rtcp]) -> None:
    whole = (rtcp.ReceiverReport(source=1), *packets)
    assert rtcp.parse_rtcp(rtcp.print_rtcp(whole)) == whole


@given(
    st.integers(0, 65535),
    st.lists(st.one_of(st.integers(0, 65535), st.integers(-3, 3)), max_size=60),
)
def test_counts_hold_together_whatever_comes(first: int, steps: list[int]) -> None:
    count = rtp.SequenceCount(first)
    at = first
    for step in steps:
        at = (at + step) % 65536
        count.update(at)
        assert count.expected_count >= 0
        assert count.lost_count == count.expected_count - count.received_count
        assert 0 <= count.close_interval() <= 255


@given(st.permutations(range(1, 40)))
def test_order_within_the_window_makes_no_loss(order: list[int]) -> None:
    """Forty packets in any order, after two that prove the source, are forty packets received."""
    count = rtp.SequenceCount(65530)
    count.update(65530)
    count.update(65531)
    for place in order:
        count.update((65531 + place) % 65536)
    assert (count.lost_count, count.extended_highest) == (0, 65531 + 39)


@given(
    st.lists(st.tuples(st.sampled_from(dtmf.KEYS), st.integers(40, 9000)), min_size=1, max_size=4),
    st.randoms(use_true_random=False),
)
def test_keys_are_heard_once_each_with_a_third_of_the_packets_lost(
    presses: list[tuple[str, int]], chance: object
) -> None:
    """As long as one packet of each press comes through, in order, each press is heard, and none twice."""
    listener, at_ticks = dtmf.KeyListener(), 4_294_900_000
    told: list[dtmf.KeyEvent] = []
    for key, duration_ms in presses:
        packets = dtmf.key_packets(
            key, payload_type=101, source=1, sequence=0, timestamp=at_ticks % 2**32, duration_ms=float(duration_ms)
        )
        kept = [each for each in packets[:-1] if chance.random() > 1 / 3] + [packets[-1]]  # type: ignore[attr-defined]
        for at_s, packet in kept:
            told += listener.receive(packet, now_s=at_ticks / 8000 + at_s)
        at_ticks += duration_ms * 8 + 400
    assert [each.key for each in told if isinstance(each, dtmf.KeyPressed)] == [key for key, _ in presses]
    ends = [each for each in told if isinstance(each, dtmf.KeyReleased)]
    assert all(each.certain for each in ends)
    assert len(ends) == len(presses)


@given(st.binary(max_size=30), st.sampled_from([dtmf.INFO_RELAY, dtmf.INFO_DIGIT, "x"]))
def test_any_info_body_is_a_key_or_a_fault(body: bytes, content_type: str) -> None:
    try:
        told = dtmf.parse_info(body, content_type=content_type)
    except PeerError:
        return
    assert dtmf.parse_info(dtmf.print_info(told), content_type=dtmf.INFO_RELAY) == told


codec_lists = st.lists(
    st.sampled_from([("PCMU", 8000), ("PCMA", 8000), ("G722", 8000), ("opus", 48000), ("telephone-event", 8000)]),
    min_size=1,
    unique=True,
).map(lambda made: tuple(Codec(*each) for each in made))
streams = st.builds(
    Stream,
    kind=st.sampled_from(["audio", "video"]),
    port=st.integers(1, 65535),
    codecs=codec_lists,
    direction=st.sampled_from(Direction),
)


@given(st.lists(streams, min_size=1, max_size=4), st.lists(streams, max_size=4))
def test_our_answer_to_our_offer_is_always_right(wanted: list[Stream], willing: list[Stream]) -> None:
    offer = make_offer(wanted, origin=OUR_ORIGIN, connection=OURS)
    try:
        answer = make_answer(offer, willing, origin=OUR_ORIGIN, connection=OURS)
    except PeerError:  # 488: nothing in common
        return
    assert faults_of(answer, offer=offer) == ()
    for ours, theirs in zip(agree(offer, answer), agree(answer, offer), strict=True):
        if ours is None or theirs is None:
            assert ours is theirs
        else:
            assert ours.codec == theirs.codec
            assert (ours.direction.sends, ours.direction.receives) == (
                theirs.direction.receives,
                theirs.direction.sends,
            )
            assert set(ours.send) == set(theirs.receive)


@pytest.mark.parametrize("octets", [b"v=0", b"v=0\r\n" * 3000, b"\r" * 100_000, b"m=" * 50_000])
def test_great_nonsense_is_refused(octets: bytes) -> None:
    with pytest.raises(PeerError):
        sdp.parse_description(octets)
