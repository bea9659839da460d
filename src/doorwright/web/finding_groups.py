"""Findings in groups for a page: by rule, the worst first, or by the place of the part that they speak of."""

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from itertools import groupby
from typing import Final
from urllib.parse import urlencode

from doorwright.kernel.verdict import Finding
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of_subject, where_is
from doorwright.model.place import Dwelling
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.web.paging import PIECE_MOST, Piece, piece
from doorwright.web.showing import book_url

FIRST_MOST: Final = 8
"""So many of each group stand for the rest where all would be too many for a page."""
PLACES_MOST: Final = 60
"""So many places are shown at first, and with every "more"."""
SITE_WIDE: Final = "The whole site"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which findings are wanted, and how they are grouped; what is empty leaves none out."""

    by: str
    severity: str
    rule: str
    phase: str
    part: str
    place: str
    sought: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLink:
    """A part of which a finding speaks, and the way to its sheet."""

    name: str
    address: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """A finding; ``came_back`` says that it was accepted before, and ``accept`` is where it can be accepted again."""

    rule: str
    title: str
    severity: str
    message: str
    parts: tuple[PartLink, ...]
    came_back: bool
    accept: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Findings of one rule, or at one place. What the rule says of itself is filled where all are of one rule."""

    key: str
    title: str
    severity: str
    findings: Piece[FindingLine]
    why: str = ""
    remedy: str = ""
    sources: tuple[str, ...] = ()
    phases: tuple[str, ...] = ()


def fitting(findings: Iterable[Finding], wanted: Wanted) -> list[Finding]:
    """Return the findings that are wanted, in their order."""
    sought = wanted.sought.casefold()
    return [
        finding
        for finding in findings
        if (not wanted.severity or finding.severity.value == wanted.severity)
        and (not wanted.rule or finding.rule == wanted.rule)
        and (not wanted.phase or wanted.phase in RULE_BY_ID[finding.rule].phases)
        and (not wanted.part or any(subject.id == wanted.part for subject in finding.subjects))
        and (not sought or sought in f"{finding.message} {finding.rule} {RULE_BY_ID[finding.rule].title}".casefold())
    ]


def groups(
    book: str, walk: Walk, findings: Sequence[Finding], wanted: Wanted, *, back: Set[Finding], start: int
) -> tuple[Group, ...]:
    """Return findings in groups. Where there are too many for a page, the first few of each group stand for the rest.

    A single rule, or a single place, is shown a piece at a time, from ``start`` on.
    """
    if wanted.by == "place":
        return _by_place(book, walk, findings, wanted, back=back, start=start)
    most = PIECE_MOST if wanted.rule or len(findings) <= PIECE_MOST else FIRST_MOST
    made = []
    for rule_id, group in groupby(findings, key=lambda finding: finding.rule):
        rule, found = RULE_BY_ID[rule_id], list(group)
        made.append(
            Group(
                key=rule_id,
                title=rule.title,
                severity=found[0].severity.value,
                findings=_lines(book, walk, found, back=back, start=start if wanted.rule else 0, most=most),
                why=rule.why,
                remedy=rule.remedy,
                sources=tuple(f"{cite} ({cite.held})" for cite in rule.cites),
                phases=tuple(phase.value for phase in rule.phases),
            )
        )
    return tuple(made)


def _by_place(
    book: str, walk: Walk, findings: Sequence[Finding], wanted: Wanted, *, back: Set[Finding], start: int
) -> tuple[Group, ...]:
    by_place: dict[str, list[Finding]] = {}
    for finding in findings:
        by_place.setdefault(_place(walk, finding), []).append(finding)
    most = PIECE_MOST if wanted.place or len(findings) <= PIECE_MOST else FIRST_MOST
    ordered = sorted(by_place.items(), key=lambda item: (item[0] != SITE_WIDE, natural_key(item[0])))
    shown = [one for one in ordered if one[0] == wanted.place] if wanted.place else ordered[start : start + PLACES_MOST]
    return tuple(
        Group(
            key=place,
            title=place,
            severity=max(found, key=lambda finding: finding.severity.rank).severity.value,
            findings=_lines(book, walk, found, back=back, start=start if wanted.place else 0, most=most),
        )
        for place, found in shown
    )


def next_places(walk: Walk, findings: Iterable[Finding], wanted: Wanted, start: int) -> int | None:
    """Return where the next places begin, where findings are grouped by place and more places follow."""
    if wanted.by != "place" or wanted.place:
        return None
    end = start + PLACES_MOST
    return end if end < len({_place(walk, finding) for finding in findings}) else None


def _place(walk: Walk, finding: Finding) -> str:
    """Return where the first part of a finding that is anywhere is."""
    for subject in finding.subjects:
        part = walk.part(subject.id)
        if part is None:
            continue
        where = where_is(walk, part)
        if isinstance(part, Dwelling):
            where = f"{where}, {part.door_label}" if where else part.door_label
        if where:
            return where
    return SITE_WIDE


def _lines(
    book: str, walk: Walk, found: Sequence[Finding], *, back: Set[Finding], start: int, most: int
) -> Piece[FindingLine]:
    part = piece(found, start, most)
    return Piece(
        rows=tuple(line(book, walk, finding, came_back=finding in back) for finding in part.rows),
        start=part.start,
        total_count=part.total_count,
        next_start=part.next_start,
    )


def line(book: str, walk: Walk, finding: Finding, *, came_back: bool) -> FindingLine:
    """Return a finding as a page shows it."""
    asked = [("rule", finding.rule), *(("part", f"{subject.kind}:{subject.id}") for subject in finding.subjects)]
    return FindingLine(
        rule=finding.rule,
        title=RULE_BY_ID[finding.rule].title,
        severity=finding.severity.value,
        message=finding.message,
        parts=tuple(
            PartLink(
                name=name_of_subject(walk, subject),
                address=book_url(book, "parts", subject.id) if subject.kind in PART_BY_KIND else None,
            )
            for subject in finding.subjects
        ),
        came_back=came_back,
        accept=f"{book_url(book, 'check', 'accept')}?{urlencode(asked)}",
    )
