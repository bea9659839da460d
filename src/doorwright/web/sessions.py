"""Who is signed in: a random token in the browser, its hash here. Nothing outlives the server."""

import hashlib
import secrets
from dataclasses import dataclass, replace
from typing import Final

LASTS_S: Final = 12 * 3600.0
"""A day's work on site; then everybody signs in again."""
IDLE_S: Final = 4 * 3600.0
_MOST: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One signed-in browser."""

    name: str
    began_s: float
    seen_s: float


class Sessions:
    """The signed-in browsers. Time is given, in seconds of any steady clock."""

    def __init__(self) -> None:
        self._by_hash: dict[str, Session] = {}

    def begin(self, name: str, *, at_s: float) -> str:
        """Sign somebody in, and return the token for the browser to keep."""
        token = secrets.token_urlsafe(32)
        if len(self._by_hash) >= _MOST:
            del self._by_hash[min(self._by_hash, key=lambda key: self._by_hash[key].seen_s)]
        self._by_hash[_hash(token)] = Session(name=name, began_s=at_s, seen_s=at_s)
        return token

    def who(self, token: str, *, at_s: float) -> str | None:
        """Return the name behind a token, or None where it is unknown or too old."""
        key = _hash(token)
        session = self._by_hash.get(key)
        if session is None:
            return None
        if at_s - session.began_s >= LASTS_S or at_s - session.seen_s >= IDLE_S:
            del self._by_hash[key]
            return None
        self._by_hash[key] = replace(session, seen_s=at_s)
        return session.name

    def end(self, token: str) -> None:
        """Sign one browser out."""
        self._by_hash.pop(_hash(token), None)

    def end_all(self, name: str) -> None:
        """Sign somebody out everywhere: removed, or with a new password or role."""
        self._by_hash = {key: one for key, one in self._by_hash.items() if one.name != name}


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
