"""A person's word that something was tested, certified or received. Doorwright records it and judges nothing by it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from doorwright.kernel.verdict import Subject


class Statement(StrEnum):
    """What a person puts their name to."""

    ESCAPE_RELEASE = "escape route release tested"
    FIRE_RELEASE = "fire alarm release tested"
    MAINS = "mains work certified"
    AS_BUILT = "as-built record received"
    SEALED_SHEET = "sealed sheet received"
    TRAINING = "training given"


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """What ``name`` says of a part, as what (``role``), on which day, and to which last day (None: no end).

    ``recorded_by`` is who wrote it into the book. A later sign-off of the same statement and part replaces an earlier.
    """

    id: str
    statement: Statement
    subject: Subject
    name: str
    role: str
    on: date
    until: date | None
    recorded_by: str

    def has_ended(self, today: date) -> bool:
        """Say whether its last day has passed."""
        return self.until is not None and self.until < today

    def __str__(self) -> str:
        end = f", until {self.until}" if self.until else ""
        return f"{self.statement}: {self.name} ({self.role}) on {self.on}{end}"


def standing(sign_offs: Iterable[SignOff]) -> dict[Subject, dict[Statement, SignOff]]:
    """Return the last recorded sign-off of each part and statement; ``sign_offs`` come in order of recording."""
    last: dict[Subject, dict[Statement, SignOff]] = {}
    for one in sign_offs:
        last.setdefault(one.subject, {})[one.statement] = one
    return last
