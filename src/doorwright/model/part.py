"""The base of everything that has an identifier and a place in a site's tables."""

from dataclasses import dataclass
from typing import ClassVar

from doorwright.kernel.verdict import Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a site. ``id`` is made once and encodes nothing; ``notes`` keep what the user wrote beside it."""

    KIND: ClassVar[str]
    TABLE: ClassVar[str]

    id: str
    notes: tuple[tuple[str, str], ...] = ()

    @property
    def subject(self) -> Subject:
        """This part as the subject of a verdict or an observation."""
        return Subject(self.KIND, self.id)

    @property
    def label(self) -> str:
        """What a person calls this part."""
        raise NotImplementedError
