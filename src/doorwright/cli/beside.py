"""What was found beside what is planned, as commands print it."""

from typing import Any

from doorwright.app.take_found import Compared
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.model.aspect import SITE_SUBJECT, with_unit
from doorwright.rules.strangers import FIND_IT


def compared_as_json(compared: Compared) -> dict[str, Any]:
    """Return a comparison as JSON tells it."""
    return {
        "revision": compared.revision,
        "parts": compared.parts_count,
        "seen": compared.seen_count,
        "differences": [
            {
                "part": {"kind": one.part.KIND, "id": one.part.id, "label": one.part.label},
                "where": where,
                "aspect": one.aspect,
                "planned": one.planned or None,
                "found": one.found,
                "to_do": one.to_do,
                "seen_at": one.seen.seen_at,
                "seen_by": one.seen.seen_by,
            }
            for one, where in compared.differences
        ],
        "not_in_plan": [
            {
                "part": {"kind": SITE_SUBJECT.kind, "id": SITE_SUBJECT.id},
                "known_by": one.by,
                "identity": one.identity,
                "found": one.seen.value,
                "seen_at": one.seen.seen_at,
                "seen_by": one.seen.seen_by,
            }
            for one in compared.strangers
        ],
    }


def print_compared(printer: Printer, compared: Compared) -> None:
    """Print planned and found side by side, with what to do at which end."""
    rows = [
        (
            one.part.label,
            one.aspect.value,
            with_unit(one.aspect, one.planned) or "(not in the plan)",
            with_unit(one.aspect, one.found),
            one.to_do,
            where,
        )
        for one, where in compared.differences
    ]
    rows += [(f"{one.by} {one.identity}", "", "(nothing)", one.seen.value, FIND_IT, "") for one in compared.strangers]
    printer.heading(f"Found beside planned, revision {compared.revision}")
    if rows:
        printer.table(("part", "what", "planned", "found", "what to do", "where"), rows)
    printer.line(
        f"Seen {compared.seen_count} of {compared.parts_count} units and switches;"
        f" {counted(len(compared.differences), 'difference')}, {len(compared.strangers)} not in the plan."
    )
