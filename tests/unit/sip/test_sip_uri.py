"""Addresses (RFC 3261 §19.1, §20.10). The comparisons are the RFC's own examples of §19.1.4."""

import pytest

from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import Parameters
from doorwright.sip.uri import NameAddr, OpaqueUri, SipUri, equivalent, parse_name_addr, parse_uri, read_host_port

# RFC 3261 §19.1.3, its examples
EXAMPLES = (
    "sip:alice@atlanta.com",
    "sip:alice:secretword@atlanta.com;transport=tcp",
    "sips:alice@atlanta.com?subject=project%20x&priority=urgent",
    "sip:+1-212-555-1212:1234@gateway.com;user=phone",
    "sips:1212@gateway.com",
    "sip:alice@192.0.2.4",
    "sip:atlanta.com;method=REGISTER?to=alice%40atlanta.com",
    "sip:alice;day=tuesday@atlanta.com",
)


@pytest.mark.parametrize("text", EXAMPLES)
def test_the_examples_are_printed_as_they_were_read(text: str) -> None:
    assert str(parse_uri(text)) == text


def test_the_parts_of_an_address() -> None:
    uri = parse_uri("sip:+1-212-555-1212:1234@gateway.com:5070;user=phone;lr?a=b&c=")
    assert uri == SipUri(
        user="+1-212-555-1212",
        password="1234",  # noqa: S106  (the RFC's example)
        host="gateway.com",
        port=5070,
        params=Parameters((("user", "phone"), ("lr", None))),
        headers=(("a", "b"), ("c", "")),
    )
    assert parse_uri("SIPS:door.example") == SipUri(scheme="sips", host="door.example")
    six = parse_uri("sip:205@[2001:db8::10]:5070")
    assert isinstance(six, SipUri)
    assert (six.host, six.port, six.host_port) == ("[2001:db8::10]", 5070, "[2001:db8::10]:5070")


def test_other_schemes_are_kept_as_they_are() -> None:
    assert parse_uri("tel:+1-201-555-0123;ext=7") == OpaqueUri("tel", "+1-201-555-0123;ext=7")
    assert str(parse_uri("soap.beep://192.0.2.103:3002")) == "soap.beep://192.0.2.103:3002"


@pytest.mark.parametrize(
    "text",
    [
        "", "door.example", ":x", "1sip:x", "sip:", "sip:@door.example", "sip:a b@door.example", "sip: a@door.example",
        "sip:a@door.example ", "sip:a@door.example; lr", "<sip:a@door.example>", "sip:a@door.example:", "sip:a@b:0",
        "sip:a@b:65536", "sip:a@b:-1", "sip:b;", "sip:a@b;;lr", "sip:a@b;x=", "sip:a@b;lr;LR", "sip:a@b?", "sip:a@b?x",
        "sip:a@b?=x", "sip:a@b?x=y z", "sip:%zz@b", "sip:a%4@b", "sip:a@b@c", "sip:a\x00@b", "sip:é@b", "sip:a@bé",
        "sip:a@[::1", "sip:a@[::g]", "sip:a@[::1]x", "sip:a@[fe80::1%25eth0]", "sip:a@[192.0.2.1]", "tel:", "tel:a b",
        "tel:a>b", "sip:a:b:c@d", 'sip:"a"@b', "sip:a\\@b",
    ],
)  # fmt: skip
def test_addresses_that_are_none(text: str) -> None:
    with pytest.raises(PeerError):
        parse_uri(text)


