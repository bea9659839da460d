"""What a use-case needs of the world: who asks, the time, chance, and where the user keeps profiles."""

import getpass
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final

from doorwright.kernel.trail import Act, Trace
from doorwright.model.profile import Profile
from doorwright.store.profiles import load_profiles

_ID_CHARACTERS: Final = "23456789abcdefghjkmnpqrstvwxyz"


def fresh_id() -> str:
    """Return a new identifier: 12 random characters, 58 bits, that encode nothing."""
    return "".join(secrets.choice(_ID_CHARACTERS) for _ in range(12))


def this_user() -> str:
    """Return the name of the user of this machine, or "unknown" where the system does not tell."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):  # ImportError: Windows without a user's name in its environment
        return "unknown"


def _quiet(_: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """The world as a use-case meets it; tests put a still world in its place."""

    who: str
    profile_folders: tuple[Path, ...] = ()
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    new_id: Callable[[], str] = fresh_id
    choose: Callable[[int], int] = secrets.randbelow
    random_bytes: Callable[[int], bytes] = secrets.token_bytes
    progress: Callable[[str], None] = _quiet

    def today(self) -> date:
        """Return the day on this machine's calendar."""
        return self.now().astimezone().date()

    def trace(self, act: Act, about: str = "") -> Trace:
        """Return a line of the trail: that whoever asks does this now."""
        return Trace(at=self.now(), by=self.who, act=act, about=about)

    def profiles(self) -> Mapping[str, Profile]:
        """Return the generic profiles and the user's own."""
        return load_profiles(self.profile_folders)
