"""The findings: what does not hold and what to do, what was accepted or signed off, and what could not be checked."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from types import MappingProxyType
from typing import Any, Final

from doorwright.kernel.signoff import SignOff
from doorwright.kernel.verdict import Finding, Severity, Subject
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of_subject, named
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.render.pdf.papers.paper import Paper
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.rules.judge import Assessment
from doorwright.rules.saying import some

SEVERITY_WORDS: Final = MappingProxyType(
    {
        Severity.ERROR: "It will not work, or not be allowed. Mend it before anything is installed.",
        Severity.WARNING: "It may work and still be wrong. Mend it, or accept it in writing.",
        Severity.NOTE: "Worth knowing.",
    }
)
_NAMED_COUNT: Final = 12
_TOGETHER_COUNT: Final = 5
"""So many findings that say the same of their parts are printed as one, with the names of the parts."""


def tally(assessment: Assessment) -> str:
    """Return the line of counts: "Checked 412, failed 3, could not check 6"."""
    counted = (
        ("Checked", assessment.judged_count),
        ("failed", len(assessment.findings)),
        ("accepted in writing", len(assessment.waived)),
        ("could not check", len(assessment.not_checked)),
    )
    said = [f"{word} {count}" for word, count in counted if count or not word.startswith("accepted")]
    return ", ".join(said) + "."


def findings(
    walk: Walk, assessment: Assessment, sign_offs: Sequence[SignOff] = (), checked_on: date = date.min
) -> Paper:
    """Return the paper of findings, with the sign-offs that stand, those marked that had ended when it was judged."""
    return {
        "kind": "findings",
        "title": "Findings",
        "purpose": "what does not hold, what to do, and what could not be checked",
        "tally": tally(assessment),
        "none_failed": not assessment.findings,
        "nothing_judged": assessment.judged_count == 0,
        "by_severity": [_severity(walk, assessment, severity) for severity in assessment.by_severity()],
        "waived": [
            {
                "finding": _title(finding.rule),
                "message": finding.message,
                "severity": finding.severity.value,
                "reason": waiver.reason,
                "by": waiver.by,
                "on": waiver.on.isoformat(),
                "until": waiver.until.isoformat(),
            }
            for finding, waiver in assessment.waived
        ],
        "came_back": [
            {
                "finding": _title(finding.rule),
                "parts": _names(walk, finding.subjects),
                "severity": finding.severity.value,
                "reason": waiver.reason,
                "by": waiver.by,
                "until": waiver.until.isoformat(),
            }
            for finding, waiver in assessment.came_back
        ],
        "sign_offs": [
            {
                "statement": one.statement.value,
                "part": name_of_subject(walk, one.subject),
                "by": f"{one.name} ({one.role})",
                "on": one.on.isoformat(),
                "until": one.until.isoformat() if one.until else "",
                "ended": one.has_ended(checked_on),
            }
            for one in sign_offs
        ],
        "not_checked": [
            {
                "missing": str(missing),
                "count": str(len(verdicts)),
                "checks": ", ".join(sorted({_title(verdict.rule).rstrip(".") for verdict in verdicts})),
                "parts": _names(walk, [subject for verdict in verdicts for subject in verdict.subjects]),
            }
            for missing, verdicts in assessment.by_missing().items()
        ],
    }


def _severity(walk: Walk, assessment: Assessment, severity: Severity) -> dict[str, Any]:
    here = [finding for finding in assessment.findings if finding.severity is severity]
    return {
        "severity": severity.value,
        "text": SEVERITY_WORDS[severity],
        "count": len(here),
        "rules": [_rule(walk, ident, list(group)) for ident, group in groupby(here, key=lambda finding: finding.rule)],
    }


def _rule(walk: Walk, ident: str, found: list[Finding]) -> dict[str, Any]:
    known = RULE_BY_ID.get(ident)
    return {
        "title": _title(ident),
        "id": ident,
        "why": known.why if known else "",
        "remedy": known.remedy if known else "",
        "sources": "; ".join(f"{cite} ({cite.held})" for cite in known.cites) if known else "",
        **_items(walk, found),
    }


def _items(walk: Walk, found: list[Finding]) -> dict[str, Any]:
    """Return the findings of a rule: those that say the same of many parts together, each part to be ticked."""
    alike: dict[str, list[Finding]] = {}
    for one in found:
        alike.setdefault(_said(walk, one), []).append(one)
    few = [one for said, group in alike.items() if not said or len(group) < _TOGETHER_COUNT for one in group]
    return {
        "items": [{"part": _names(walk, one.subjects[:1]), "message": one.message} for one in few],
        "together": [
            {
                "count": len(group),
                "message": said,
                "parts": sorted((_names(walk, one.subjects[:1]) for one in group), key=natural_key),
            }
            for said, group in alike.items()
            if said and len(group) >= _TOGETHER_COUNT
        ],
    }


def _said(walk: Walk, one: Finding) -> str:
    """Return what a finding says of its part, without the part's name; empty where it does not begin with it."""
    part = walk.find(PART_BY_KIND[one.subjects[0].kind], one.subjects[0].id) if _is_of_part(one) else None
    begin = named(walk, part) if part is not None else ""
    return one.message.removeprefix(begin).strip(" :") if begin and one.message.startswith(begin) else ""


def _is_of_part(one: Finding) -> bool:
    return bool(one.subjects) and one.subjects[0].kind in PART_BY_KIND


def _title(rule: str) -> str:
    known = RULE_BY_ID.get(rule)
    return known.title if known else rule.replace("-", " ").capitalize()


def _names(walk: Walk, subjects: list[Subject] | tuple[Subject, ...]) -> str:
    return some(dict.fromkeys(name_of_subject(walk, subject) for subject in subjects), _NAMED_COUNT)