# RFC 3261 §19.1.4, "the URIs within each of the following sets are equivalent"
EQUAL = [
    ("sip:%61lice@atlanta.com;transport=TCP", "sip:alice@AtLanTa.CoM;Transport=tcp"),
    ("sip:carol@chicago.com", "sip:carol@chicago.com;newparam=5"),
    ("sip:carol@chicago.com", "sip:carol@chicago.com;security=on"),
    (
        "sip:biloxi.com;transport=tcp;method=REGISTER?to=sip:bob%40biloxi.com",
        "sip:biloxi.com;method=REGISTER;transport=tcp?to=sip:bob%40biloxi.com",
    ),
    (
        "sip:alice@atlanta.com?subject=project%20x&priority=urgent",
        "sip:alice@atlanta.com?priority=urgent&subject=project%20x",
    ),
]
# "the URIs within each of the following sets are not equivalent"
DIFFERENT = [
    ("SIP:ALICE@AtLanTa.CoM;Transport=udp", "sip:alice@AtLanTa.CoM;Transport=UDP"),
    ("sip:bob@biloxi.com", "sip:bob@biloxi.com:5060"),
    ("sip:bob@biloxi.com", "sip:bob@biloxi.com;transport=udp"),
    ("sip:bob@biloxi.com", "sip:bob@biloxi.com:6000;transport=tcp"),
    ("sip:carol@chicago.com", "sip:carol@chicago.com?Subject=next%20meeting"),
    ("sip:bob@phone21.boxesbybob.com", "sip:bob@192.0.2.4"),
    # its third remark: equivalence is not transitive
    ("sip:carol@chicago.com;security=on", "sip:carol@chicago.com;security=off"),
    # its rules: user, ttl, method and maddr are never equal to their absence; nor is a password or a user
    ("sip:a@door.example", "sip:a@door.example;user=ip"),
    ("sip:a@door.example", "sip:a@door.example;maddr=192.0.2.1"),
    ("sip:a@door.example", "sip:a@door.example;ttl=1"),
    ("sip:a@door.example", "sip:a@door.example;method=INVITE"),
    ("sip:a@door.example", "sip:a:@door.example"),
    ("sip:a@door.example", "sip:door.example"),
    ("sip:a@door.example", "sips:a@door.example"),
    # a reserved letter differs from its escape
    ("sip:a;b@door.example", "sip:a%3Bb@door.example"),
    ("sip:a@door.example", "tel:1"),
]


@pytest.mark.parametrize(("one", "other"), EQUAL)
def test_equivalent_addresses(one: str, other: str) -> None:
    assert equivalent(parse_uri(one), parse_uri(other))
    assert equivalent(parse_uri(other), parse_uri(one))


@pytest.mark.parametrize(("one", "other"), DIFFERENT)
def test_addresses_that_are_not_equivalent(one: str, other: str) -> None:
    assert not equivalent(parse_uri(one), parse_uri(other))
    assert not equivalent(parse_uri(other), parse_uri(one))


def test_escapes_in_either_case_are_the_same() -> None:
    assert equivalent(parse_uri("sip:a%3bb@door.example"), parse_uri("sip:a%3Bb@door.example"))


def test_a_name_before_the_address() -> None:
    # RFC 3261 §20.10 and §20.39, its examples
    found = parse_name_addr('"Mr. Watson" <sip:watson@worcester.bell-telephone.com> ;q=0.7; expires=3600')
    assert found.display == "Mr. Watson"
    assert (found.params.get("q"), found.params.get("expires")) == ("0.7", "3600")
    assert parse_name_addr("The Operator <sip:operator@cs.columbia.edu>;tag=287447").tag == "287447"
    assert parse_name_addr("sip:+12125551212@server.phone2net.com").tag is None


def test_parameters_without_brackets_are_the_headers() -> None:
    outside = parse_name_addr("sip:205@door.example;lr;tag=1")
    assert outside == NameAddr(SipUri(user="205", host="door.example"), "", Parameters.of(lr=None, tag="1"))
    assert str(outside) == "<sip:205@door.example>;lr;tag=1"


def test_a_less_than_sign_in_a_parameter_is_no_bracket() -> None:
    assert parse_name_addr('sip:205@door.example;x="a<b>"').params.get("x") == "a<b>"


@pytest.mark.parametrize(
    "text",
    [
        "", "205", '"Gate <sip:a@b>', '"Gate" sip:a@b', '"Gate"', "Gate, north <sip:a@b>", "<sip:a@b", "< sip:a@b>",
        "<sip:a@b >", "<sip:a@b> x", "sip:a@b?c=d", "sip:a,b@c", "<sip:a@b>;", "<sip:a@b>;;", "<>", "Gåte <sip:a@b>",
        "a\x0bb <sip:a@b>", '"\\" <sip:a@b>',
    ],
)  # fmt: skip
def test_named_addresses_that_are_none(text: str) -> None:
    with pytest.raises(PeerError):
        parse_name_addr(text)


def test_host_and_port_of_a_via_may_have_spaces_around_the_colon() -> None:
    # RFC 3261 §25.1: sent-by = host [ COLON port ], and COLON = SWS ":" SWS
    assert read_host_port("first.example.com: 4000") == ("first.example.com", 4000)
    assert read_host_port("[2001:db8::9:255] : 5060") == ("[2001:db8::9:255]", 5060)
