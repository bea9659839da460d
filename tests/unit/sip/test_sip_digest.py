"""Digests against the printed examples of RFC 2617, RFC 7616 and the SIP examples draft; reading and printing."""

import hashlib
from dataclasses import replace

import pytest

from doorwright.sip.digest import (
    ALGORITHMS,
    Account,
    Challenge,
    Credentials,
    answer,
    expected_response,
    first_supported,
    hashed_username,
    parse_challenge,
    parse_credentials,
    proves,
)
from doorwright.sip.errors import LocalError, PeerError


def person(username: str, word: str, realm: str | None = None) -> Account:
    return Account(username=username, password=word, realm=realm)


CIRCLE = {
    "username": "Mufasa",
    "realm": "http-auth@example.org",
    "nonce": "7ypf/xlj9XXwfDPEoM4URrv/xwf94BcCAzFZH4GiTo0v",
    "uri": "/dir/index.html",
    "cnonce": "f2/wE4q74E6zIJEtWaHKaf5wv/H5QzzpXusqGemxURZJ",
    "qop": "auth",
}
SECRET = {
    "username": "Jäsøn Doe",
    "realm": "api@example.org",
    "nonce": "5TsQWLVdgBdmrQ0XsxbDODV+57QdFR34I9HAbC/RVvkK",
    "uri": "/doe.json",
    "cnonce": "NTg6RKcb9boFIAS3KrFK9BGeh+iDa/sm6jUMp2wds69v",
    "qop": "auth",
}
TESTREALM = {
    "username": "Mufasa",
    "realm": "testrealm@host.com",
    "nonce": "dcd98b7102dd2f0e8b11d0f600bfb0c093",
    "uri": "/dir/index.html",
}
BOB = {
    "username": "bob",
    "realm": "biloxi.com",
    "nonce": "dcd98b7102dd2f0e8b11d0f600bfb0c093",
    "uri": "sip:bob@biloxi.com",
}
COUNTED = {"cnonce": "0a4f113b", "qop": "auth"}
# The body of draft-smith-sipping-auth-examples-01 §3.5: from memory, proven by the hash of it that the draft prints.
BODY = (
    b"v=0\r\no=bob 2890844526 2890844526 IN IP4 media.biloxi.com\r\ns=-\r\nc=IN IP4 media.biloxi.com\r\nt=0 0\r\n"
    b"m=audio 49170 RTP/AVP 0\r\na=rtpmap:0 PCMU/8000\r\nm=video 51372 RTP/AVP 31\r\na=rtpmap:31 H261/90000\r\n"
    b"m=video 53000 RTP/AVP 32\r\na=rtpmap:32 MPV/90000\r\n"
)

EXAMPLES = {
    # name: (what the credentials say, method, password, printed response); source
    "S-1 RFC 7616 §3.9.1 MD5": (CIRCLE, "GET", "Circle of Life", "8ca523f5e9506fed4657c9700eebdbec"),
    "S-2 RFC 7616 §3.9.1 SHA-256": (
        CIRCLE | {"algorithm": "SHA-256"},
        "GET",
        "Circle of Life",
        "753927fa0e85d155564e2e272a28d1802ca10daf4496794697cf8db5856cb6c1",
    ),
    "S-3 erratum 4897 on RFC 7616 §3.9.2": (
        SECRET | {"algorithm": "SHA-512-256"},
        "GET",
        "Secret, or not?",
        "3798d4131c277846293534c3edc11bd8a5e4cdcbff78b05db9d95eeb1cec68a5",
    ),
    "S-5 RFC 2617 §3.5": (TESTREALM | COUNTED, "GET", "Circle Of Life", "6629fae49393a05397450978507c4ef1"),
    "S-6 RFC 2069 form": (TESTREALM, "GET", "Circle Of Life", "670fd8c2df070c60b045671b8b24ff02"),
    "S-7 RFC 2069 example": (TESTREALM, "GET", "CircleOfLife", "1949323746fe6a43ef61f9606e7febea"),
    "S-8 draft-smith §3.1": (BOB, "INVITE", "zanzibar", "bf57e4e0d0bffc0fbaedce64d59add5e"),
    "draft-smith §3.3 (memory)": (BOB | COUNTED, "INVITE", "zanzibar", "89eb0059246c02b2f6ee02c7961d5ea3"),
    "S-10 draft-smith §3.4 MD5-sess": (
        BOB | COUNTED | {"algorithm": "MD5-sess"},
        "INVITE",
        "zanzibar",
        "e4e4ea61d186d07a92c9e1f6919902e9",
    ),
    "draft-smith §3.5 auth-int (memory)": (
        BOB | COUNTED | {"qop": "auth-int"},
        "INVITE",
        "zanzibar",
        "bdbeebb2da6adb6bca02599c2239e192",
    ),
    "S-12 draft-smith §3.6 auth-int, MD5-sess": (
        BOB | COUNTED | {"qop": "auth-int", "algorithm": "MD5-sess"},
        "INVITE",
        "zanzibar",
        "91984da2d8663716e91554859c22ca70",
    ),
}


