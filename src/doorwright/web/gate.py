"""The gate of a server that others reach over the network: who may come in, who is in, and a trail of both."""

import json
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Person
from doorwright.store.people import People
from doorwright.web.patience import Patience
from doorwright.web.sessions import Sessions

TRAIL_SUFFIX: Final = ".trail.jsonl"


@dataclass(frozen=True, slots=True)
class Wait:
    """Too many wrong guesses were made: the next counts in so many seconds."""

    seconds: float


class Gate:
    """Lets people in by name and password. The people file may change while the server runs: it counts at once."""

    def __init__(
        self, people_file: Path, *, now: Callable[[], datetime], steady_s: Callable[[], float] = time.monotonic
    ) -> None:
        """Begin with a people file.

        Raises:
            Refused: it cannot be read, is damaged, or nobody is in it.
        """
        self.people_file = people_file
        self._now = now
        self._steady_s = steady_s
        self._sessions = Sessions()
        self._patience = Patience()
        self._lock = threading.Lock()
        self._loaded: tuple[int, People] | None = None
        if not self._people().entries:
            raise Refused(
                f"nobody is in {people_file}, so nobody could come in",
                remedy=f"Add somebody: doorwright people {people_file} add NAME --role admin",
            )

    def _people(self) -> People:
        written = self.people_file.stat().st_mtime_ns if self.people_file.exists() else -1
        if self._loaded is None or self._loaded[0] != written:
            self._loaded = (written, People.load(self.people_file))
        return self._loaded[1]

    def who(self, token: str) -> Person | None:
        """Return the person behind a browser's token, as the people file has them now."""
        with self._lock:
            name = self._sessions.who(token, at_s=self._steady_s()) if token else None
            entry = self._people().find(name) if name is not None else None
        return entry.person if entry is not None else None

    def let_in(self, name: str, password: str, address: str) -> str | Wait | None:
        """Return a token for whoever gives the right password; None for a wrong one; how long to wait after many.

        Wrong guesses count against the name and against the address they come from.
        """
        keys = (f"name {name.strip().casefold()[:100]}", f"from {address}")
        with self._lock:
            at_s = self._steady_s()
            wait_s = max(self._patience.wait_s(key, at_s=at_s) for key in keys)
            if wait_s > 0:
                return Wait(wait_s)
            for key in keys:  # counted before the check, or many guesses at once would all be free
                self._patience.wrong(key, at_s=at_s)
            people = self._people()
        person = people.admit(name, password)
        with self._lock:
            if person is None:
                self.note(name.strip()[:100], "was not let in", address)
                return None
            for key in keys:
                self._patience.right(key)
            self.note(person.name, "signed in", address)
            return self._sessions.begin(person.name, at_s=self._steady_s())

    def sign_out(self, token: str, address: str) -> None:
        """Sign one browser out."""
        person = self.who(token)
        self._sessions.end(token)
        if person is not None:
            self.note(person.name, "signed out", address)

    def sign_out_everywhere(self, name: str) -> None:
        """Sign somebody out of every browser: their password or role is another now."""
        with self._lock:
            self._sessions.end_all(name)

    def note(self, name: str, what: str, about: str) -> None:
        """Write one line into the trail beside the people file. No line holds a secret."""
        line = {"at": self._now().isoformat(timespec="seconds"), "who": name, "what": what, "about": about}
        with self.people_file.with_suffix(TRAIL_SUFFIX).open("a", encoding="utf-8") as trail:
            trail.write(json.dumps(line, ensure_ascii=False) + "\n")
