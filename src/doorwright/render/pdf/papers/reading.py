"""How to read the pack: the order of papers, the symbols, the words, what "not checked" means."""

from collections.abc import Iterable
from typing import Final

from doorwright.model.glossary import ON_PAPER
from doorwright.render.pdf.papers.findings import SEVERITY_WORDS
from doorwright.render.pdf.papers.paper import Paper

SYMBOLS: Final = (
    ("tick", "Tick when done and found right. Leave it empty where it was not: an empty box is a fact too."),
    ("line", "The plan does not have this value yet. Write in what you enter, and bring it back into the workbook."),
    ("sealed", "A secret. It stands on the sealed sheet, on the line named here."),
    ("unknown", "A character that the fonts of this program cannot print. The workbook holds it."),
)
NOT_CHECKED: Final = (
    "A check that lacks a fact is not passed and not failed: it is not checked. The findings list such checks by the "
    "fact that is missing. Supply the fact, and the check is made. Until then nobody knows the answer."
)


def reading(papers: Iterable[Paper]) -> Paper:
    """Return the page that explains the others."""
    return {
        "kind": "reading",
        "title": "How to read this pack",
        "purpose": "",
        "order": [{key: paper[key] for key in ("kind", "title", "purpose")} for paper in papers],
        "severities": [{"severity": severity.value, "text": text} for severity, text in SEVERITY_WORDS.items()],
        "symbols": [{"symbol": symbol, "text": text} for symbol, text in SYMBOLS],
        "words": [{"word": one.written, "text": one.meaning} for one in ON_PAPER],
        "words_source": "VCU, URU and SMU are words of IEC 62820-1-1; the others are those of the trade and of SIP.",
        "not_checked": NOT_CHECKED,
    }
