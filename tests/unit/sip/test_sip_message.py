"""Reading and printing of messages, from datagrams and from streams (RFC 3261 §7, §18.3)."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import Parameters
from doorwright.sip.headers import Headers
from doorwright.sip.message import (
    LARGEST_DATAGRAM_BYTES,
    MOST_HEADERS,
    Message,
    Request,
    Response,
    StreamReader,
    parse,
    response_to,
)
from doorwright.sip.validate import Abilities, faults_for_proxy, faults_for_registrar, faults_for_server, validate
from tests.unit.sip.survival import survive
from tests.unit.sip.torture_messages import SDP, says

CALL = "INVITE sip:205@door.example SIP/2.0"


def problems(data: bytes) -> list[str]:
    return [fault.problem for fault in parse(data).faults]


def test_a_request_is_read() -> None:
    message = parse(says(CALL, "s: bell", body=SDP))
    assert isinstance(message, Request)
    assert (message.method, message.target, message.version, message.faults) == (
        "INVITE",
        "sip:205@door.example",
        "SIP/2.0",
        (),
    )
    assert message.headers.get("Subject") == "bell"
    assert message.body == SDP
    assert str(message.uri) == message.target


def test_a_response_is_read() -> None:
    message = parse(b"sip/2.0 486 Busy  Here \r\nVia: SIP/2.0/UDP a\r\nl: 0\r\n\r\n")
    assert isinstance(message, Response)
    assert (message.code, message.reason, message.version) == (486, "Busy  Here ", "SIP/2.0")
    assert (message.is_final, message.is_success) == (True, False)
    assert not Response(199, "").is_final
    assert Response(299, "").is_success
    bare = parse(b"SIP/2.0 200\r\n\r\n")
    assert isinstance(bare, Response)
    assert bare.reason == ""


def test_printing_tells_the_true_length_once() -> None:
    request = Request("INFO", "sip:a@b", Headers([("l", "9"), ("To", "x"), ("Content-Length", "7")]), b"1234")
    assert request.to_bytes() == b"INFO sip:a@b SIP/2.0\r\nContent-Length: 4\r\nTo: x\r\n\r\n1234"
    assert Response(200, "OK").to_bytes() == b"SIP/2.0 200 OK\r\nContent-Length: 0\r\n\r\n"
    assert request.with_headers(Headers()).to_bytes().endswith(b"\r\nContent-Length: 4\r\n\r\n1234")
    assert Response(200, "OK").with_headers(request.headers).headers is request.headers


@pytest.mark.parametrize(
    "message",
    [
        Request("IN VITE", "sip:a"),
        Request("", "sip:a"),
        Request("INVITE", ""),
        Request("INVITE", "sip:a b"),
        Request("INVITE", "sip:a\r\nVia:"),
        Request("INVITE", "sip:\ud800"),
        Response(99, "x"),
        Response(700, "x"),
        Response(200, "x\r\nVia: forged"),
    ],
)
def test_what_would_say_something_else_is_not_printed(message: Message) -> None:
    with pytest.raises(LocalError):
        message.to_bytes()


# §7.3.1: its example of folding; RFC 4475 §3.1.1.1
def test_folded_lines_are_one() -> None:
    folded = (
        b"Subject: I know you're there,\r\n         pick up the phone\r\n\tand talk to me!\r\n \r\nl:\r\n 0\r\n\r\n"
    )
    headers = parse(b"OPTIONS sip:a SIP/2.0\r\n" + folded).headers
    subject = headers.get("Subject")
    assert subject is not None
    assert subject.split() == [
        "I",
        "know",
        "you're",
        "there,",
        "pick",
        "up",
        "the",
        "phone",
        "and",
        "talk",
        "to",
        "me!",
    ]
    assert "\n" not in subject
    assert headers.content_length == 0


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\r\n\r\n", b"\0", b"hello", b"GET / HTTP/1.1\r\n\r\n", b"INVITE sip:a SIP/\r\n\r\n", b" SIP/2.0\r\n\r\n",
        b"SIP/2.0 20 x\r\n\r\n", b"SIP/2.0 2000 x\r\n\r\n", b"SIP/2.0 200OK\r\n\r\n", b"SIP/2.0\r\n\r\n",
        "ſIP/2.0 200 OK\r\n\r\n".encode(), "INVITE sip:a ſIP/2.0\r\n\r\n".encode(), "SIP/2.0 ٢٠٠ OK\r\n\r\n".encode(),
        b"INVITE sip:a SIP/2.0\nVia: x\n\n",
    ],
)  # fmt: skip
def test_bytes_that_are_no_message(data: bytes) -> None:
    with pytest.raises(PeerError):
        parse(data)
    assert survive(data) is None


def test_what_is_wrong_is_kept_beside_what_could_be_read() -> None:
    assert problems(b"OPTIONS sip:a SIP/2.0\r\nno colon\r\nTo: x\r\n\r\n") == [
        "a header line without a name and a colon"
    ]
    assert problems(b"OPTIONS sip:a SIP/2.0\r\na b: c\r\n\r\n") == ["a header line without a name and a colon"]
    assert problems(b"OPT(IONS sip:a SIP/2.0\r\n\r\n") == ["the method is no token"]
    assert problems(b"OPTIONS sip:a SIP/2.0\r\nTo: x\r\n") == ["no empty line after the headers"]
    assert problems(b"OPTIONS sip:a SIP/2.0\r\nl: 5\r\n\r\n1234") == ["the body is shorter than Content-Length says"]
    assert problems(b"OPTIONS SIP/2.0\r\n\r\n") == []  # the target is judged by validate
    assert "an address without a scheme" in [fault.problem for fault in validate(parse(b"OPTIONS SIP/2.0\r\n\r\n"))]


# One hop that sees a line end where another sees none lets a message say two things.
@pytest.mark.parametrize("end", [b"\n", b"\r", b"\n\r", b"\r\r\n"])
def test_a_line_end_of_another_kind_forges_no_header(end: bytes) -> None:
    message = parse(b"OPTIONS sip:a SIP/2.0\r\nSubject: x" + end + b"Via: SIP/2.0/UDP forged\r\nTo: <sip:a@b>\r\n\r\n")
    assert message.headers.get("To") == "<sip:a@b>"
    assert [fault.code for fault in message.faults] == [400]
    if end != b"\r\r\n":  # here a right line end follows the wrong one
        assert "Via" not in message.headers


def test_leading_line_ends_are_passed_over() -> None:
    # §7.5: a server should ignore any CRLF before the start line
    assert parse(b"\r\n\r\n" + says(CALL)) == parse(says(CALL))


def test_a_datagram_has_bounds() -> None:
    room = LARGEST_DATAGRAM_BYTES - len(says(CALL, "X: "))
    assert parse(says(CALL, "X: " + "x" * room)).faults == ()
    with pytest.raises(PeerError, match="larger than a datagram"):
        parse(says(CALL, "X: " + "x" * (room + 1)))


def test_the_headers_are_counted() -> None:
    usual = len(parse(says(CALL)).headers)
    assert parse(says(CALL, *["X: y"] * (MOST_HEADERS - usual))).faults == ()
    many = parse(says(CALL, *["X: y"] * (MOST_HEADERS - usual + 1)))
    assert [fault.code for fault in many.faults] == [513]
    assert len(many.headers) == MOST_HEADERS


def test_a_response_carries_what_the_request_said() -> None:
    # §8.2.6.2; a 100 carries the Timestamp as well (§8.2.6.1)
    request = parse(says(CALL, "Via: SIP/2.0/UDP far.example", "Timestamp: 54", "Subject: bell"))
    assert isinstance(request, Request)
    answer = response_to(request, 180, to_tag="here", headers=[("Contact", "<sip:a@b>")])
    assert [name for name, _ in answer.headers] == ["Via", "To", "From", "Call-ID", "CSeq", "Via", "Contact"]
    assert answer.headers.all("Via") == request.headers.all("Via")
    assert answer.headers.to.tag == "here"
    assert answer.reason == "Ringing"
    assert "Timestamp" in response_to(request, 100).headers
    assert response_to(request, 200, body=b"x").body == b"x"
    tagged = request.with_headers(request.headers.having("To", "<sip:a@b>;tag=old"))
    assert response_to(tagged, 200, to_tag="new").headers.to.tag == "old"
    broken = request.with_headers(request.headers.having("To", '"open'))
    assert response_to(broken, 400, "No", to_tag="new").headers.get("To") == '"open'
    assert response_to(request, 599).reason == "Server Internal Error"  # §8.1.3.2: unknown counts as x00


def test_a_stream_is_cut_by_content_length() -> None:
    one, two = says(CALL, Call_ID="one", body=SDP), says("SIP/2.0 200 OK", CSeq="1 INVITE", Call_ID="two")
    reader = StreamReader()
    found = reader.receive(b"\r\n\r\n" + one + two + b"\r\n\r\n" + one[:50])
    assert found == (parse(one), parse(two))
    assert reader.receive(one[50:-1]) == ()
    assert reader.receive(one[-1:] + b"\r\n") == (parse(one),)
    assert reader.end() is None


@pytest.mark.parametrize("length", [None, "-1", "five", "1, 2", "99999999999"])
def test_a_stream_without_a_length_cannot_be_cut(length: str | None) -> None:
    reader = StreamReader()
    message, end = reader.receive(says(CALL, Content_Length=length, body=SDP) + says(CALL))
    assert isinstance(message, Request)
    assert message.faults == (end,)
    assert reader.broken is end
    assert reader.receive(says(CALL)) == ()
    assert reader.end() is None


def test_a_stream_has_bounds() -> None:
    reader = StreamReader()
    (error,) = reader.receive(b"x" * (LARGEST_DATAGRAM_BYTES + 1))
    assert isinstance(error, PeerError)
    assert error.code == 513
    (error,) = StreamReader().receive(b"x" * (LARGEST_DATAGRAM_BYTES + 1) + b"\r\n\r\n")
    assert isinstance(error, PeerError)
    message, end = StreamReader(largest_body_bytes=10).receive(says(CALL, body=b"12345678901"))
    assert isinstance(message, Request)
    assert isinstance(end, PeerError)
    assert end.code == 513
    assert len(StreamReader(largest_body_bytes=10).receive(says(CALL, body=b"1234567890"))) == 1


def test_a_stream_that_ends_within_a_message_says_so() -> None:
    for part in (b"INV", says(CALL, body=SDP)[:-1]):
        reader = StreamReader()
        assert reader.receive(part) == ()
        error = reader.end()
        assert error is not None
        assert "ended" in error.problem
        assert reader.receive(says(CALL)) == ()


# The longest of each kind that a datagram can carry: with a reader whose time grows with the square this takes minutes.
FULL = 65_000
LONG = {
    "open quotes": 'To: "' + '\\"' * (FULL // 2),
    "many quotes": "Contact: " + '"a"' * (FULL // 3),
    "open brackets": "Contact: " + "<" * FULL,
    "commas": "Contact: " + "," * FULL,
    "contacts": "Contact: " + ",".join(["<sip:a@b>;q=1"] * (FULL // 14)),
    "semicolons": "To: <sip:a@b>" + ";" * FULL,
    "parameters": "To: <sip:a@b>" + "".join(f";p{n}" for n in range(FULL // 7)),
    "escapes": f"To: <sip:{'%41' * (FULL // 3)}@b>",
    "address parameters": "To: <sip:a@b" + "".join(f";p{n}" for n in range(FULL // 7)) + ">",
    "spaces": "To: " + " " * FULL + "x",
    "spaces before a fold": "To: " + " " * FULL + "\r\n x",
    "folds": "To: " + "\r\n " * (FULL // 3) + "x",
    "line ends": "To: " + "\r" * FULL,
    "vias": "Via: " + ",".join(["SIP/2.0/UDP a;branch=z9hG4bKa"] * (FULL // 31)),
    "slashes": "Via: " + "/ " * (FULL // 2),
    "colons": ":" * FULL,
    "words": "To: " + "a " * (FULL // 2) + "<sip:a@b>",
    "digits": "CSeq: " + "1" * FULL + " INVITE",
    "zeros": "Max-Forwards: " + "0" * FULL,
    "headers": "\r\n".join(["a:"] * (FULL // 4)),
    "media type": "Content-Type: " + "a" * FULL,
    "retry": "Retry-After: " + "1" * FULL,
}


@pytest.mark.parametrize("line", LONG.values(), ids=LONG.keys())
def test_the_longest_headers_of_each_kind(line: str) -> None:
    data = says(CALL, line, To=None if line.startswith("To") else "<sip:a@b>")[:LARGEST_DATAGRAM_BYTES]
    assert survive(data) is not None
    survive(f"INVITE {line} SIP/2.0\r\n\r\n".encode())
    reader = StreamReader()
    for at in range(0, len(data), 16):
        reader.receive(data[at : at + 16])


def judged(data: bytes, abilities: Abilities | None = None) -> list[int]:
    message = parse(data)
    assert isinstance(message, Request)
    return [fault.code for fault in validate(message) or faults_for_server(message, abilities or Abilities())]


def test_what_an_end_cannot_do() -> None:
    assert judged(says(CALL, body=SDP)) == []
    assert judged(says("REFER sip:a@b SIP/2.0")) == [405]
    assert judged(says("RING sip:a@b SIP/2.0")) == [501]
    assert judged(says("INVITE sips:a@b SIP/2.0")) == [416]
    assert judged(says("INVITE tel:1 SIP/2.0")) == [416]
    assert judged(says(CALL, "Require: 100rel")) == [420]
    assert judged(says(CALL, "Require: 100rel"), Abilities(extensions=("100rel",))) == []
    assert judged(says("ACK sip:a@b SIP/2.0", "Require: 100rel")) == []  # §8.2.2.3: never 420 to an ACK or a CANCEL
    assert judged(says("CANCEL sip:a@b SIP/2.0", "Require: 100rel")) == []
    assert judged(says(CALL, "Accept: application/*;q=0.5, text/plain")) == []
    assert judged(says(CALL, "Accept: */*")) == []
    assert judged(says(CALL, "Accept: ")) == [406]  # §20.1: an empty Accept takes nothing
    assert judged(says("OPTIONS sip:a@b SIP/2.0", "Accept: text/plain")) == []
    assert judged(says(CALL, "Content-Encoding: gzip", body=SDP)) == [415]
    assert judged(says(CALL, "Content-Encoding: identity", body=SDP)) == []
    assert judged(says(CALL, "Content-Encoding: gzip")) == []  # nothing is encoded
    assert judged(says(CALL, body=b"x", Content_Type=None)) == [415]
    assert judged(says(CALL, "Content-Disposition: render;handling=optional", body=b"x", Content_Type="a/b")) == []
    assert judged(says(CALL, "Content-Disposition: ;;", body=b"x", Content_Type="a/b")) == [415]
    assert judged(says(CALL, 'Require: a, "b')) == [400]


def test_what_the_refusal_tells() -> None:
    request = parse(says("REFER sip:a@b SIP/2.0", body=b"x"))
    assert isinstance(request, Request)
    not_served, unread = faults_for_server(request, Abilities(methods=("ACK", "BYE"), content_types=("a/b", "c/d")))
    assert not_served.headers == (("Allow", "ACK, BYE"),)
    assert unread.headers == (("Accept", "a/b, c/d"),)
    assert str(not_served) == "405 Method Not Allowed: a method that we do not serve (RFC 3261 §8.2.1)"


def test_contacts_outside_a_registration() -> None:
    assert judged(says(CALL, "Contact: *")) == [400]
    assert judged(says(CALL, "Contact: <sip:a@b>, <sip:c@d>")) == [400]  # §8.1.1.8: exactly one
    assert judged(says("OPTIONS sip:a@b SIP/2.0", "Contact: <sip:a@b>, <sip:c@d>")) == []


def test_parameters_made_by_hand_print_as_part_of_a_message() -> None:
    request = parse(says(CALL))
    via = request.headers.via
    changed = request.headers.having("Via", str(type(via)(transport="UDP", host="h", params=Parameters.of(rport=None))))
    assert changed.via.wants_rport


def test_a_response_code_has_bounds() -> None:
    # §7.2: 100 to 699; RFC 4475 §3.1.2.19
    codes = {
        code: len(validate(parse(says(f"SIP/2.0 {code} x", CSeq="1 INVITE")))) for code in ("099", "100", "699", "700")
    }
    assert codes == {"099": 1, "100": 0, "699": 0, "700": 1}


def test_another_version_is_judged_no_further() -> None:
    assert [fault.code for fault in validate(parse(b"OPTIONS sip:a SIP/3.0\r\nno colon\r\n\r\n"))] == [505]


def test_forgetting_all_bindings_needs_expires_0() -> None:
    # §10.2.2 and §10.3 step 6
    codes = []
    for expires in ("0", "1"):
        request = parse(says("REGISTER sip:door.example SIP/2.0", "Contact: *", f"Expires: {expires}"))
        assert isinstance(request, Request)
        assert validate(request) == ()
        codes.append([fault.code for fault in faults_for_registrar(request)])
    assert codes == [[], [400]]


def test_a_proxy_passes_on_what_it_can_route() -> None:
    codes = []
    for start in ("INVITE sip:a@b SIP/2.0", "INVITE sips:a@b SIP/2.0", "INVITE tel:1 SIP/2.0"):
        request = parse(says(start, "Require: 100rel"))
        assert isinstance(request, Request)
        codes.append([fault.code for fault in faults_for_proxy(request)])
    assert codes == [[], [], [416]]
