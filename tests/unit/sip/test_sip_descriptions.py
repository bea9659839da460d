"""Session descriptions: the grammar's order, what peers send loosely, what is refused."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.sdp import (
    LINES_MAX,
    Attribute,
    Bandwidth,
    Connection,
    Description,
    Media,
    Origin,
    Times,
    parse_description,
)

# RFC 8866 §5, the example there (from memory), with every kind of line of §9 added in its place
WHOLE = (
    "v=0|o=jdoe 3724394400 3724394405 IN IP4 198.51.100.1|s=Call to John Smith|i=SDP Offer #1|"
    "u=http://www.jdoe.example.com/home.html|e=Jane Doe <jane@jdoe.example.com>|p=+1 617 555-6011|"
    "c=IN IP4 198.51.100.1|"
    "b=AS:256|b=CT:1024|t=0 0|t=3724394400 3724398000|r=7d 1h 0 25h|r=604800 3600 0|z=2882844526 -1h|k=prompt|"
    "a=recvonly|a=tool:none of yours|m=audio 49170/2 RTP/AVP 0 101|i=speech|c=IN IP4 233.252.0.1/127/3|"
    "c=IN IP4 233.252.0.2/127|b=AS:64|k=prompt|a=rtpmap:101 telephone-event/8000|a=sendrecv|m=video 0 RTP/AVP 31|"
).replace("|", "\r\n")
LEAST = "v=0\r\no=- 1 1 IN IP4 192.0.2.1\r\ns=-\r\nt=0 0\r\n"


def read(text: str) -> Description:
    return parse_description(text.encode())


def test_every_line_is_read_and_printed_in_its_place() -> None:
    session = read(WHOLE)
    assert session == Description(
        origin=Origin(username="jdoe", session=3724394400, version=3724394405, address="198.51.100.1"),
        name="Call to John Smith",
        title="SDP Offer #1",
        uri="http://www.jdoe.example.com/home.html",
        emails=("Jane Doe <jane@jdoe.example.com>",),
        phones=("+1 617 555-6011",),
        connection=Connection(address="198.51.100.1"),
        bandwidths=(Bandwidth("AS", 256), Bandwidth("CT", 1024)),
        times=(
            Times(),
            Times(start=3724394400, stop=3724398000, repeats=("7d 1h 0 25h", "604800 3600 0"), zones="2882844526 -1h"),
        ),
        key="prompt",
        attributes=(Attribute("recvonly"), Attribute("tool", "none of yours")),
        media=(
            Media(
                kind="audio",
                port=49170,
                ports_count=2,
                protocol="RTP/AVP",
                formats=("0", "101"),
                title="speech",
                connections=(Connection(address="233.252.0.1/127/3"), Connection(address="233.252.0.2/127")),
                bandwidths=(Bandwidth("AS", 64),),
                key="prompt",
                attributes=(Attribute("rtpmap", "101 telephone-event/8000"), Attribute("sendrecv")),
            ),
            Media(kind="video", port=0, protocol="RTP/AVP", formats=("31",)),
        ),
    )
    assert bytes(session) == WHOLE.encode()
    assert session.values_of("tool") == ("none of yours",)
    assert session.media[0].values_of("sendrecv") == ("",)
    assert session.connection_of(session.media[0]) == Connection(address="233.252.0.1/127/3")
    assert session.connection_of(session.media[1]) == Connection(address="198.51.100.1")


def test_every_swap_of_two_neighbours_of_different_kind_is_refused_or_means_another_thing() -> None:
    """RFC 8866 §5: the order is fixed, so a description out of order is not the same one."""
    session = read(WHOLE)
    lines = WHOLE.splitlines(keepends=True)
    refused = 0
    for place in range(len(lines) - 1):
        if lines[place][0] == lines[place + 1][0]:
            continue
        swapped = [*lines[:place], lines[place + 1], lines[place], *lines[place + 2 :]]
        try:
            assert read("".join(swapped)) != session
        except PeerError:
            refused += 1
    # what may be read otherwise: "t r" (the repetition moves to the time before), "c b" under m, "a m" and "m i" cannot
    assert refused >= 17


def test_loose_lines_are_read() -> None:
    wanted = read(LEAST)
    assert read(LEAST.replace("\r\n", "\n")) == wanted  # §5: readers should take a single newline
    assert read(LEAST.removesuffix("\r\n")) == wanted  # common practice
    assert read(LEAST.replace("s=-", "s=")).name == ""  # common practice; §5.3 asks for "-"
    late_zones = LEAST + "t=1 2\r\nr=1 2 3\r\nz=1 1h\r\n"  # RFC 4566 §9: zones after the last time
    assert read(late_zones).times[-1].zones == "1 1h"


def test_octets_that_are_no_utf_8_survive() -> None:
    text = LEAST.encode().replace(b"s=-", b"s=T\xfcr")
    assert bytes(parse_description(text)) == text


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("v=0", "v=1", 1),
        ("v=0\r\n", "", 1),
        ("o=- 1 1", "o=- 1", 2),
        ("o=- 1 1", "o=-  1 1", 2),
        ("o=- 1 1", "o=- x 1", 2),
        ("o=- 1 1", "o=- 1 ٣", 2),
        ("o=- 1 1", "o=- 1 18446744073709551616", 2),
        ("s=-\r\n", "", 3),
        ("s=-\r\n", "s=-\r\nc=IN IP4\r\n", 4),
        ("s=-\r\n", "s=-\r\nb=AS\r\n", 4),
        ("s=-\r\n", "s=-\r\nb=AS:x\r\n", 4),
        ("s=-\r\n", "s=-\r\ni=\r\n", 4),
        ("s=-\r\n", "s=a\rb\r\n", 3),
        ("t=0 0\r\n", "", 4),
        ("t=0 0", "t=0", 4),
        ("t=0 0\r\n", "t=0 0\r\nx=1\r\n", 5),  # §5: an unknown letter spoils the description
        ("t=0 0\r\n", "t=0 0\r\n\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\na=\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\na=a b\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\na=a:\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1 RTP/AVP\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 65536 RTP/AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1/0 RTP/AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1/65536 RTP/AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1/ RTP/AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=au,dio 1 RTP/AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1 RTP//AVP 0\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1 RTP/AVP 0,8\r\n", 5),
        ("t=0 0\r\n", "t=0 0\r\nm=audio 1 RTP/AVP 0\r\nt=0 0\r\n", 6),
    ],
)
def test_a_broken_line_is_named(old: str, new: str, line: int) -> None:
    assert old in LEAST
    with pytest.raises(PeerError) as raised:
        read(LEAST.replace(old, new))
    assert raised.value.code == 400
    assert raised.value.problem.startswith(f"line {line} of the description: ")


def test_nothing_a_zero_octet_and_too_much_are_refused() -> None:
    for text in ("", LEAST + "a=\0\r\n"):
        with pytest.raises(PeerError):
            read(text)
    with pytest.raises(PeerError) as raised:
        read(LEAST + "a=x\r\n" * LINES_MAX)
    assert raised.value.code == 413


@pytest.mark.parametrize(
    "changes",
    [
        {"name": "two\r\nlines"},
        {"name": "half \ud800"},
        {"name": "\udcc3\udca9"},  # would be read as é
        {"title": ""},
        {"times": ()},
        {"connection": Connection(address="two words")},
        {"origin": Origin(session=-1, version=1, address="192.0.2.1")},
        {"attributes": (Attribute("a:b"),)},
        {"attributes": (Attribute("a b"),)},
        {"media": (Media(kind="audio", port=1, protocol="RTP/AVP", formats=()),)},
    ],
)
def test_a_description_that_cannot_be_said_is_our_own_error(changes: dict[str, object]) -> None:
    fields: dict[str, object] = {"origin": Origin(session=1, version=1, address="192.0.2.1")}
    with pytest.raises(LocalError):
        bytes(Description(**(fields | changes)))  # type: ignore[arg-type]
