"""What a rule says of a subject where it does not simply hold: a finding, or that it could not be judged."""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters. Ordered: an error outranks a warning, a warning a note."""

    NOTE = "note"
    WARNING = "warning"
    ERROR = "error"

    @property
    def rank(self) -> int:
        """0 for a note, 1 for a warning, 2 for an error."""
        return list(Severity).index(self)


class Phase(StrEnum):
    """The phases of a door-entry system's life, in the words of IEC 62820-3-2."""

    PLANNING = "planning"
    INSTALLATION = "installation"
    COMMISSIONING = "commissioning"
    HANDOVER = "handover"
    OPERATION = "operation and maintenance"


@dataclass(frozen=True, slots=True, order=True)
class Subject:
    """One part of the site: its kind and identifier."""

    kind: str
    id: str


@dataclass(frozen=True, slots=True, order=True)
class Missing:
    """A fact that somebody must still supply: a field of a kind of part, in the words of the workbook."""

    kind: str
    field: str

    def __str__(self) -> str:
        return f"{self.field} of {self.kind}"


@dataclass(frozen=True, slots=True)
class Finding:
    """The rule does not hold. ``message`` names the parts by label and says what was found."""

    rule: str
    severity: Severity
    subjects: tuple[Subject, ...]
    message: str


@dataclass(frozen=True, slots=True)
class NotChecked:
    """The rule cannot be judged: ``missing`` says which facts it waits for."""

    rule: str
    subjects: tuple[Subject, ...]
    missing: tuple[Missing, ...]
