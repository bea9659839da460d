"""The rebuild cards: every cleared unit in order of work, with both ends of its pairing. They hold no secret."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.rebuild import LISTED, OWN, Line
from doorwright.plan.firmware.record import Gap
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.cards import card
from doorwright.render.pdf.papers.paper import site_title
from doorwright.render.pdf.press import edition_data, press

TITLE: Final = "Rebuild cards"


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
    data = {
        "title": f"{TITLE}: {name}",
        "site": name,
        "edition": edition_data(edition, name, site.reference),
        "gaps": [{"about": gap.about.name, "field": gap.field, "problem": gap.problem} for gap in gaps],
        "units": str(len(units)),
        "entries": str(len(lines)),
        "cards": [
            {
                "number": str(number),
                "card": card(walk, unit, firmware.get(unit.id)),
                "further": _further(unit, lines),
            }
            for number, unit in enumerate(units, start=1)
        ],
    }
    return press("rebuild", data, edition)


def _further(unit: Unit, lines: Sequence[Line]) -> list[dict[str, Any]]:
    """Return what a cleared unit gets besides its pairing: keys, directory, doors, and those that register with it."""
    further = [line for line in lines if line.unit.id == unit.id and line.end != OWN]
    known = list(dict.fromkeys(line.about.name for line in further if line.about.id != unit.id))
    groups: list[dict[str, Any]] = [
        {
            "end": end,
            "items": [{"field": "" if line.field == LISTED else line.field, "value": line.value} for line in group],
        }
        for end, group in groupby((line for line in further if line.about.id == unit.id), key=lambda line: line.end)
    ]
    if known:
        says = "what it knows of these units; the entries stand on their cards and in the table"
        groups.append({"end": says, "items": [{"field": "", "value": name} for name in known]})
    return groups
