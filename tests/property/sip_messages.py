"""Strategies for valid messages, addresses and headers of RFC 3261, with every letter that the grammar allows."""

import string

from hypothesis import strategies as st

from doorwright.sip.grammar import Parameters
from doorwright.sip.headers import CSeq, Headers, Via
from doorwright.sip.message import Message, Request, Response
from doorwright.sip.names import COMPACT
from doorwright.sip.uri import NameAddr, OpaqueUri, SipUri, Uri

_LETTERS = string.ascii_letters + string.digits
_MARKS = "-_.!~*'()"

tokens = st.text(_LETTERS + "-.!%*_+`'~", min_size=1, max_size=12)
# Anything that a header may hold: no line breaks, and no half of a pair of surrogates
texts = st.text(st.characters(exclude_characters="\r\n", exclude_categories=["Cs"]), max_size=20)


# Letters that no address holds stand for escapes while drawing: one text is drawn faster than a list of pieces.
_ESCAPES = str.maketrans({"<": "%41", ">": "%3b", '"': "%00", "^": "%fF", "`": "%40"})


def _spelled(letters: str, *, least: int = 0) -> st.SearchStrategy[str]:
    """Unescaped letters of this kind and escapes, in any order."""
    return st.text(letters + '<>"^`', min_size=least, max_size=8).map(lambda text: text.translate(_ESCAPES))


hosts = st.one_of(
    st.lists(st.text(_LETTERS, min_size=1, max_size=8), min_size=1, max_size=3).map(".".join),
    st.ip_addresses(v=4).map(str),
    st.ip_addresses(v=6).map("[{}]".format),
)
ports = st.none() | st.integers(1, 65535)


@st.composite
def parameters(draw: st.DrawFn) -> Parameters:
    """Parameters of a header: names once each, values bare, quoted or none."""
    made = Parameters()
    for name, value in draw(st.dictionaries(tokens.map(str.lower), st.none() | texts | tokens, max_size=3)).items():
        made = made.having(name, value)
    return made


@st.composite
def uri_parameters(draw: st.DrawFn) -> Parameters:
    """Parameters of an address: no quotes, escapes instead."""
    letters = _LETTERS + _MARKS + "[]/:&+$"
    names = _spelled(letters, least=1)
    pairs = draw(st.dictionaries(names.map(str.lower), st.none() | names, max_size=2))
    return Parameters(tuple(pairs.items()))


@st.composite
def sip_uris(draw: st.DrawFn) -> SipUri:
    """Addresses of the schemes sip and sips."""
    user = draw(st.none() | _spelled(_LETTERS + _MARKS + "&=+$,;?/", least=1))
    header = _LETTERS + _MARKS + "[]/?:+$"
    return SipUri(
        scheme=draw(st.sampled_from(("sip", "sips"))),
        user=user,
        password=None if user is None else draw(st.none() | _spelled(_LETTERS + _MARKS + "&=+$,")),
        host=draw(hosts),
        port=draw(ports),
        params=draw(uri_parameters()),
        headers=tuple(draw(st.lists(st.tuples(_spelled(header, least=1), _spelled(header)), max_size=2))),
    )


uris: st.SearchStrategy[Uri] = sip_uris() | st.builds(
    OpaqueUri, st.sampled_from(("tel", "http", "soap.beep")), _spelled(_LETTERS + _MARKS + ";/?:@&=+$,#[]", least=1)
)
name_addrs = st.builds(NameAddr, uris, texts, parameters())
vias = st.builds(
    Via, transport=st.sampled_from(("UDP", "TCP", "TLS", "PIGEON")), host=hosts, port=ports, params=parameters()
)
_listed = st.lists(name_addrs.map(str), min_size=1, max_size=2).map(", ".join)
_others = st.tuples(tokens.filter(lambda name: name.lower() not in COMPACT and "-" not in name), texts)
_contents = st.tuples(st.sampled_from(("Subject", "User-Agent", "Organization")), texts)
methods = st.sampled_from(("INVITE", "ACK", "BYE", "CANCEL", "REGISTER", "OPTIONS", "INFO"))


@st.composite
def headers(draw: st.DrawFn, method: str, body: bytes) -> Headers:
    """The headers of a valid message, in any order: what each must have, and some of what it may have."""
    must = [
        ("To", str(draw(name_addrs))),
        ("From", str(draw(name_addrs))),
        ("Call-ID", draw(tokens)),
        ("CSeq", str(CSeq(draw(st.integers(0, 2**32 - 1)), method))),
        ("Max-Forwards", str(draw(st.integers(0, 255)))),
        ("Content-Length", str(len(body))),
        ("Contact", str(draw(name_addrs))),
        *(("Via", str(via)) for via in draw(st.lists(vias, min_size=1, max_size=2))),
    ]
    may = draw(
        st.lists(st.tuples(st.sampled_from(("Route", "Record-Route")), _listed) | _others | _contents, max_size=3)
    )
    may = [(name, text) for name, text in may if name.lower() not in {"to", "from", "via", "cseq", "contact", "allow"}]
    first = draw(st.integers(0, len(must)))
    return Headers([*must[first:], *may, *must[:first]])


@st.composite
def requests(draw: st.DrawFn) -> Request:
    """Valid requests, with bodies of any bytes."""
    method, body = draw(methods), draw(st.binary(max_size=60))
    uri = draw(uris)
    target = str(SipUri(user=uri.user, host=uri.host, params=uri.params) if isinstance(uri, SipUri) else uri)
    return Request(method, target, draw(headers(method, body)), body)


@st.composite
def responses(draw: st.DrawFn) -> Response:
    """Valid responses, with any reason."""
    body = draw(st.binary(max_size=60))
    return Response(draw(st.integers(100, 699)), draw(texts), draw(headers(draw(methods), body)), body)


messages: st.SearchStrategy[Message] = requests() | responses()
