"""Judge a whole site, or again only what an edit can have altered.

``judge`` runs every rule over every subject once. A ``Watch`` does the same while it notes what each subject's rules
looked at; after an edit it runs the rules again for those subjects alone whose look-ups the edit can alter, and for new
ones. What it says then is what ``judge`` would say of the changed site (a property test holds the two together).
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import Any, Final

from doorwright.kernel.verdict import Finding, Missing, NotChecked, Severity, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.aspect import SITE_SUBJECT
from doorwright.model.change import Changes
from doorwright.model.label import natural_key
from doorwright.model.part import Part
from doorwright.model.site import PART_BY_KIND, Site
from doorwright.model.walk import Look, Walk
from doorwright.rules.rule import HOLDS, Facts, Found, Lacks, Rule

Progress = Callable[[int, int], None]
"""Called with how many subjects are judged and how many there are."""


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the rules say of a site. ``held`` counts by rule the judgements in which it holds.

    ``came_back`` are those of the findings that a waiver covered which has ended; their messages say so.
    """

    findings: tuple[Finding, ...]
    waived: tuple[tuple[Finding, Waiver], ...]
    not_checked: tuple[NotChecked, ...]
    held: Mapping[str, int]
    came_back: tuple[tuple[Finding, Waiver], ...] = ()

    @property
    def judged_count(self) -> int:
        """How many judgements were made: those that hold and those that do not, waived or not."""
        return sum(self.held.values()) + len(self.findings) + len(self.waived)

    def by_severity(self) -> dict[Severity, int]:
        """Findings by severity, the worst first."""
        count = Counter(finding.severity for finding in self.findings)
        return {severity: count[severity] for severity in reversed(Severity)}

    def by_missing(self) -> dict[Missing, tuple[NotChecked, ...]]:
        """What could not be checked, by the fact that is missing, the most wanted first."""
        groups: dict[Missing, list[NotChecked]] = {}
        for verdict in self.not_checked:
            for missing in verdict.missing:
                groups.setdefault(missing, []).append(verdict)
        ordered = sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
        return {missing: tuple(verdicts) for missing, verdicts in ordered}


NOTHING_JUDGED: Final = Assessment(findings=(), waived=(), not_checked=(), held={})
"""What stands for a judgement where none was asked for."""


@dataclass(frozen=True, slots=True)
class _Judged:
    """What rules said of subjects. ``held`` names each rule as often as it holds."""

    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...]
    held: tuple[str, ...]


_AT_A_TIME_COUNT: Final = 1000
"""So many subjects are judged by one rule before the next: a processor likes to do the same again, users like news."""


def judge(
    facts: Facts, rules: Iterable[Rule], waivers: Iterable[Waiver] = (), progress: Progress | None = None
) -> Assessment:
    """Return what ``rules`` say of the site."""
    by_kind = _by_kind(rules)
    subjects = {kind: _subjects(facts.walk, kind) for kind in by_kind}
    count = sum(map(len, subjects.values()))
    done = 0
    judged = []
    for kind, parts in subjects.items():
        for at in range(0, len(parts), _AT_A_TIME_COUNT):
            if progress is not None:
                progress(done, count)
            some = parts[at : at + _AT_A_TIME_COUNT]
            judged.append(_judge(facts, by_kind[kind], some))
            done += len(some)
    return _assess(judged, waivers, facts)


class Watch:
    """A site under watch: judged once, then again after each edit only where the edit can matter."""

    def __init__(self, facts: Facts, rules: Iterable[Rule]) -> None:
        self._facts = facts
        self._by_kind = _by_kind(rules)
        self._judged: dict[Subject, _Judged] = {}
        self._readers: dict[Look, set[Subject]] = {}
        for kind in self._by_kind:
            for part in _subjects(facts.walk, kind):
                self._judge_again(part)

    def change(self, changes: Changes) -> frozenset[Subject]:
        """Make an edit and judge again; return the subjects that were judged again or are gone."""
        walk = self._facts.walk.after(changes)
        stale = {subject for look in walk.altered for subject in (*self._readers.get(look, ()), *self._named(look))}
        self._facts = replace(self._facts, walk=walk)
        for subject in stale:
            part = self._part(subject)
            if part is None:
                self._judged.pop(subject, None)
            else:
                self._judge_again(part)
        return frozenset(stale)

    def of(self, subject: Subject) -> tuple[Finding, ...]:
        """Return the findings on one subject."""
        judged = self._judged.get(subject)
        return judged.findings if judged else ()

    def assessment(self, waivers: Iterable[Waiver] = ()) -> Assessment:
        """Return what the rules say of the site as it is now."""
        return _assess(self._judged.values(), waivers, self._facts)

    def _judge_again(self, part: Part | Site) -> None:
        subject = subject_of(part)
        with self._facts.walk.recording() as looks:
            self._judged[subject] = _judge(self._facts, self._by_kind[type(part)], (part,))
        for look in looks:
            self._readers.setdefault(look, set()).add(subject)

    def _named(self, look: Look) -> tuple[Subject, ...]:
        table, key = look
        if not isinstance(table, str) or not key or PART_BY_KIND.get(table) not in self._by_kind:
            return ()
        return (Subject(table, key),)

    def _part(self, subject: Subject) -> Part | Site | None:
        if subject == SITE_SUBJECT:
            return self._facts.walk.site
        return self._facts.walk.find(PART_BY_KIND[subject.kind], subject.id)


