"""Something seen, when and by whom: in the rehearsed building or in the real one."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from doorwright.kernel.verdict import Subject


class Stage(StrEnum):
    """Where it was seen."""

    REHEARSED = "rehearsed"
    FOUND = "found"


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One fact seen. Observations are append-only: a correction is a new one that names the old in ``corrects``."""

    id: str
    stage: Stage
    subject: Subject
    aspect: str
    value: str
    seen_at: datetime
    seen_by: str
    corrects: str | None = None
