"""The torture messages of RFC 4475: our own of each kind always, the RFC's where they are at hand.

The RFC's own bytes are no part of this repository: they are read from a folder of `<name>.dat` files where there is
one, which RFC4475_MESSAGES names.
"""

import os
from pathlib import Path

import pytest

from doorwright.sip.errors import PeerError
from doorwright.sip.message import Message, Request, Response, StreamReader, parse, response_to
from doorwright.sip.uri import SipUri
from doorwright.sip.validate import (
    Abilities,
    faults_for_client,
    faults_for_proxy,
    faults_for_registrar,
    faults_for_server,
    validate,
)
from tests.unit.sip.torture import CASES, Case
from tests.unit.sip.torture_messages import MESSAGES

ROOT = Path(__file__).parents[3]
RFC_MESSAGES = Path(os.environ.get("RFC4475_MESSAGES", ROOT.parent / "shared" / "rfc4475"))
PAGE = ROOT / "docs" / "reference" / "sip-torture.md"
# These end a stream: their Content-Length is missing, wrong or double (RFC 4475 §3.1.2.3, §3.3.9, §3.4.1).
UNFRAMED = {"ncl", "mcl01", "inv2543"}


def _both() -> list[object]:
    own = [pytest.param(case, MESSAGES[case.name], id=case.name) for case in CASES]
    if not RFC_MESSAGES.is_dir():
        return list(own)
    theirs = [
        pytest.param(case, (RFC_MESSAGES / f"{case.name}.dat").read_bytes(), id=f"rfc-{case.name}") for case in CASES
    ]
    return [*own, *theirs]


both = pytest.mark.parametrize(("case", "data"), _both())


def faults(message: Message, role: str) -> tuple[PeerError, ...]:
    found = validate(message)
    if found:
        return found
    if isinstance(message, Response):
        assert role == "client"
        return faults_for_client(message)
    if role == "server":
        return faults_for_server(message, Abilities())
    return faults_for_registrar(message) if role == "registrar" else faults_for_proxy(message)


def outcome(case: Case, data: bytes) -> int | str:
    try:
        message = parse(data)
    except PeerError:
        return "dropped"  # nothing to answer to
    found = faults(message, case.role)
    if isinstance(message, Response) and found:
        return "dropped"
    return found[0].code if found else "accepted"


def test_every_message_of_the_rfc_has_a_case() -> None:
    # RFC 4475: 13 valid, 19 invalid, 1 of transactions, 15 of applications, 1 of backward compatibility
    counts = [
        sum(case.section.startswith(part) for case in CASES) for part in ("3.1.1.", "3.1.2.", "3.2", "3.3", "3.4")
    ]
    assert counts == [13, 19, 1, 15, 1]
    assert {case.name for case in CASES} == set(MESSAGES)


@both
def test_the_outcome_is_what_the_rfc_asks(case: Case, data: bytes) -> None:
    assert outcome(case, data) == case.outcome


@both
def test_a_refused_request_gets_a_response_that_can_be_sent(case: Case, data: bytes) -> None:
    if not isinstance(case.outcome, int):
        return
    request = parse(data)
    assert isinstance(request, Request)
    fault = faults(request, case.role)[0]
    answer = response_to(request, fault.code, to_tag="here", headers=fault.headers)
    again = parse(answer.to_bytes())
    assert isinstance(again, Response)
    assert again.code == case.outcome
    assert again.headers.all("Via") == request.headers.all("Via")


@both
def test_read_from_a_stream_byte_by_byte(case: Case, data: bytes) -> None:
    reader = StreamReader()
    found = [item for at in range(len(data)) for item in reader.receive(data[at : at + 1])]
    if case.name == "bigcode":
        assert [type(item) for item in found] == [PeerError]
        return
    whole = parse(data)
    if case.name in UNFRAMED:
        message, end = found
        assert isinstance(message, Request | Response)
        assert isinstance(end, PeerError)
        assert message.headers == whole.headers
        assert reader.broken is end
        assert reader.receive(data) == ()
    elif case.name == "clerr" or b"\r\n\r\n" not in data:
        assert found == []  # RFC 4475 §3.1.2.2: it can only wait for more
        assert reader.end() is not None
    else:
        assert found[0] == whole
        methods = [item.method for item in found if isinstance(item, Request)]
        assert methods[1:] == (["INVITE"] if case.name == "dblreq" else [])


@both
def test_read_from_a_stream_at_once(case: Case, data: bytes) -> None:
    slow, fast = StreamReader(), StreamReader()
    one_by_one = [item for at in range(len(data)) for item in slow.receive(data[at : at + 1])]
    assert [str(item) for item in fast.receive(data)] == [str(item) for item in one_by_one]
    assert str(slow.end()) == str(fast.end())


@both
def test_bytes_after_the_end_of_a_datagram_change_nothing(case: Case, data: bytes) -> None:
    if case.name == "bigcode":
        with pytest.raises(PeerError):
            parse(data + b"more")
        return
    message = parse(data)
    if case.name not in {*UNFRAMED, "clerr"} and b"\r\n\r\n" in data:
        assert parse(data + b"\r\n\r\nINVITE sip:more@door.example SIP/2.0\r\n\r\n") == message


