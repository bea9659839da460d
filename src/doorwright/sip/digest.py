"""The digest scheme (RFC 7616, with RFC 8760 for SIP): challenges, credentials, and the hash that answers.

On SHA-512-256: this is the hash function of that name (FIPS 180-4 §5.3.6.2), which begins with values of its own. The
example of RFC 7616 §3.9.2 prints the first 256 bits of plain SHA-512 instead, which is another function: its response
"ae66e6…" and its user hash "488869…" cannot come out of the algorithm that the same section names. Reported erratum
4897 gives the right figures. Whoever copies the print cannot talk to whoever builds the algorithm; this is the latter.
"""

import hashlib
import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from hmac import compare_digest
from urllib.parse import quote as percent_encoded
from urllib.parse import unquote_to_bytes

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import QUOTABLE, TOKEN, is_token, quote, unescaped

_HASHES: dict[str, Callable[..., "hashlib._Hash"]] = {
    "SHA-512-256": partial(hashlib.new, "sha512_256"),
    "SHA-256": hashlib.sha256,
    "MD5": hashlib.md5,
}
if "sha512_256" not in hashlib.algorithms_available:  # it is not in every build of Python
    del _HASHES["SHA-512-256"]
ALGORITHMS: tuple[str, ...] = tuple(name + suffix for name in _HASHES for suffix in ("", "-sess"))
"""What can be computed here, the strongest first."""
_BY_SMALL_NAME = {name.lower(): name for name in ALGORITHMS}
QOPS = ("auth", "auth-int")
HEADERS = {401: ("WWW-Authenticate", "Authorization"), 407: ("Proxy-Authenticate", "Proxy-Authorization")}
"""Response code to the header that challenges and the header that answers (RFC 3261 §22.2, §22.3)."""
COUNT_MAX = 0xFFFFFFFF
_EXTENDED_SAFE = "!#$&+^`|"  # RFC 8187 §3.2.1 attr-char, beyond letters, digits and "-._~"
_CLAUSE = "RFC 7616 §3.4"
# One parameter and the comma after it; an empty element of a list says nothing (RFC 7230 §7), and some senders end with
# a comma. A value without quotes may be anything that cannot be mistaken for a separator. What does not fit is "wrong".
_BARE = r"""(?=[^\s,])[^\s",<]*+(?:<[^\s">]*+>[^\s",<]*+)*+"""
_PARAMETER = re.compile(
    rf"""\s*+(?:(?P<name>{TOKEN})\s*+=\s*+(?:"(?P<quoted>{QUOTABLE})"|(?P<bare>{_BARE}))\s*+)?(?:,|\Z)|(?P<wrong>.++)""",
    re.DOTALL,
)
_COUNT = re.compile(r"[0-9A-Fa-f]{8}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Who someone is to a realm, or to any (None: common practice where a unit has one account)."""

    username: str
    password: str = field(repr=False)
    realm: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Challenge:
    """A digest challenge (RFC 7616 §3.3); no `qops` is the form of RFC 2069. `others` are parameters of other names."""

    realm: str
    nonce: str
    algorithm: str = "MD5"
    qops: tuple[str, ...] = ()
    opaque: str | None = None
    domain: str | None = None
    stale: bool = False
    userhash: bool = False
    charset: str | None = None
    others: tuple[tuple[str, str], ...] = ()

    @property
    def supported(self) -> bool:
        """Whether we can answer it. A -sess algorithm needs a cnonce, which only comes with a qop."""
        algorithm = _canonical(self.algorithm)
        if algorithm not in ALGORITHMS:
            return False
        return any(each in QOPS for each in self.qops) or (not self.qops and not algorithm.endswith("-sess"))

    def __str__(self) -> str:
        told = [f"realm={quote(self.realm)}"]
        told += [f"domain={quote(self.domain)}"] if self.domain is not None else []
        told += [f"nonce={quote(self.nonce)}"]
        told += [f"opaque={quote(self.opaque)}"] if self.opaque is not None else []
        told += ["stale=true"] if self.stale else []
        told += [f"algorithm={self.algorithm}"]
        told += [f"qop={quote(','.join(self.qops))}"] if self.qops else []
        told += [f"charset={self.charset}"] if self.charset is not None else []
        told += ["userhash=true"] if self.userhash else []
        return "Digest " + ", ".join([*told, *_printed_others(self.others)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Credentials:
    """The answer to a challenge (RFC 7616 §3.4).

    `extended` says that the name goes out as `username*`, for names beyond ASCII. `count` is nc.
    """

    username: str
    realm: str
    nonce: str
    uri: str
    response: str = field(repr=False)
    algorithm: str | None = None
    qop: str | None = None
    cnonce: str | None = None
    count: int | None = None
    opaque: str | None = None
    userhash: bool = False
    extended: bool = False
    others: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        if self.extended:
            encoded = percent_encoded(self.username.encode("utf-8", "surrogateescape"), safe=_EXTENDED_SAFE)
            told = [f"username*=UTF-8''{encoded}"]
        else:
            told = [f"username={quote(self.username)}"]
        told += [f"realm={quote(self.realm)}", f"nonce={quote(self.nonce)}", f"uri={quote(self.uri)}"]
        told += [f"response={quote(self.response)}"]
        told += [f"algorithm={self.algorithm}"] if self.algorithm is not None else []
        told += [f"qop={self.qop}"] if self.qop is not None else []
        told += [f"nc={self.count:08x}"] if self.count is not None else []
        told += [f"cnonce={quote(self.cnonce)}"] if self.cnonce is not None else []
        told += [f"opaque={quote(self.opaque)}"] if self.opaque is not None else []
        told += ["userhash=true"] if self.userhash else []
        return "Digest " + ", ".join([*told, *_printed_others(self.others)])


def _printed_others(others: tuple[tuple[str, str], ...]) -> list[str]:
    return [f"{name}={value if is_token(value) else quote(value)}" for name, value in others]


def parse_challenge(text: str) -> Challenge | None:
    """Return the digest challenge in a header's value, None for a challenge of another scheme.

    Raises:
        PeerError: it is a digest challenge, and cannot be read.
    """
    told = _parameters(text)
    if told is None:
        return None
    qops = tuple(each for each in re.split(r"[\s,]+", told.pop("qop", "").lower()) if each)
    return Challenge(
        realm=_needed(told, "realm"),
        nonce=_needed(told, "nonce"),
        algorithm=_token(told, "algorithm") or "MD5",
        qops=qops,
        opaque=told.pop("opaque", None),
        domain=told.pop("domain", None),
        stale=told.pop("stale", "").lower() == "true",
        userhash=told.pop("userhash", "").lower() == "true",
        charset=_token(told, "charset"),
        others=tuple(told.items()),
    )


def parse_credentials(text: str) -> Credentials | None:
    """Return the digest credentials in a header's value, None for those of another scheme.

    Raises:
        PeerError: they are digest credentials, and cannot be read.
    """
    told = _parameters(text)
    if told is None:
        return None
    extended = "username*" in told
    if extended == ("username" in told):
        raise PeerError("credentials have one of username and username*", clause=_CLAUSE)
    username = _extended_value(told.pop("username*")) if extended else told.pop("username")
    userhash = told.pop("userhash", "").lower() == "true"
    if extended and userhash:
        raise PeerError("username* does not go with a hashed name", clause="RFC 7616 §3.4.4")
    count = told.pop("nc", None)
    if count is not None and not _COUNT.fullmatch(count):
        raise PeerError("nc is not eight hexadecimal digits", clause=_CLAUSE)
    qop = _token(told, "qop")
    return Credentials(
        username=username,
        realm=_needed(told, "realm"),
        nonce=_needed(told, "nonce"),
        uri=_needed(told, "uri"),
        response=_needed(told, "response"),
        algorithm=_token(told, "algorithm"),
        qop=qop.lower() if qop else None,
        cnonce=told.pop("cnonce", None),
        count=None if count is None else int(count, 16),
        opaque=told.pop("opaque", None),
        userhash=userhash,
        extended=extended,
        others=tuple(told.items()),
    )


def _parameters(text: str) -> dict[str, str] | None:
    """Return what the parameters say by small name, quotes and escapes undone; None for another scheme."""
    scheme, rest = (*text.split(None, 1), "", "")[:2]
    if scheme.lower() != "digest":
        return None
    told: dict[str, str] = {}
    for name, quoted, bare, wrong in _PARAMETER.findall(rest):
        if wrong:
            raise PeerError("a parameter of the digest is not name=value", clause="RFC 3261 §25.1")
        if name:
            small = name.lower()
            if small in told:
                raise PeerError(f"the digest says {small} twice", clause="RFC 7616 §3.3")
            # "unq(X)" of §3.4 is the value of the quoted string: what the escapes stand for, not the escapes
            told[small] = bare or unescaped(quoted)
    return told


def _needed(told: dict[str, str], name: str) -> str:
    if name not in told:
        raise PeerError(f"the digest lacks {name}", clause="RFC 7616 §3.3, §3.4")
    return told.pop(name)


def _token(told: dict[str, str], name: str) -> str | None:
    value = told.pop(name, None)  # some quote it (RFC 2617 readers do not mind)
    if value is not None and not is_token(value):
        raise PeerError(f"{name} is not a word", clause="RFC 7616 §3.3, §3.4")
    return value


def _extended_value(text: str) -> str:
    found = re.fullmatch(r"(?i:utf-8)'[A-Za-z0-9-]*'((?:[A-Za-z0-9!#$&+.^_`|~-]|%[0-9A-Fa-f]{2})*)", text)
    if found is None:
        raise PeerError("username* is not UTF-8''name", clause="RFC 8187 §3.2.1")
    return unquote_to_bytes(found[1]).decode("utf-8", "surrogateescape")


def _canonical(algorithm: str | None) -> str:
    """Return the name as written in ALGORITHMS; the case of a token does not matter (RFC 3261 §7.3.1)."""
    told = algorithm or "MD5"
    return _BY_SMALL_NAME.get(told.lower(), told)


def _hash(algorithm: str, *pieces: str) -> str:
    return _hash_of_octets(algorithm, ":".join(pieces).encode("utf-8", "surrogateescape"))


def _hash_of_octets(algorithm: str, octets: bytes) -> str:
    return _HASHES[algorithm.removesuffix("-sess")](octets, usedforsecurity=False).hexdigest()


def normal(text: str) -> str:
    """Return a name or a password in the form in which it is hashed (RFC 7616 §4: normalisation form C)."""
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def same_algorithm(one: str | None, other: str | None) -> bool:
    """Return whether two algorithms are one; nothing said is MD5 (RFC 7616 §3.3)."""
    return (one or "MD5").lower() == (other or "MD5").lower()


def hashed_username(*, username: str, realm: str, algorithm: str) -> str:
    """Return H(username ":" realm), the name that nobody on the way can read (RFC 7616 §3.4.4)."""
    return _hash(_supported(algorithm), normal(username), realm)


def expected_response(credentials: Credentials, account: Account, *, method: str, body: bytes = b"") -> str:
    """Return the response that the credentials should hold, in small hexadecimal digits (RFC 7616 §3.4.1 to §3.4.3).

    The name hashed is the account's own, for the credentials may hold its hash. The session of a -sess algorithm
    begins with the nonce and cnonce in the credentials themselves.

    Raises:
        LocalError: the algorithm is none of ALGORITHMS.
    """
    algorithm = _supported(credentials.algorithm)
    secret = _hash(algorithm, normal(account.username), credentials.realm, normal(account.password))  # A1
    if algorithm.endswith("-sess"):
        secret = _hash(algorithm, secret, credentials.nonce, credentials.cnonce or "")
    request = [method, credentials.uri]  # A2
    if credentials.qop == "auth-int":
        request.append(_hash_of_octets(algorithm, body))
    if credentials.qop is None:  # RFC 2069, kept by RFC 2617 §3.2.2.1 and RFC 3261 §22.4
        return _hash(algorithm, secret, credentials.nonce, _hash(algorithm, *request))
    count = f"{credentials.count or 0:08x}"
    return _hash(
        algorithm,
        secret,
        credentials.nonce,
        count,
        credentials.cnonce or "",
        credentials.qop,
        _hash(algorithm, *request),
    )


def _supported(algorithm: str | None) -> str:
    name = _canonical(algorithm)
    if name not in ALGORITHMS:
        raise LocalError(f"the algorithm {name!r} cannot be computed")
    return name


def proves(credentials: Credentials, account: Account, *, method: str, body: bytes = b"") -> bool:
    """Return whether the credentials were made with the password; the time taken tells nothing."""
    expected = expected_response(credentials, account, method=method, body=body)
    said = credentials.response.lower().encode("utf-8", "surrogateescape")
    return compare_digest(expected.encode(), said)


def first_supported(challenges: Iterable[Challenge]) -> tuple[Challenge, ...]:
    """Return each realm's challenge to answer: the first that we can (RFC 8760 §2.4), for the best stands first."""
    chosen: dict[str, Challenge] = {}
    for challenge in challenges:
        if challenge.supported:
            chosen.setdefault(challenge.realm, challenge)
    return tuple(chosen.values())


def answer(
    challenge: Challenge,
    account: Account,
    *,
    method: str,
    uri: str,
    body: bytes = b"",
    cnonce: str,
    count: int = 1,
    integrity: bool = False,
) -> Credentials:
    """Return the credentials that answer a challenge for one request.

    Args:
        challenge: one that is `supported`.
        account: whose name and password to use; its realm is not looked at.
        method: the request's method.
        uri: its Request-URI as written there.
        body: its body, hashed when the quality is auth-int.
        cnonce: our own nonce, from chance; the same one as long as the nonce is the same, so that both readings of
            when a -sess session begins give the same key.
        count: how many requests the nonce has answered, this one too.
        integrity: take auth-int where both qualities are offered.
    """
    if not challenge.supported or not 1 <= count <= COUNT_MAX:
        raise LocalError("the challenge cannot be answered, or its nonce is used up")
    offered = [each for each in QOPS if each in challenge.qops]
    qop = (offered[-1] if integrity else offered[0]) if offered else None
    hidden = challenge.userhash
    # RFC 3261 §25.1 lets UTF-8 stand in quotes; username* (RFC 7616 §3.4) goes to those who speak that RFC's charset.
    extended = not hidden and not account.username.isascii() and (challenge.charset or "").lower() == "utf-8"
    username = normal(account.username)
    if hidden:
        username = hashed_username(username=username, realm=challenge.realm, algorithm=challenge.algorithm)
    unsigned = Credentials(
        username=username,
        realm=challenge.realm,
        nonce=challenge.nonce,
        uri=uri,
        response="",
        algorithm=challenge.algorithm,
        qop=qop,
        cnonce=cnonce if qop else None,
        count=count if qop else None,
        opaque=challenge.opaque,
        userhash=hidden,
        extended=extended,
    )
    return replace(unsigned, response=expected_response(unsigned, account, method=method, body=body))
