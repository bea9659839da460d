"""The side that challenges: nonces that prove themselves, their lifetime, and counts that are taken once."""

import hmac
from base64 import b64decode, b64encode
from binascii import Error as NotBase64
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from doorwright.sip.digest import (
    ALGORITHMS,
    QOPS,
    Account,
    Challenge,
    Credentials,
    hashed_username,
    normal,
    proves,
    same_algorithm,
)
from doorwright.sip.errors import LocalError

_WINDOW_COUNT = 64
"""Requests may overtake each other on the way: counts this far behind the highest are taken, each once."""
_TIME_OCTETS, _CHANCE_OCTETS, _SEAL_OCTETS = 8, 12, 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What credentials are worth: the account they prove, or None and why not.

    `stale` says that the password was right and only the nonce is not: the next challenge should say stale=true, and
    the user need not be asked again (RFC 7616 §3.3).
    """

    account: Account | None = None
    problem: str = ""
    stale: bool = False


class Accounts:
    """Accounts of one realm, found by name or by hashed name."""

    def __init__(self, accounts: Iterable[Account], *, realm: str) -> None:
        self._realm = realm
        self._by_name = {normal(each.username): each for each in accounts if each.realm in {None, realm}}
        self._by_hash: dict[str, dict[str, Account]] = {}

    def named_in(self, credentials: Credentials) -> Account | None:
        """Return the account that the credentials name."""
        if not credentials.userhash:
            return self._by_name.get(normal(credentials.username))
        algorithm = (credentials.algorithm or "MD5").upper().removesuffix("-SESS")
        if algorithm not in self._by_hash:
            self._by_hash[algorithm] = {
                hashed_username(username=username, realm=self._realm, algorithm=algorithm): account
                for username, account in self._by_name.items()
            }
        return self._by_hash[algorithm].get(credentials.username.lower())


@dataclass(slots=True)
class _Counts:
    highest: int
    seen: int  # bit n: the count `highest - n` was taken
    until_s: float

    def take(self, count: int) -> bool:
        """Take a count if it is new."""
        ahead = count - self.highest
        if ahead > 0:
            self.seen = 1 | (self.seen << ahead if ahead < _WINDOW_COUNT else 0) & (1 << _WINDOW_COUNT) - 1
            self.highest = count
            return True
        if -ahead >= _WINDOW_COUNT or self.seen >> -ahead & 1:
            return False
        self.seen |= 1 << -ahead
        return True


class NonceBook:
    """Gives challenges and judges what comes back.

    A nonce holds its moment, chance and a seal made with the book's key, so that the book knows its own without keeping
    them: asking for a thousand challenges costs no memory. Only what right credentials have used is kept, until it
    is over.
    """

    def __init__(
        self,
        *,
        realm: str,
        key: bytes,
        lifetime_s: float = 300.0,
        algorithms: tuple[str, ...] = ("SHA-256", "MD5"),
        qops: tuple[str, ...] = ("auth",),
        userhash: bool = False,
    ) -> None:
        """Open a book.

        Args:
            realm: the protection domain, shown to users (RFC 3261 §22.1).
            key: at least 16 random octets that nobody else knows.
            lifetime_s: how long a nonce is good.
            algorithms: to offer, the most wanted first (RFC 8760 §2.3).
            qops: qualities to offer. None gives the form of RFC 2069, in which a replay within the lifetime cannot be
                told from a request.
            userhash: whether to say that names may come hashed.
        """
        if len(key) < 16 or lifetime_s <= 0:
            raise LocalError("a nonce book needs a key of at least 16 octets, and a lifetime")
        if not algorithms or not set(algorithms) <= set(ALGORITHMS) or not set(qops) <= set(QOPS):
            raise LocalError("an algorithm or a quality on offer is not one that can be computed")
        if not qops and any(each.endswith("-sess") for each in algorithms):
            raise LocalError("a -sess algorithm needs a quality of protection")
        self.realm = realm
        self._key = key
        self._lifetime_s = lifetime_s
        self._algorithms = algorithms
        self._qops = qops
        self._userhash = userhash
        self._counts: dict[tuple[str, str], _Counts] = {}

    def challenges(self, *, now_s: float, chance: Callable[[int], bytes], stale: bool = False) -> tuple[Challenge, ...]:
        """Return the challenges for one response: one for each algorithm, the most wanted first, with own nonces."""
        return tuple(
            Challenge(
                realm=self.realm,
                nonce=self._nonce(now_s=now_s, algorithm=algorithm, chance=chance),
                algorithm=algorithm,
                qops=self._qops,
                stale=stale,
                userhash=self._userhash,
                charset="UTF-8" if self._userhash else None,
            )
            for algorithm in self._algorithms
        )

    def judge(
        self,
        credentials: Credentials,
        *,
        method: str,
        uri: str,
        body: bytes = b"",
        now_s: float,
        accounts: Accounts,
        same_uri: Callable[[str, str], bool] = str.__eq__,
    ) -> Judged:
        """Return what the credentials of a request are worth; those that are right are right once.

        Args:
            credentials: as read.
            method: the request's method.
            uri: its Request-URI.
            body: its body.
            now_s: the moment, on the clock of `challenges`.
            accounts: of this realm.
            same_uri: whether the digest's uri is the Request-URI; proxies on the way may have changed the latter's
                form (RFC 3261 §22.4).
        """
        problem = self._mismatch(credentials)
        if not problem and not same_uri(credentials.uri, uri):
            problem = "the credentials are for another URI"
        if problem:
            return Judged(problem=problem)
        account = accounts.named_in(credentials)
        # hashed for nobody as well, so that the time does not tell which names there are
        proven = proves(credentials, account or Account(username="", password=""), method=method, body=body)
        if account is None or not proven:
            return Judged(problem="the name or the password is wrong")
        sealed_s = self._sealed_s(credentials)
        if sealed_s is None or now_s - sealed_s >= self._lifetime_s:
            return Judged(problem="the nonce is over or not of this book", stale=True)
        if self._qops and not self._taken(credentials, account, until_s=sealed_s + self._lifetime_s, now_s=now_s):
            # the password is right, so whoever it is can answer a new nonce; a replay cannot
            return Judged(problem="the nonce count was used before", stale=True)
        return Judged(account=account)

    def _mismatch(self, credentials: Credentials) -> str:
        if credentials.realm != self.realm:
            return "the credentials are for another realm"
        if not any(same_algorithm(credentials.algorithm, each) for each in self._algorithms):
            return "the algorithm was not offered"
        if credentials.qop not in (self._qops or (None,)):
            return "the quality of protection was not offered"
        if credentials.qop is not None and not (credentials.cnonce and credentials.count):
            return "a quality of protection goes with a cnonce and a count from 1 on"
        return ""

    def _taken(self, credentials: Credentials, account: Account, *, until_s: float, now_s: float) -> bool:
        # oldest first; what is over behind one that is not waits for it
        while (oldest := next(iter(self._counts), None)) and self._counts[oldest].until_s <= now_s:
            del self._counts[oldest]
        # by name as well: nobody uses up the counts of another's nonce
        place, count = (credentials.nonce, account.username), credentials.count or 0
        if place not in self._counts:
            self._counts[place] = _Counts(highest=count, seen=1, until_s=until_s)
            return True
        return self._counts[place].take(count)

    def _nonce(self, *, now_s: float, algorithm: str, chance: Callable[[int], bytes]) -> str:
        told = round(now_s * 1000).to_bytes(_TIME_OCTETS, "big", signed=True) + chance(_CHANCE_OCTETS)
        return b64encode(told + self._seal(told, algorithm)).decode()

    def _seal(self, told: bytes, algorithm: str) -> bytes:
        sealed = told + algorithm.lower().encode() + b"\0" + self.realm.encode("utf-8", "surrogateescape")
        return hmac.digest(self._key, sealed, "sha256")[:_SEAL_OCTETS]

    def _sealed_s(self, credentials: Credentials) -> float | None:
        """Return when the nonce was given, None if not by this book for this algorithm."""
        try:
            octets = b64decode(credentials.nonce, validate=True)
        except (NotBase64, ValueError):
            return None
        told, seal = octets[:-_SEAL_OCTETS], octets[-_SEAL_OCTETS:]
        if len(told) != _TIME_OCTETS + _CHANCE_OCTETS:
            return None
        if not hmac.compare_digest(seal, self._seal(told, credentials.algorithm or "MD5")):
            return None
        return int.from_bytes(told[:_TIME_OCTETS], "big", signed=True) / 1000
