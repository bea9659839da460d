"""Messages of RFC 3261: printing and reading are inverse, however a message is spelt or cut; any bytes are survived."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.sip.grammar import quote, split_list, unquote
from doorwright.sip.headers import Via
from doorwright.sip.message import Message, Request, StreamReader, parse
from doorwright.sip.names import COMPACT
from doorwright.sip.uri import NameAddr, Uri, equivalent, parse_name_addr, parse_uri
from doorwright.sip.validate import validate
from tests.property.sip_messages import messages, name_addrs, requests, texts, uris, vias
from tests.unit.sip.survival import survive
from tests.unit.sip.torture_messages import MESSAGES

DRAWN = 40  # a whole message is costly to draw
_LONG = {name: short for short, name in COMPACT.items()}


@given(uris)
def test_an_address_is_read_as_it_was_printed(uri: Uri) -> None:
    assert parse_uri(str(uri)) == uri
    assert equivalent(uri, parse_uri(str(uri)))


@given(name_addrs)
def test_a_named_address_is_read_as_it_was_printed(address: NameAddr) -> None:
    assert parse_name_addr(str(address)) == address


@given(vias)
def test_a_via_is_read_as_it_was_printed(via: Via) -> None:
    assert Via.read(str(via)) == via


@given(texts)
def test_quoting_is_undone(text: str) -> None:
    assert unquote(quote(text)) == text


@given(st.lists(name_addrs.map(str), min_size=1, max_size=5))
def test_a_list_is_split_as_it_was_joined(parts: list[str]) -> None:
    assert split_list(" , ".join(parts)) == tuple(parts)


@settings(max_examples=DRAWN)
@given(messages)
def test_a_valid_message_is_read_as_it_was_printed(message: Message) -> None:
    data = message.to_bytes()
    again = parse(data)
    assert again == message
    assert again.faults == ()
    assert again.to_bytes() == data
    assert validate(again) == ()
    survive(data)


@settings(max_examples=DRAWN)
@given(st.lists(messages, min_size=1, max_size=3), st.lists(st.integers(0, 4000), max_size=6), st.binary(max_size=20))
def test_a_stream_is_cut_into_the_same_messages(sent: list[Message], cuts: list[int], after: bytes) -> None:
    data = b"\r\n".join(message.to_bytes() for message in sent)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    reader = StreamReader()
    pieces = [data[begin:end] for begin, end in pairwise(edges)]
    assert [item for piece in pieces for item in reader.receive(piece)] == sent
    assert reader.end() is None
    assert parse(sent[-1].to_bytes() + after) == sent[-1]


@st.composite
def respelt(draw: st.DrawFn) -> tuple[Request, bytes]:
    """A request and its bytes with compact names, any case, spaces before the colon and folds after it (§7.3)."""
    request = draw(requests())
    lines = [f"{request.method} {request.target} SIP/2.0"]
    for name, value in request.headers:
        spelt = _LONG[name] if name in _LONG and draw(st.booleans()) else name
        spelt = draw(st.sampled_from((spelt, spelt.upper(), spelt.lower())))
        gap = draw(st.sampled_from((":", " :", "\t:", ": ", ":\r\n ", " : \r\n\t ")))
        lines.append(f"{spelt}{gap}{value}{draw(st.sampled_from(('', ' ', chr(9))))}")
    return request, "\r\n".join(lines).encode("utf-8", "surrogateescape") + b"\r\n\r\n" + request.body


@settings(max_examples=DRAWN)
@given(respelt())
def test_however_a_message_is_spelt_it_says_the_same(pair: tuple[Request, bytes]) -> None:
    request, data = pair
    assert parse(data) == request


@settings(max_examples=DRAWN)
@given(requests(), st.data())
def test_folding_a_header_changes_no_view_of_it(request: Request, data: st.DataObject) -> None:
    # Between the parts of an address, spaces and folds are one (§7.3.1)
    address = request.headers.to
    gap = data.draw(st.sampled_from((" ", "\r\n ", "\t", "\r\n\t \r\n ")))
    name = f"{quote(address.display)}{gap}" if address.display else ""
    folded = f"{gap}{name}<{address.uri}>" + "".join(
        f"{gap};{gap}{key}" + ("" if value is None else f"{gap}={gap}{value}") for key, value in address.params
    )
    start = request.to_bytes().partition(b"\r\n")[0]
    again = parse(start + b"\r\nTo:" + folded.encode() + b"\r\n\r\n")
    assert again.headers.to == address


@given(st.binary(max_size=300))
def test_any_bytes_are_survived(data: bytes) -> None:
    survive(data)


@st.composite
def broken(draw: st.DrawFn) -> bytes:
    """A torture message with pieces of others, or of nothing, put in or left out."""
    sources = st.sampled_from(sorted(MESSAGES.values()))
    data = draw(sources)
    for _ in range(draw(st.integers(1, 4))):
        begin, end = sorted((draw(st.integers(0, len(data))), draw(st.integers(0, len(data)))))
        other = draw(sources)
        at = draw(st.integers(0, len(other)))
        piece = (
            draw(st.sampled_from((b"", b"\r\n", b'"', b"<", b",", b";", b" ", b"\0", b"\xff"))) or other[at : at + 40]
        )
        data = data[:begin] + piece + data[min(end, begin + 60) :]
    return data


@given(broken())
def test_broken_messages_are_survived(data: bytes) -> None:
    survive(data)
