"""Headers: order, names in any case and compact, lists, the typed views (RFC 3261 §7.3, §20)."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.headers import _VIEWS, CSeq, Headers, Via
from doorwright.sip.names import COMPACT, canonical
from doorwright.sip.view import View


def test_compact_names() -> None:
    # RFC 3261 §20: the table of its compact forms
    table = {
        "m": "Contact", "e": "Content-Encoding", "l": "Content-Length", "c": "Content-Type", "f": "From",
        "i": "Call-ID", "s": "Subject", "k": "Supported", "t": "To", "v": "Via",
    }  # fmt: skip
    assert {short: canonical(short) for short in table} == table
    assert {short: canonical(short.upper()) for short in table} == table
    assert set(table) <= set(COMPACT)


def test_names_are_blind_to_case_and_unknown_ones_stay() -> None:
    assert canonical("cAlL-iD") == "Call-ID"
    assert canonical("www-authenticate") == "WWW-Authenticate"
    assert canonical("New-Fangled") == "New-Fangled"
    assert canonical("\u212a") == "\u212a"  # the Kelvin sign's small letter is k, which would be Supported
    headers = Headers([("New-Fangled", "1"), ("new-fangled", "2")])
    assert headers.all("NEW-FANGLED") == ("1", "2")
    assert "nEW-fangled" in headers
    assert 3 not in headers


def test_lines_and_commas_are_the_same_list() -> None:
    # RFC 3261 §7.3.1: its example of Route in three ways
    ways = [
        [("Route", "<sip:alice@atlanta.com>"), ("Subject", "Lunch"), ("Route", "<sip:bob@biloxi.com>"),
         ("Route", "<sip:carol@chicago.com>")],
        [("Route", "<sip:alice@atlanta.com>, <sip:bob@biloxi.com>"), ("Route", "<sip:carol@chicago.com>"),
         ("Subject", "Lunch")],
        [("Subject", "Lunch"), ("Route", "<sip:alice@atlanta.com>, <sip:bob@biloxi.com>,<sip:carol@chicago.com>")],
    ]  # fmt: skip
    read = [tuple(str(hop) for hop in Headers(way).routes) for way in ways]
    assert read == [("<sip:alice@atlanta.com>", "<sip:bob@biloxi.com>", "<sip:carol@chicago.com>")] * 3


def test_headers_are_changed_by_making_new_ones() -> None:
    headers = Headers([("v", "a"), ("t", "b"), ("Via", "c")])
    assert headers.pairs == (("Via", "a"), ("To", "b"), ("Via", "c"))
    assert headers.having("via", "x", "y").pairs == (("Via", "x"), ("Via", "y"), ("To", "b"))
    assert headers.having("From", "f").pairs[-1] == ("From", "f")
    assert headers.having("Via").pairs == (("To", "b"),)
    assert headers.adding("f", " f ").pairs[-1] == ("From", "f")
    assert headers.leading("v", "0").all("Via") == ("0", "a", "c")
    assert headers.without("v").pairs == (("To", "b"),)
    assert headers.get("Via") == "a"
    assert headers.get("From") is None
    assert len(headers) == 3
    assert dict(headers)["To"] == "b"


def test_headers_are_equal_by_what_they_say() -> None:
    assert Headers([("X-one", "1")]) == Headers([("x-ONE", "1")])
    assert hash(Headers([("X-one", "1")])) == hash(Headers([("x-ONE", "1")]))
    assert Headers([("A", "1"), ("B", "2")]) != Headers([("B", "2"), ("A", "1")])
    assert Headers() != ()


@pytest.mark.parametrize("pair", [("a b", "x"), ("", "x"), ("To", "x\r\nVia: forged"), ("To", "x\n"), ("To:", "x")])
def test_what_would_break_the_message_is_not_taken(pair: tuple[str, str]) -> None:
    with pytest.raises(LocalError):
        Headers([pair])


def test_a_header_does_not_show_its_text_in_logs() -> None:
    assert "secret" not in repr(Headers([("Authorization", 'Digest response="secret"')]))


def test_a_via_is_read_and_printed() -> None:
    # RFC 3261 §20.42, its examples
    text = "SIP/2.0/UDP 192.0.2.1:5060 ;received=192.0.2.207;branch=z9hG4bK77asjd"
    via = Via.read(text)
    assert (via.transport, via.host, via.port, via.received, via.branch) == (
        "UDP",
        "192.0.2.1",
        5060,
        "192.0.2.207",
        "z9hG4bK77asjd",
    )
    assert str(via) == text.replace(" ;", ";")
    spaced = Via.read("SIP / 2.0 / UDP first.example.com: 4000;ttl=16;maddr=224.2.0.1 ;branch=z9hG4bKa7c6a8dlze.1")
    assert (spaced.host, spaced.port, spaced.params.get("ttl")) == ("first.example.com", 4000, "16")
    assert spaced.names_transaction


def test_rport_is_asked_for_and_given() -> None:
    # RFC 3581 §4: its example
    asked = Via.read("SIP/2.0/UDP 10.1.1.1:4540;rport;branch=z9hG4bKkjshdyff")
    assert (asked.wants_rport, asked.rport) == (True, None)
    given = Via.read("SIP/2.0/UDP 10.1.1.1:4540;received=192.0.2.1;rport=9988;branch=z9hG4bKkjshdyff")
    assert (given.wants_rport, given.rport) == (True, 9988)
    assert not Via.read("SIP/2.0/UDP a").wants_rport
    with pytest.raises(PeerError):
        assert Via.read("SIP/2.0/UDP a;rport=99999").rport


@pytest.mark.parametrize(
    "text",
    [
        "",
        "SIP/2.0/UDP",
        "SIP/2.0 a",
        "HTTP/2.0/UDP a",
        "SIP/2.0/UDP a b",
        "SIP/2.0/UDP a;",
        "SIP/2.0/U@DP a",
        "SIP/2.0/UDP :1",
    ],
)
def test_what_is_no_via(text: str) -> None:
    with pytest.raises(PeerError):
        Via.read(text)


def test_the_first_via_is_read_alone() -> None:
    headers = Headers([("Via", "SIP/2.0/UDP a, nonsense"), ("Via", "nonsense")])
    assert headers.via.host == "a"
    with pytest.raises(PeerError):
        assert headers.vias
    for name in ("via", "vias"):
        with pytest.raises(PeerError, match="missing"):
            getattr(Headers(), name)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("cseq", "CSeq: 1"), ("cseq", "CSeq: INVITE 1"), ("cseq", "CSeq: 4294967296 INVITE"), ("cseq", "CSeq: 1 A B"),
        ("cseq", "CSeq: -1 INVITE"), ("cseq", "X: 1"), ("call_id", "Call-ID: "), ("call_id", "Call-ID: a b"),
        ("to", "X: 1"), ("to", "To: "), ("from_", "From: x"), ("max_forwards", "Max-Forwards: 256"),
        ("max_forwards", "Max-Forwards: "), ("content_length", "l: 0x10"), ("content_length", "l: 99999999999"),
        ("content_type", "c: text"), ("content_type", "c: a b/c"), ("contacts", "m: <sip:a@b>, *"), ("contacts", "m: "),
        ("routes", "Route: x"), ("record_routes", "Record-Route: <sip:a"),
    ],
)  # fmt: skip
def test_views_of_what_cannot_be_read(name: str, text: str) -> None:
    header, _, value = text.partition(": ")
    with pytest.raises(PeerError):
        getattr(Headers([(header, value)]), name)


def test_views() -> None:
    headers = Headers(
        [
            ("CSeq", "4294967295   OPTIONS"),
            ("Call-ID", "f81d4fae@host"),
            ("Content-Type", "Text / HTML ; charset=ISO-8859-4"),
            ("Content-Length", "349"),
            ("Max-Forwards", "0"),
            ("Expires", "5"),
            ("Retry-After", "18000;duration=3600"),
            ("Require", "100rel, , timer"),
            ("Record-Route", "<sip:p.example;lr>"),
        ]
    )
    assert headers.cseq == CSeq(4294967295, "OPTIONS")
    assert str(headers.cseq) == "4294967295 OPTIONS"
    assert headers.call_id == "f81d4fae@host"
    assert headers.content_type == "text/html"
    assert (headers.content_length, headers.max_forwards, headers.expires_s) == (349, 0, 5)
    assert headers.tokens("require") == ("100rel", "timer")
    assert [str(hop) for hop in headers.record_routes] == ["<sip:p.example;lr>"]
    assert headers.contacts == ()
    assert not headers.contact_star


# RFC 3261 §20.33, its examples; and RFC 4475 §3.1.2.5
@pytest.mark.parametrize(
    ("text", "seconds"),
    [("18000;duration=3600", 18000), ("120 (I'm in a meeting)", 120), ("", None), ("soon", None), ("9" * 5000, None)],
)
def test_retry_after(text: str, seconds: int | None) -> None:
    assert Headers([("Retry-After", text)]).retry_after_s == seconds


def test_what_is_not_there_is_none() -> None:
    empty = Headers()
    assert (empty.content_length, empty.max_forwards, empty.expires_s, empty.retry_after_s, empty.content_type) == (
        None,
    ) * 5


def test_a_star_is_the_only_contact() -> None:
    assert Headers([("Contact", "*")]).contact_star
    assert Headers([("Contact", "*")]).contacts == ()


def test_what_was_read_stays_true_when_headers_change() -> None:
    # every property is read before and after each change; what headers of the same text say when read anew is the truth
    views = (
        "vias",
        "via",
        "to",
        "from_",
        "call_id",
        "cseq",
        "contacts",
        "contact_star",
        "routes",
        "record_routes",
        "content_length",
        "max_forwards",
        "expires_s",
        "retry_after_s",
        "content_type",
    )
    begin = Headers(
        [
            ("Via", "SIP/2.0/UDP 192.0.2.1;branch=z9hG4bK1, SIP/2.0/UDP 192.0.2.2;branch=z9hG4bK2"),
            ("From", "<sip:1@192.0.2.1>;tag=1"),
            ("To", "<sip:2@192.0.2.2>"),
            ("Call-ID", "1"),
            ("CSeq", "1 INVITE"),
        ]
    )
    others = {
        "Via": "SIP/2.0/UDP 192.0.2.3;branch=z9hG4bK3",
        "From": "<sip:3@192.0.2.3>;tag=3",
        "To": "<sip:4@192.0.2.4>;tag=4",
        "Call-ID": "2",
        "CSeq": "2 ACK",
        "Contact": "*",
        "Route": "<sip:192.0.2.5;lr>",
        "Record-Route": "<sip:192.0.2.6;lr>",
        "Content-Length": "7",
        "Max-Forwards": "8",
        "Expires": "9",
        "Retry-After": "10",
        "Content-Type": "application/sdp",
    }

    def told(headers: Headers) -> list[object]:
        return [getattr(headers, view) for view in views]

    told(begin)
    for name, value in others.items():
        changed = begin.having(name, value)
        told(changed)
        for one in (
            changed,
            changed.without(name).adding(name.upper(), value),
            begin.without(name).leading(name, value),
        ):
            assert told(one) == told(Headers(one.pairs))
    marked = begin.having_top(Via.read("SIP/2.0/UDP 192.0.2.1;branch=z9hG4bK1;received=192.0.2.9"))
    assert told(marked) == told(Headers(marked.pairs))
    assert [via.host for via in marked.vias] == ["192.0.2.1", "192.0.2.2"]


def test_every_property_that_reads_a_header_is_known_to_change_with_it() -> None:
    read = {name for name, one in vars(Headers).items() if isinstance(one, View) and not name.startswith("_")}
    assert {view for views in _VIEWS.values() for view in views} == read
