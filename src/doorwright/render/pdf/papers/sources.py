"""The sources used, and how each is held by those who wrote its figures down."""

from collections.abc import Sequence
from types import MappingProxyType
from typing import Any, Final

from doorwright.kernel.calculation import described
from doorwright.kernel.source import Cite, Held, sources
from doorwright.render.pdf.papers.paper import Paper
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.rules.judge import Assessment
from doorwright.studies.study import Study

HELD_WORDS: Final = MappingProxyType(
    {
        Held.FULL: "the text was at hand and read",
        Held.CLAUSE: "the clause was quoted to us word for word",
        Held.ABSTRACT: "only the abstract or the headings were read",
        Held.SECOND_HAND: "known from what others write of it",
        Held.MEMORY: "from memory: check it before you rely on it",
        Held.COMMON_PRACTICE: "how the trade does it; nobody published it",
    }
)


def sources_used(assessment: Assessment, studies: Sequence[Study[Any]]) -> Paper | None:
    """Return the list of sources, or None where none was used."""
    used: dict[str, set[str]] = {}
    for cite, use in _cites(assessment, studies):
        used.setdefault(cite.source, set()).add(use)
    if not used:
        return None
    known = sources()
    return {
        "kind": "sources",
        "title": "Sources",
        "purpose": "standards and texts used here, and how well each is held",
        "sources": [
            {
                "title": known[key].title,
                "edition": known[key].edition,
                "publisher": known[key].publisher,
                "held": known[key].held.value,
                "for": ", ".join(sorted(uses)),
            }
            for key, uses in sorted(used.items(), key=lambda item: known[item[0]].title)
        ],
        "held": [{"held": held.value, "text": text} for held, text in HELD_WORDS.items()],
    }


def _cites(assessment: Assessment, studies: Sequence[Study[Any]]) -> list[tuple[Cite, str]]:
    functions = {step.function for study in studies for step in study.steps}
    cites = [(cite, "calculations") for function in functions for cite in described(function).cites]
    judged = (*(one.rule for one in assessment.findings), *(one.rule for one in assessment.not_checked))
    checks = {*assessment.held, *judged, *(finding.rule for finding, _ in assessment.waived)}
    cites += [(cite, "checks") for check in checks if check in RULE_BY_ID for cite in RULE_BY_ID[check].cites]
    return cites
