"""A finding that somebody has accepted: why, who, when, and until when."""

from dataclasses import dataclass
from datetime import date

from doorwright.kernel.verdict import Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A waiver clings to a rule and its subjects, so it survives recalculation. It ends after ``until``."""

    id: str
    rule: str
    subjects: tuple[Subject, ...]
    reason: str
    by: str
    on: date
    until: date

    def speaks_of(self, rule: str, subjects: tuple[Subject, ...]) -> bool:
        """Say whether it was given for a finding of ``rule`` on ``subjects``, whatever the day."""
        return self.rule == rule and set(self.subjects) == set(subjects)

    def covers(self, rule: str, subjects: tuple[Subject, ...], today: date) -> bool:
        """Say whether a finding of ``rule`` on ``subjects`` is waived today."""
        return self.speaks_of(rule, subjects) and self.on <= today <= self.until

    def has_ended(self, today: date) -> bool:
        """Say whether it covers nothing any more."""
        return self.until < today
