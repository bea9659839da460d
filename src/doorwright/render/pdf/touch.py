"""The touch list on paper: the visits in order with boxes to tick, then cards, labels and legends for these alone."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any, Final

from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.piece import PieceKind
from doorwright.plan.retest import together
from doorwright.plan.settings import shown
from doorwright.plan.touch import Alteration, Touch
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.cards import cards
from doorwright.render.pdf.papers.labels import labels
from doorwright.render.pdf.papers.legends import legends
from doorwright.render.pdf.papers.paper import site_title
from doorwright.render.pdf.press import edition_data, press

TITLE: Final = "Touch list"

_ACROSS: Final = {
    PieceKind.KEY: (3, 2), PieceKind.DIRECTORY: (3, 2), PieceKind.PORT: (2, 1), PieceKind.CLOCK: (1, 1),
    PieceKind.TIMETABLE: (1, 1), PieceKind.DIVERT: (1, 1), PieceKind.DOOR: (1, 1),
}  # fmt: skip
"""How many entries of a kind stand side by side: where each has one value, and where some have an old and a new one."""


def touch_list_pdf(*, after: Walk, touches: Sequence[Touch], since: int, reason: str, edition: Edition) -> bytes:
    """Return the touch list of a change as a tagged PDF (PDF/UA-1). It never holds a secret.

    Args:
        after: the way around the site as it is to be.
        touches: the visits in working order; at least one.
        since: the revision that the work starts from.
        reason: what the change is, in words; may be empty.
        edition: what the head and the footers say.

    Returns:
        The bytes of the file, the same for the same input.
    """
    site = after.settings()
    name = site_title(site.name)
    strips = {touch.holder.id: touch.legend_modules for touch in touches if touch.legend_modules}
    papers = [
        cards(after, _carded(after, touches)),
        legends(after, strips) if strips else None,
        labels(after, {touch.holder.id for touch in touches if touch.label_differs}),
    ]
    data = {
        "title": f"{TITLE}: {name}",
        "site": name,
        "edition": edition_data(edition, name, site.reference),
        "since": str(since),
        "reason": reason,
        "touches": [_visit(touch) for touch in touches],
        "tests": [
            {"entrance": test.entrance, "called": _called(test.called), "doors": ", ".join(test.doors)}
            for test in together(touch.tests for touch in touches)
        ],
        "papers": [paper for paper in papers if paper is not None],
    }
    return press("touch", data, edition)


def _carded(after: Walk, touches: Sequence[Touch]) -> set[str]:
    """Return the units whose cards belong to the work: those with new values at either end of their pairing."""
    found: set[str] = set()
    for touch in touches:
        for entry in touch.entries:
            if entry.kind is PieceKind.PAIRING:
                found.add(entry.about)
            elif entry.kind is PieceKind.OWN and not touch.gone:
                found.add(touch.holder.id)
    return {ident for ident in found if after.find(Unit, ident) is not None}


def _visit(touch: Touch) -> dict[str, Any]:
    return {
        "number": str(touch.number),
        "name": touch.name,
        "where": touch.where,
        "state": "to take away" if touch.gone else "new box" if touch.fresh else "",
        "cautions": list(touch.cautions),
        "work": [f"{line[0].upper()}{line[1:]}" for line in touch.work],
        "groups": [
            _group(heading, tuple(group)) for heading, group in groupby(touch.entries, key=lambda entry: entry.heading)
        ]
        if not touch.gone
        else [],
    }


def _group(heading: str, entries: tuple[Alteration, ...]) -> dict[str, Any]:
    """Return the entries under one heading, in as many columns as their values leave room for."""
    altered = any(entry.old is not None and entry.new is not None for entry in entries)
    narrow, wide = _ACROSS.get(entries[0].kind, (2, 1))
    across = wide if altered else narrow
    title = f"{heading[0].upper()}{heading[1:]}"
    return {"title": title, "across": across, "lines": [_line(entry) for entry in entries]}


def _line(entry: Alteration) -> dict[str, Any]:
    old, new = (None if value is None else shown(value) for value in (entry.old, entry.new))
    if old is not None and new is not None and old == new:
        new = f"{new}, renewed"
    verb = "set" if old is None else "remove" if new is None else "alter"
    return {"verb": verb, "name": entry.name, "old": old or "", "new": new or "", "secret": entry.secret}


def _called(labels_: tuple[str, ...]) -> str:
    """Return dwellings and desks in words, with their count where there are many."""
    text = ", ".join(labels_)
    return text if len(labels_) <= 12 else f"{len(labels_)}: {text}"
