"""The names of headers: known in any case and in the compact form, written as RFC 3261 writes them (§7.3.3, §20)."""

from doorwright.sip.grammar import SPACE, is_token

# §7.3.3 and the registry of header fields: compact form -> name. The letters of other RFCs are known so that a message
# that uses them is read rightly; we act on those of RFC 3261 only.
COMPACT = {
    "a": "Accept-Contact",
    "b": "Referred-By",
    "c": "Content-Type",
    "d": "Request-Disposition",
    "e": "Content-Encoding",
    "f": "From",
    "i": "Call-ID",
    "j": "Reject-Contact",
    "k": "Supported",
    "l": "Content-Length",
    "m": "Contact",
    "n": "Identity-Info",
    "o": "Event",
    "r": "Refer-To",
    "s": "Subject",
    "t": "To",
    "u": "Allow-Events",
    "v": "Via",
    "x": "Session-Expires",
    "y": "Identity",
}
_NAMES = (
    "Accept",
    "Accept-Encoding",
    "Accept-Language",
    "Alert-Info",
    "Allow",
    "Authentication-Info",
    "Authorization",
    "Call-ID",
    "Call-Info",
    "Contact",
    "Content-Disposition",
    "Content-Encoding",
    "Content-Language",
    "Content-Length",
    "Content-Type",
    "CSeq",
    "Date",
    "Error-Info",
    "Expires",
    "From",
    "In-Reply-To",
    "Max-Forwards",
    "Min-Expires",
    "MIME-Version",
    "Organization",
    "Priority",
    "Proxy-Authenticate",
    "Proxy-Authorization",
    "Proxy-Require",
    "Record-Route",
    "Reply-To",
    "Require",
    "Retry-After",
    "Route",
    "Server",
    "Subject",
    "Supported",
    "Timestamp",
    "To",
    "Unsupported",
    "User-Agent",
    "Via",
    "Warning",
    "WWW-Authenticate",
)  # §20
SPELLINGS: dict[str, str] = {}
"""The usual ways of writing a known name, each with that of RFC 3261."""
for _name in (*_NAMES, *COMPACT.values()):
    SPELLINGS |= {_name: _name, _name.lower(): _name, _name.upper(): _name}
for _letter, _name in COMPACT.items():
    SPELLINGS |= {_letter: _name, _letter.upper(): _name}
FOLDED = {spelling: name.lower() for spelling, name in SPELLINGS.items()}
"""The same ways, each with what it is compared by."""


def known_name(text: str) -> str | None:
    """The name on a header line as RFC 3261 writes it, an unknown one as it came; None if it is no name."""
    known = SPELLINGS.get(text)
    if known is None:
        name = text.rstrip(SPACE)
        known = canonical(name) if is_token(name) else None
    return known


def canonical(name: str) -> str:
    """The name as RFC 3261 writes it, from any case or the compact form; an unknown name stays as it is."""
    known = SPELLINGS.get(name)
    if known is None and name.isascii():  # some letters of other scripts have an ASCII letter as their small letter
        known = SPELLINGS.get(name.lower())
    return known or name


def folded(name: str) -> str:
    """What a name is compared by: two names with one meaning give one text, in small letters."""
    return FOLDED[name] if name in FOLDED else canonical(name).lower()
