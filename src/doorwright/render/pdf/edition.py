"""Which revision a paper shows."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Edition:
    """What stands on the cover and in each footer: the revision, when it was saved, by whom, and what they wrote.

    ``made_at`` carries a time zone; it is also the only time that the PDF file itself holds.
    """

    revision: int
    made_at: datetime
    made_by: str
    message: str

    def __post_init__(self) -> None:
        """Refuse a time without a zone: what it means would depend on the machine that prints it."""
        if self.made_at.tzinfo is None:
            raise ValueError("made_at has no time zone")
