"""The trail: who did what in a book beside saving revisions. It names what was done and to what, never a secret."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Act(StrEnum):
    """What is noted in the trail."""

    VAULT_MADE = "made the vault"
    PASSPHRASE_CHANGED = "changed the passphrase of the vault"  # noqa: S105  (words, not a passphrase)
    SECRETS_SHOWN = "had secrets shown"
    SEALED_SHEET = "took out the sealed sheet"
    PAPERS = "took out papers"
    FOUND = "took in what was found"
    REHEARSED = "rehearsed the building"
    ASKED = "asked the building over its network"
    WAIVED = "waived findings"
    WAIVER_ENDED = "ended a waiver"
    SIGNED_OFF = "recorded a sign-off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One line of the trail: when, who, what, and about what."""

    at: datetime
    by: str
    act: Act
    about: str

    def __str__(self) -> str:
        return f"{self.by} {self.act}: {self.about}" if self.about else f"{self.by} {self.act}"
