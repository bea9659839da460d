"""What the rules say, sorted by the parts that it is about: for sheets of parts and marks in drawings."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from doorwright.kernel.verdict import Finding, NotChecked, Severity, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.calling import Timetable
from doorwright.model.network import CableRun
from doorwright.model.part import Part
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk
from doorwright.rules.judge import Assessment

Said: TypeAlias = tuple[Finding, Waiver | None]
"""A finding, and the waiver that covers it."""


@dataclass(frozen=True, slots=True)
class ByPart:
    """What the rules say of each part, by its identifier. ``worst`` leaves out what a waiver covers.

    What has no place of its own in a drawing speaks for what it belongs to as well: a receiver for its dwelling, a key,
    module or secret for its unit, a cable run for what it feeds, a timetable for its entrance.
    """

    findings: Mapping[str, Sequence[Said]]
    not_checked: Mapping[str, Sequence[NotChecked]]
    worst: Mapping[str, Severity]


def by_part(walk: Walk, assessment: Assessment) -> ByPart:
    """Sort an assessment by parts."""
    findings: dict[str, list[Said]] = {}
    worst: dict[str, Severity] = {}
    for finding in assessment.findings:
        for ident in _parts_of(walk, finding.subjects):
            findings.setdefault(ident, []).append((finding, None))
            known = worst.get(ident)
            if known is None or known.rank < finding.severity.rank:
                worst[ident] = finding.severity
    for finding, waiver in assessment.waived:
        for ident in _parts_of(walk, finding.subjects):
            findings.setdefault(ident, []).append((finding, waiver))
    not_checked: dict[str, list[NotChecked]] = {}
    for verdict in assessment.not_checked:
        for ident in _parts_of(walk, verdict.subjects):
            not_checked.setdefault(ident, []).append(verdict)
    return ByPart(findings, not_checked, worst)


def _parts_of(walk: Walk, subjects: Sequence[Subject]) -> dict[str, None]:
    return {ident: None for subject in subjects for ident in _with_owners(walk, subject)}


def _with_owners(walk: Walk, subject: Subject) -> Iterator[str]:
    kind = PART_BY_KIND.get(subject.kind)
    part: Part | None = walk.find(kind, subject.id) if kind is not None else None
    while part is not None:
        yield part.id
        part = walk.part(_owner(part))


def _owner(part: Part) -> str | None:
    match part:
        case Unit(dwelling=str() as ident):
            return ident
        case Key(unit=ident) | KeyModule(unit=ident) | SecretMark(owner=ident):
            return ident
        case CableRun(far=ident) | Timetable(entrance=ident):
            return ident
    return None
