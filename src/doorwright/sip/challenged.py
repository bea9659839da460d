"""The side that is challenged: remembers challenges, answers them on every request, knows when to give up."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from doorwright.sip.digest import (
    COUNT_MAX,
    HEADERS,
    Account,
    Challenge,
    answer,
    first_supported,
    parse_challenge,
    parse_credentials,
)
from doorwright.sip.errors import LocalError, PeerError

Read = TypeVar("Read")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    challenge: Challenge
    account: Account
    count: int = 0
    cnonce: str = ""


class Answerer:
    """Answers the challenges of servers and proxies with the accounts it was given. Chance is an argument."""

    def __init__(self, accounts: Iterable[Account], *, integrity: bool = False) -> None:
        """Take the accounts; `integrity` prefers auth-int where both qualities are offered."""
        self._accounts = tuple(accounts)
        self._integrity = integrity
        self._held: dict[tuple[str, str], _Held] = {}  # by answering header and realm

    def challenged(self, code: int, challenges: Sequence[str], *, sent: Sequence[str] = ()) -> bool:
        """Take a refusal; return whether the request should be tried again with new credentials.

        It should when every realm that challenges can be answered, and none of them has just refused what we have: the
        same credentials are not tried twice, but a stale nonce is no refusal of them (RFC 3261 §22.2). Nor is a new
        nonce for an old one that was counted beyond 1: it was good before, and a server that has restarted does not
        know to call it stale (common practice).

        Args:
            code: 401 or 407.
            challenges: values of the WWW-Authenticate or Proxy-Authenticate headers, in their order.
            sent: values of the Authorization and Proxy-Authorization headers that the refused request had.
        """
        if code not in HEADERS:
            raise LocalError(f"{code} is no challenge")
        header = HEADERS[code][1]
        tried = {
            credentials.realm
            for credentials in map(_readable(parse_credentials), sent)
            if credentials and (credentials.count or 1) == 1
        }
        read = [challenge for challenge in map(_readable(parse_challenge), challenges) if challenge]
        chosen = first_supported(read)
        hopeful = bool(chosen) and {each.realm for each in read} == {each.realm for each in chosen}
        for challenge in chosen:
            place = header, challenge.realm
            account = self._account(challenge.realm)
            if account is None or (challenge.realm in tried and not challenge.stale):
                self._held.pop(place, None)
                hopeful = False
            else:
                self._held[place] = _Held(challenge=challenge, account=account)
        return hopeful

    def headers(
        self, *, method: str, uri: str, body: bytes = b"", chance: Callable[[int], bytes]
    ) -> tuple[tuple[str, str], ...]:
        """Return the headers with credentials for the next request: one for each realm that has challenged so far.

        A nonce is used on, with its count, until the server calls it stale (RFC 7616 §3.3). ACK and CANCEL are not
        answered anew: an ACK carries the headers of its INVITE, a CANCEL cannot be challenged (RFC 3261 §22.1).

        Args:
            method: the request's method.
            uri: its Request-URI as written.
            body: its body.
            chance: gives so many random octets.
        """
        told = []
        for place, held in list(self._held.items()):
            if held.count >= COUNT_MAX:
                del self._held[place]
                continue
            now = replace(held, count=held.count + 1, cnonce=held.cnonce or chance(16).hex())
            self._held[place] = now
            credentials = answer(
                now.challenge,
                now.account,
                method=method,
                uri=uri,
                body=body,
                cnonce=now.cnonce,
                count=now.count,
                integrity=self._integrity,
            )
            told.append((place[0], str(credentials)))
        return tuple(told)

    def _account(self, realm: str) -> Account | None:
        own = [each for each in self._accounts if each.realm == realm]
        return next(iter(own or [each for each in self._accounts if each.realm is None]), None)


def _readable(parse: Callable[[str], Read | None]) -> Callable[[str], Read | None]:
    """Return the reader with None in place of a PeerError: one header that cannot be read does not spoil the others."""

    def read(text: str) -> Read | None:
        try:
            return parse(text)
        except PeerError:
            return None

    return read