def subject_of(part: Part | Site) -> Subject:
    """Return the subject that a part is to the rules."""
    return part.subject if isinstance(part, Part) else SITE_SUBJECT


def _by_kind(rules: Iterable[Rule]) -> dict[type, tuple[Rule, ...]]:
    kinds: dict[type, list[Rule]] = {}
    for one in rules:
        kinds.setdefault(one.over, []).append(one)
    return {kind: tuple(group) for kind, group in kinds.items()}


def _subjects(walk: Walk, kind: type) -> tuple[Any, ...]:
    return (walk.site,) if kind is Site else walk.site.table(kind)


def _judge(facts: Facts, rules: tuple[Rule, ...], parts: Sequence[Part | Site]) -> _Judged:
    findings: list[Finding] = []
    not_checked: list[NotChecked] = []
    held: list[str] = []
    for one in rules:
        held_count = 0
        for part in parts:
            try:
                for said in one.judge(facts, part):
                    if said is HOLDS:
                        held_count += 1
                    elif isinstance(said, Found):
                        subjects = tuple(dict.fromkeys((subject_of(part), *map(subject_of, said.also))))
                        findings.append(Finding(one.id, one.severity, subjects, said.message))
                    elif isinstance(said, Lacks):
                        not_checked.append(NotChecked(one.id, (subject_of(part),), said.missing))
            except Exception as fault:  # noqa: BLE001  (house rule: a rule that crashes becomes a finding, never silence)
                message = f"this rule itself failed here and judged nothing: {type(fault).__name__}: {fault}"
                findings.append(Finding(one.id, Severity.ERROR, (subject_of(part),), message))
        held.extend(repeat(one.id, held_count))
    return _Judged(tuple(findings), tuple(not_checked), tuple(held))


def _assess(judged: Iterable[_Judged], waivers: Iterable[Waiver], facts: Facts) -> Assessment:
    waivers_of: dict[str, list[Waiver]] = {}
    for one_waiver in waivers:
        waivers_of.setdefault(one_waiver.rule, []).append(one_waiver)
    findings: list[Finding] = []
    waived: list[tuple[Finding, Waiver]] = []
    came_back: list[tuple[Finding, Waiver]] = []
    not_checked: list[NotChecked] = []
    held: Counter[str] = Counter()
    for one in judged:
        held.update(one.held)
        not_checked += one.not_checked
        for finding in one.findings:
            candidates = [w for w in waivers_of.get(finding.rule, ()) if w.speaks_of(finding.rule, finding.subjects)]
            covering = (w for w in candidates if w.covers(finding.rule, finding.subjects, facts.today))
            waiver = max(covering, key=lambda w: w.until, default=None)
            ended = max((w for w in candidates if w.has_ended(facts.today)), key=lambda w: w.until, default=None)
            if waiver is not None:
                waived.append((finding, waiver))
            elif ended is not None:
                again = _back_again(finding, ended)
                findings.append(again)
                came_back.append((again, ended))
            else:
                findings.append(finding)
    findings.sort(key=_order)
    not_checked.sort(key=lambda verdict: (verdict.rule, verdict.subjects))
    waived.sort(key=lambda pair: _order(pair[0]))
    came_back.sort(key=lambda pair: _order(pair[0]))
    return Assessment(tuple(findings), tuple(waived), tuple(not_checked), dict(sorted(held.items())), tuple(came_back))


def _order(finding: Finding) -> tuple[Any, ...]:
    return -finding.severity.rank, finding.rule, natural_key(finding.message), finding.subjects


def _back_again(finding: Finding, waiver: Waiver) -> Finding:
    told = f"{finding.message}; the waiver by {waiver.by} ended on {waiver.until}: {waiver.reason}"
    return replace(finding, message=told)
