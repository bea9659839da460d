"""Something seen, when and by whom: in the rehearsed building or in the real one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TypeAlias

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


Seen: TypeAlias = Mapping[Subject, Mapping[str, Observation]]
"""What counts of all that was seen at one stage: by part and aspect."""


def what_counts(observations: Iterable[Observation], stage: Stage) -> dict[Subject, dict[str, Observation]]:
    """Return the latest observation of each part and aspect at a stage, those left out that another corrects.

    Args:
        observations: in order of recording; of two seen at the same moment the one recorded later counts.
        stage: where they were seen.
    """
    there = tuple(observations)
    corrected = {seen.corrects for seen in there}
    latest: dict[Subject, dict[str, Observation]] = {}
    for seen in there:
        if seen.stage is stage and seen.id not in corrected:
            of_subject = latest.setdefault(seen.subject, {})
            known = of_subject.get(seen.aspect)
            if known is None or known.seen_at <= seen.seen_at:
                of_subject[seen.aspect] = seen
    return latest
