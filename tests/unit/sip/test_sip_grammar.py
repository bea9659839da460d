"""Tokens, quoted strings, lists, parameters and numbers (RFC 3261 §7.3.1 and §25.1)."""

import pytest

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import Parameters, bounded, is_token, quote, split_list, unquote


@pytest.mark.parametrize("text", ["INVITE", "-.!%*_+`'~", "z9hG4bK776"])
def test_tokens(text: str) -> None:
    assert is_token(text)


@pytest.mark.parametrize("text", ["", "a b", "a\n", "a:b", "é", "a@b", "٣"])
def test_what_is_no_token(text: str) -> None:
    assert not is_token(text)


def test_commas_split_outside_quotes_and_brackets_only() -> None:
    # RFC 3261 §7.3.1 and §20.10: a comma within quotes or within <> separates nothing
    text = ' "Gate, \\"north\\", 2" <sip:a,b@door.example>;x="1,2" , sip:c@door.example ,,"<" <sip:d@e>'
    assert split_list(text) == (
        '"Gate, \\"north\\", 2" <sip:a,b@door.example>;x="1,2"',
        "sip:c@door.example",
        "",
        '"<" <sip:d@e>',
    )
    assert split_list("a;b", ";") == ("a", "b")
    assert split_list("<a;b>;c", ";") == ("<a;b>", "c")
    assert split_list("") == ("",)


@pytest.mark.parametrize("text", ['a,"b', 'a,"b\\"', "a,<b", '"\\",', '"a",<"b"'])
def test_what_is_never_closed_is_refused(text: str) -> None:
    with pytest.raises(PeerError, match="never closed"):
        split_list(text)


def test_quoting_goes_there_and_back() -> None:
    assert quote('a "b" \\ c') == r'"a \"b\" \\ c"'
    assert unquote(r'"a \"b\" \\ \c"') == 'a "b" \\ c'
    assert unquote("plain") == "plain"
    assert unquote('"open\\"') == '"open\\"'  # no whole quoted string
    with pytest.raises(LocalError):
        quote("a\r\nVia: forged")


def test_numbers_within_bounds() -> None:
    assert bounded("0068", what="it", high=255) == 68
    assert bounded("0", what="it", high=255) == 0
    assert bounded("000", what="it", high=255) == 0
    assert bounded("255", what="it", high=255) == 255


@pytest.mark.parametrize("text", ["", "-1", "+1", "1_0", " 1", "1.0", "٣", "five", "256", "9" * 60_000])
def test_numbers_that_are_none_or_out_of_bounds(text: str) -> None:
    with pytest.raises(PeerError, match="it is not"):
        bounded(text, what="it", high=255)
    with pytest.raises(PeerError):
        bounded("0", what="it", low=1, high=255)


def test_parameters_keep_what_was_written() -> None:
    params = Parameters.read(';Tag = a1 ; lr;x="a;\\"b";host=[2001:db8::1]')
    assert str(params) == ';Tag=a1;lr;x="a;\\"b";host=[2001:db8::1]'
    assert (params.get("tag"), params.get("LR"), params.get("x"), params.get("no")) == ("a1", "", 'a;"b', None)
    assert "lr" in params
    assert "no" not in params
    assert 7 not in params
    assert len(params) == 4
    assert Parameters.read("") == Parameters()


@pytest.mark.parametrize("text", [";", ";;", "a;;b", "a=", "=b", "a b", "a=b c", 'a="b', "a;A", 'a="b"c', "a=b<"])
def test_parameters_that_are_none(text: str) -> None:
    with pytest.raises(PeerError):
        Parameters.read(text)


def test_parameters_are_changed_by_making_new_ones() -> None:
    params = Parameters.of(branch="z9hG4bKa", rport=None)
    assert str(params) == ";branch=z9hG4bKa;rport"
    assert str(params.having("RPORT", "5062")) == ";branch=z9hG4bKa;rport=5062"
    assert str(params.having("received", "192.0.2.9")) == ";branch=z9hG4bKa;rport;received=192.0.2.9"
    assert str(params.without("Branch")) == ";rport"
    assert str(Parameters.of(text='a "b"')) == ';text="a \\"b\\""'
    assert str(Parameters.of(text="")) == ';text=""'
    assert str(params) == ";branch=z9hG4bKa;rport"
    with pytest.raises(LocalError):
        params.having("a b", "c")
    with pytest.raises(LocalError):
        params.having("a", "c\r\nd")
