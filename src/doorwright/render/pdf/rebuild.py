"""The rebuild cards: every cleared unit in order of work, with both ends of its pairing. They hold no secret."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.rebuild import CLOCK, DIRECTORY, LISTED, OWN, Line
from doorwright.plan.firmware.record import Gap
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.cards import card
from doorwright.render.pdf.papers.paper import site_title
from doorwright.render.pdf.press import edition_data, press

TITLE: Final = "Rebuild cards"
_LONG_COUNT: Final = 12
"""A directory of more entries is printed once, and named wherever it is the same."""
_FEW_COUNT: Final = 6
"""It is the same where at most so many entries differ: those are told."""
_WIDE_COUNT: Final = 60
"""Entries of more letters get the width of the paper, others a third of it."""


def rebuild_pdf(
    *,
    walk: Walk,
    units: Sequence[Unit],
    lines: Sequence[Line],
    gaps: Sequence[Gap],
    firmware: Mapping[str, str],
    edition: Edition,
) -> bytes:
    """Return the rebuild cards as a tagged PDF (PDF/UA-1), the same for the same input.

    Args:
        walk: the way around the site.
        units: the cleared units, in order of work.
        lines: every entry to make at them.
        gaps: what the book does not hold of that.
        firmware: the version that each unit is to have, by its identifier, where a step is planned.
        edition: what the head and the footers say.
    """
    site = walk.settings()
    name = site_title(site.name)
    everywhere = _everywhere(lines)
    by_unit: dict[str, list[Line]] = {unit.id: [] for unit in units}
    for line in lines:
        if line.end != OWN and line not in everywhere:
            by_unit[line.unit.id].append(line)
    same = _same_directories(units, by_unit)
    data = {
        "title": f"{TITLE}: {name}",
        "site": name,
        "edition": edition_data(edition, name, site.reference),
        "gaps": [{"about": gap.about.name, "field": gap.field, "problem": gap.problem} for gap in gaps],
        "units": str(len(units)),
        "entries": str(len(lines)),
        "everywhere": [{"field": field, "value": value} for field, value in _told(everywhere)],
        "cards": [
            {
                "number": str(number),
                "card": card(walk, unit, firmware.get(unit.id)),
                "further": _further(unit, by_unit[unit.id], same.get(unit.id, ())),
            }
            for number, unit in enumerate(units, start=1)
        ],
    }
    return press("rebuild", data, edition)


def _everywhere(lines: Sequence[Line]) -> frozenset[Line]:
    """Return the entries at clocks that are the same at every unit: they are told once, at the top."""
    clocks = [line for line in lines if line.end == CLOCK]
    units = {line.unit.id for line in lines}
    counts = Counter((line.field, line.value) for line in clocks)
    common = {entry for entry, count in counts.items() if count == len(units) > 1}
    return frozenset(line for line in clocks if (line.field, line.value) in common)


def _told(lines: Iterable[Line]) -> list[tuple[str, str]]:
    return sorted({(line.field, line.value or "") for line in lines})


def _same_directories(units: Sequence[Unit], by_unit: Mapping[str, Sequence[Line]]) -> dict[str, tuple[str, ...]]:
    """Return what to enter at each unit whose long directory stands on an earlier card, but for a few entries."""
    printed: dict[tuple[str, ...], str] = {}
    same: dict[str, tuple[str, ...]] = {}
    for number, unit in enumerate(units, start=1):
        entries = tuple(line.value or "" for line in by_unit[unit.id] if line.end == DIRECTORY)
        if len(entries) <= _LONG_COUNT:
            continue
        like = next((one for one in printed if len(set(one) ^ set(entries)) <= _FEW_COUNT), None)
        if like is None:
            printed[entries] = f"card {number}, {unit.name}"
        else:
            without = "; ".join(one for one in like if one not in entries)
            count = len(entries) - len(set(entries) - set(like))
            says = f"all {count} entries of {printed[like]}" + (f", without {without}" if without else "")
            same[unit.id] = (says, *(one for one in entries if one not in like))
    return same


def _further(unit: Unit, further: Sequence[Line], directory: Sequence[str]) -> list[dict[str, Any]]:
    """Return what a cleared unit gets besides its pairing: hours, keys, directory, doors, those that register with it.

    ``directory`` says in words what its directory is, where it need not be printed again, and what it has besides.
    """
    known = list(dict.fromkeys(line.about.name for line in further if line.about.id != unit.id))
    groups: list[dict[str, Any]] = []
    for end, group in groupby((line for line in further if line.about.id == unit.id), key=lambda line: line.end):
        items = [{"field": "" if line.field == LISTED else line.field, "value": line.value} for line in group]
        if end == DIRECTORY and directory:
            items = [{"field": "", "value": text} for text in directory]
        long = any(len(item["value"] or "") > _WIDE_COUNT for item in items)
        groups.append({"end": end, "items": items, "wide": long})
    if known:
        says = "what it knows of these units; the entries stand on their cards and in the table"
        items = [{"field": "", "value": name} for name in known]
        groups.append({"end": says, "items": items, "wide": False})
    return groups