@pytest.mark.parametrize("case", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_the_printed_examples(case: tuple[dict[str, str], str, str, str]) -> None:
    told, method, password, printed = case
    count = 1 if "qop" in told else None
    credentials = Credentials(response=printed, count=count, **told)  # type: ignore[arg-type]
    account = Account(username=told["username"], password=password)
    assert expected_response(credentials, account, method=method, body=BODY) == printed
    assert proves(credentials, account, method=method, body=BODY)
    assert not proves(credentials, replace(account, password=password + "x"), method=method, body=BODY)


def test_the_body_of_the_example_is_the_one_it_hashes() -> None:
    # draft-smith-sipping-auth-examples-01 §3.5: H(entity-body)
    assert hashlib.md5(BODY, usedforsecurity=False).hexdigest() == "c1ed018b8ec4a3b170c0921f5b564e48"


def test_another_body_breaks_auth_int_and_leaves_auth() -> None:
    told, method, password, printed = EXAMPLES["S-12 draft-smith §3.6 auth-int, MD5-sess"]
    whole = Credentials(response=printed, count=1, **told)  # type: ignore[arg-type]
    bob = Account(username="bob", password=password)
    assert not proves(whole, bob, method=method, body=BODY + b"\r\n")
    told, method, password, printed = EXAMPLES["S-10 draft-smith §3.4 MD5-sess"]
    assert proves(Credentials(response=printed, count=1, **told), bob, method=method, body=b"x")  # type: ignore[arg-type]


def test_the_print_of_rfc_7616_3_9_2_is_another_function() -> None:
    """S-4: the printed figures are SHA-512 cut to 256 bits; the named algorithm begins with other values."""
    name = "Jäsøn Doe:api@example.org".encode()
    assert hashlib.sha512(name).hexdigest()[:64] == "488869477bf257147b804c45308cd62ac4e25eb717b12b298c79e62dcea254ec"
    ours = hashed_username(username="Jäsøn Doe", realm="api@example.org", algorithm="SHA-512-256")
    assert ours == "793263caabb707a56211940d90411ea4a575adeccb7e360aeb624ed06ece9b0b"  # S-3


def test_composed_and_decomposed_names_are_one() -> None:
    # RFC 7616 §4: normalisation form C; "a" + U+0308 is "ä", and "ø" has no parts
    apart = hashed_username(username="Ja\u0308søn Doe", realm="api@example.org", algorithm="SHA-512-256")
    assert apart == "793263caabb707a56211940d90411ea4a575adeccb7e360aeb624ed06ece9b0b"


def test_a_challenge_is_read_whole() -> None:
    # RFC 7616 §3.9.2, the challenge as printed (from memory)
    text = (
        'Digest realm="api@example.org", qop="auth", algorithm=SHA-512-256, '
        'nonce="5TsQWLVdgBdmrQ0XsxbDODV+57QdFR34I9HAbC/RVvkK", '
        'opaque="HRPCssKJSGjCrkzDg8OhwpzCiGPChXYjwrI2QmXDnsOS", charset=UTF-8, userhash=true'
    )
    challenge = parse_challenge(text)
    assert challenge == Challenge(
        realm="api@example.org",
        nonce="5TsQWLVdgBdmrQ0XsxbDODV+57QdFR34I9HAbC/RVvkK",
        algorithm="SHA-512-256",
        qops=("auth",),
        opaque="HRPCssKJSGjCrkzDg8OhwpzCiGPChXYjwrI2QmXDnsOS",
        charset="UTF-8",
        userhash=True,
    )
    assert parse_challenge(str(challenge)) == challenge
    credentials = answer(
        challenge,
        person("Jäsøn Doe", "Secret, or not?"),
        method="GET",
        uri="/doe.json",
        cnonce="NTg6RKcb9boFIAS3KrFK9BGeh+iDa/sm6jUMp2wds69v",
    )
    assert credentials.response == "3798d4131c277846293534c3edc11bd8a5e4cdcbff78b05db9d95eeb1cec68a5"  # S-3
    assert credentials.username == "793263caabb707a56211940d90411ea4a575adeccb7e360aeb624ed06ece9b0b"  # S-3
    assert "userhash=true" in str(credentials)
    assert "Jäsøn" not in str(credentials)


def test_loose_forms_that_peers_send_are_read() -> None:
    challenge = parse_challenge(
        'DIGEST realm = "door" ,nonce="n\\"1", QOP="AUTH , auth-int",algorithm="md5",stale=TRUE,'
    )
    assert challenge == Challenge(realm="door", nonce='n"1', qops=("auth", "auth-int"), algorithm="md5", stale=True)
    assert challenge.supported


def test_other_schemes_are_nobody_s_fault() -> None:
    assert parse_challenge('Basic realm="door"') is None
    assert parse_credentials("Bearer abc") is None


@pytest.mark.parametrize(
    "text",
    [
        'Digest realm="door"',  # no nonce
        'Digest nonce="1"',
        'Digest realm="door", nonce="1", nonce="2"',
        'Digest realm="door", nonce="1',
        'Digest realm="door", nonce',
        'Digest realm="door", nonce="1", algorithm="a b"',
        "Digest",
    ],
)
def test_a_broken_challenge_is_the_peer_s_error(text: str) -> None:
    with pytest.raises(PeerError):
        parse_challenge(text)


@pytest.mark.parametrize(
    "change",
    [
        ("nc=00000001", "nc=1"),
        ("nc=00000001", "nc=0000000g"),
        ('username="bob"', 'name="bob"'),
        ('username="bob"', "username=\"bob\", username*=UTF-8''bob"),
        ('username="bob"', "username*=latin1''bob"),
        ('username="bob"', "username*=UTF-8''b%G1b"),
        ('username="bob"', "username*=UTF-8''bob, userhash=true"),
        ('uri="sip:bob@biloxi.com", ', ""),
    ],
)
def test_broken_credentials_are_answered_with_400(change: tuple[str, str]) -> None:
    good = (
        'Digest username="bob", realm="biloxi.com", nonce="n", uri="sip:bob@biloxi.com", response="0", '
        'qop=auth, nc=00000001, cnonce="c"'
    )
    assert parse_credentials(good) is not None
    assert change[0] in good
    with pytest.raises(PeerError) as raised:
        parse_credentials(good.replace(*change))
    assert raised.value.code == 400


def test_a_name_beyond_ascii_goes_out_in_both_forms() -> None:
    unit = person("Jäsøn Doe", "p")
    plain = Challenge(realm="door", nonce="n", qops=("auth",))
    told = answer(plain, unit, method="REGISTER", uri="sip:door", cnonce="c")
    assert 'username="Jäsøn Doe"' in str(told)  # RFC 3261 §25.1: UTF-8 may stand in quotes
    told = answer(replace(plain, charset="UTF-8"), unit, method="REGISTER", uri="sip:door", cnonce="c")
    # RFC 7616 §3.9.2's name in the form of RFC 8187
    assert "username*=UTF-8''J%C3%A4s%C3%B8n%20Doe" in str(told)
    assert parse_credentials(str(told)) == told
    assert proves(told, unit, method="REGISTER")


def test_the_first_challenge_that_can_be_answered_is_taken_for_each_realm() -> None:
    """RFC 8760 §2.4; the algorithm "X-9" is invented."""
    unknown = Challenge(realm="door", nonce="1", algorithm="X-9", qops=("auth",))
    strong = Challenge(realm="door", nonce="2", algorithm="SHA-256", qops=("auth",))
    weak = Challenge(realm="door", nonce="3", algorithm="MD5", qops=("auth",))
    other = Challenge(realm="tower", nonce="4", qops=("auth-conf",))  # no quality that we have
    assert first_supported([unknown, strong, weak, other]) == (strong,)
    assert first_supported([weak, strong]) == (weak,)  # the order is the server's, not ours
    assert not Challenge(realm="door", nonce="5", algorithm="MD5-sess").supported  # no cnonce without qop


def test_the_quality_is_auth_unless_integrity_is_asked_for_or_alone() -> None:
    unit = person("101", "p")
    both = Challenge(realm="door", nonce="n", qops=("auth-int", "auth"))
    told = {
        integrity: answer(both, unit, method="INVITE", uri="sip:1@d", cnonce="c", integrity=integrity).qop
        for integrity in (False, True)
    }
    assert told == {False: "auth", True: "auth-int"}
    assert answer(both, unit, method="INVITE", uri="sip:1@d", cnonce="c").qop == "auth"
    alone = replace(both, qops=("auth-int",))
    assert answer(alone, unit, method="INVITE", uri="sip:1@d", cnonce="c").qop == "auth-int"
    unsaid = answer(replace(both, qops=()), unit, method="INVITE", uri="sip:1@d", cnonce="c")
    assert (unsaid.qop, unsaid.cnonce, unsaid.count) == (None, None, None)


def test_what_cannot_be_answered_is_our_own_error() -> None:
    unit = person("101", "p")
    with pytest.raises(LocalError):
        answer(Challenge(realm="d", nonce="n", algorithm="X-9"), unit, method="BYE", uri="sip:d", cnonce="c")
    with pytest.raises(LocalError):
        answer(Challenge(realm="d", nonce="n", qops=("auth",)), unit, method="BYE", uri="sip:d", cnonce="c", count=0)
    with pytest.raises(LocalError):
        hashed_username(username="101", realm="d", algorithm="X-9")


def test_all_algorithms_of_rfc_8760_are_here() -> None:
    assert {"MD5", "SHA-256", "SHA-512-256"} <= set(ALGORITHMS)


def test_secrets_are_not_in_the_text_of_values() -> None:
    assert "zanzibar" not in repr(person("bob", "zanzibar"))
