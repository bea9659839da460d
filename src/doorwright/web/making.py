"""What is long in the making: made in the background once for each revision of a book, and kept while that stands.

Results of work that somebody began (a plan, a day played) are kept here too, for a while, so that they have a page.
"""

import secrets
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final, TypeVar, cast

T = TypeVar("T")
Tell = Callable[[str], None]
"""Told the present step; it stops the making where nobody wants it any more."""

WAIT_S: Final = 1.0
"""A page waits so long for what is nearly made, before it says that it is still being made."""
_AT_ONCE: Final = 2
"""Two, so that one long making does not keep a short one waiting."""
_MADE_MOST: Final = 80
"""So much that was made is kept; what was asked for first, and is done, goes first."""
_RESULTS_MOST: Final = 40


class _Outdated(Exception):  # noqa: N818  (nobody's error: a newer revision is wanted by now)
    """Raised inside a making that nobody waits for any more."""


@dataclass(frozen=True, slots=True)
class BeingMade:
    """It is not there yet: the step that the making is at."""

    step: str


@dataclass(slots=True)
class _Making:
    revision: int
    step: str
    future: Future[Any]


class Makings:
    """What was made of one book. Threads may share it; two things are made at once, in the order of asking."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(_AT_ONCE, thread_name_prefix="make")
        self._lock = threading.Lock()
        self._made: dict[str, _Making] = {}
        self._held: dict[str, tuple[int, Any]] = {}
        self._results: dict[str, Any] = {}
        self._closed = False

    def of(self, what: str, revision: int, make: Callable[[Tell], T], *, wait_s: float = WAIT_S) -> T | BeingMade:
        """Return what was made of a revision, or how far it is; the making is begun where nobody has yet.

        What ``make`` raises is raised here, and forgotten, so that the next to ask tries again.
        """
        with self._lock:
            making = self._made.get(what)
            if making is None or making.revision != revision:
                if making is not None:
                    making.future.cancel()
                making = self._made[what] = _Making(revision, "waiting for its turn", Future())
                making.future = self._pool.submit(self._make, what, making, make)
                done = [one for one, other in self._made.items() if other.future.done()]
                for old in done[: max(0, len(self._made) - _MADE_MOST)]:
                    del self._made[old]
        try:
            return cast("T", making.future.result(timeout=wait_s))
        except TimeoutError:
            if making.future.done():
                raise
            return BeingMade(making.step)
        except (_Outdated, CancelledError):
            return BeingMade("waiting for its turn")
        except Exception:
            with self._lock:
                if self._made.get(what) is making:
                    del self._made[what]
            raise

    def _make(self, what: str, making: _Making, make: Callable[[Tell], T]) -> T:
        def tell(step: str) -> None:
            making.step = step
            if self._closed or self._made.get(what) is not making:
                raise _Outdated

        tell("beginning")
        return make(tell)

    def held(self, what: str, revision: int, make: Callable[[], T]) -> T:
        """Return one and the same thing for a revision; ``make`` takes no time."""
        with self._lock:
            kept = self._held.get(what)
            if kept is None or kept[0] != revision:
                kept = self._held[what] = (revision, make())
            return cast("T", kept[1])

    def keep(self, result: object) -> str:
        """Keep a result of somebody's work and return its key; the oldest of too many is forgotten."""
        key = secrets.token_urlsafe(9)
        with self._lock:
            self._results[key] = result
            while len(self._results) > _RESULTS_MOST:
                del self._results[next(iter(self._results))]
        return key

    def result(self, key: str, kind: type[T]) -> T:
        """Return a kept result.

        Raises:
            LookupError: nothing of this kind is kept under the key, or no longer.
        """
        found = self._results.get(key)
        if isinstance(found, kind):
            return found
        raise LookupError("this result is no longer kept here; begin the work again")

    def close(self) -> None:
        """Stop what is being made, and forget the rest."""
        self._closed = True
        self._pool.shutdown(wait=True, cancel_futures=True)