@both
def test_what_is_valid_is_printed_as_it_was_read(case: Case, data: bytes) -> None:
    if case.outcome != "accepted":
        return
    message = parse(data)
    again = parse(message.to_bytes())
    assert again == message or case.name == "inv2543"
    assert again.headers.without("Content-Length") == message.headers.without("Content-Length")
    assert again.body == message.body
    assert again.to_bytes() == message.to_bytes()


def request_of(name: str) -> Request:
    message = parse(MESSAGES[name])
    assert isinstance(message, Request)
    return message


def test_odd_spacing_is_read_through() -> None:
    headers = request_of("wsinv").headers
    assert headers.to.tag == "77"
    assert headers.from_.display == 'Gate \\ "north"'
    assert headers.max_forwards == 70
    assert (headers.cseq.number, headers.cseq.method) == (12, "INVITE")
    assert [via.host for via in headers.vias] == ["192.0.2.40", "desk.door.example", "192.0.2.41"]
    assert [via.branch for via in headers.vias] == ["plain", "z9hG4bKa", "z9hG4bKb"]
    assert headers.get("Subject") == ""
    assert headers.get("unheard-of") == ";,;,;;  and more"
    assert headers.contacts[0].display == "A, B"
    assert headers.contacts[0].params.get("q") == "0.5"
    assert headers.contacts[0].params.get("new") == "one"


def test_every_legal_letter_is_read() -> None:
    request = request_of("intmeth")
    assert request.headers.to.display == "bell \x07 nul \x00 del \x7f"
    assert request.headers.from_.display == "one~` two'"
    assert request.headers.from_.tag == "_t~'+`*%!-."
    assert request.headers.from_.params.get("odd'~+*_!.-%") == "дверь"
    assert isinstance(request.uri, SipUri)
    assert (request.uri.user, request.uri.password) == ("9_the.bell~(maybe!)&isn't+it$/so?,/;;*", "&pass=1,$")


def test_escapes_are_kept_and_resolved_only_when_asked() -> None:
    uri = request_of("esc01").uri
    assert isinstance(uri, SipUri)
    assert (uri.user, uri.user_text, uri.host) == (
        "sips%3Agate%40door.example",
        "sips:gate@door.example",
        "desk.example",
    )
    users = [
        contact.uri.user_text for contact in request_of("escnull").headers.contacts if isinstance(contact.uri, SipUri)
    ]
    assert users == ["\0", "\0\0"]


def test_a_percent_sign_in_a_header_name_escapes_nothing() -> None:
    assert request_of("esc02").method == "INVI%54E"
    assert len(request_of("esc02").headers.contacts) == 1


def test_a_semicolon_in_the_user_part_is_no_parameter() -> None:
    uri = request_of("semiuri").uri
    assert isinstance(uri, SipUri)
    assert (uri.user, len(uri.params)) == ("205;floor=2%40north", 0)


def test_a_parameter_belongs_to_the_contact_without_brackets_and_to_the_address_within() -> None:
    outside, inside = (request_of(name).headers.contacts[0] for name in ("cparam01", "cparam02"))
    assert isinstance(outside.uri, SipUri)
    assert isinstance(inside.uri, SipUri)
    assert ("unheard-of" in outside.params, "unheard-of" in outside.uri.params) == (True, False)
    assert ("unheard-of" in inside.params, "unheard-of" in inside.uri.params) == (False, True)
    # RFC 4475 §3.3.12: what is sent back must still say so
    assert str(outside) == "<sip:+15555550100@192.0.2.41>;unheard-of"
    assert str(inside) == "<sip:+15555550100@192.0.2.41;unheard-of>"


def test_headers_in_a_bracketed_contact_are_kept() -> None:
    assert str(request_of("regescrt").headers.contacts[0]) == "<sip:205@192.0.2.41?Route=%3Csip:way.door.example%3E>"


def test_all_unknown_extensions_are_named() -> None:
    fault = faults_for_server(request_of("bext01"), Abilities())[0]
    assert fault.headers == (("Unsupported", "noneOfOurs"), ("Unsupported", "norThis"))
    assert faults_for_proxy(request_of("bext01"))[0].headers == (("Unsupported", "noneOfTheirs"),)


def test_an_end_takes_a_request_without_hops_left() -> None:
    assert faults_for_server(request_of("zeromf"), Abilities()) == ()


def test_times_out_of_range_count_as_an_hour() -> None:
    # RFC 4475 §3.1.2.4: as if they contained the default, 3600
    assert request_of("scalar02").headers.expires_s == 3600


def test_the_cookie_alone_names_no_transaction() -> None:
    assert not request_of("badbranch").headers.via.names_transaction
    assert request_of("zeromf").headers.via.names_transaction


def test_the_page_tells_the_same() -> None:
    page = PAGE.read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| `")]
    assert rows == [f"| `{case.name}` | {case.section} | {case.asks} | {case.does} |" for case in CASES]
