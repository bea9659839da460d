"""What was rehearsed and what was found beside what is planned, as commands print it."""

from typing import Any

from doorwright.app.take_found import Compared
from doorwright.app.three_sides import Rehearsal
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
        "rehearsal": _rehearsal_as_json(compared.rehearsal),
        "differences": [
            {
                "part": {"kind": one.part.KIND, "id": one.part.id, "label": one.part.label},
                "where": one.where,
                "aspect": one.aspect,
                "planned": one.planned or None,
                "rehearsed": one.rehearsed or None,
                "found": one.found or None,
                "differs": one.at,
                "to_do": one.to_do,
                "seen_at": one.seen.seen_at,
                "seen_by": one.seen.seen_by,
            }
            for one in compared.lines
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


def _rehearsal_as_json(rehearsal: Rehearsal | None) -> dict[str, Any] | None:
    if rehearsal is None:
        return None
    return {
        "revision": rehearsal.head.revision,
        "is_stale": rehearsal.is_stale,
        "calls": rehearsal.head.calls_count,
        "as_proved": rehearsal.head.proved_count,
        "conditions": rehearsal.head.conditions,
        "at": rehearsal.at,
        "by": rehearsal.by,
    }


def print_compared(printer: Printer, compared: Compared) -> None:
    """Print planned, rehearsed and found side by side, with what to do at which end."""
    rows = [
        (
            one.part.label,
            one.aspect,
            with_unit(one.aspect, one.planned) or "(not in the plan)",
            with_unit(one.aspect, one.rehearsed) or "-",
            with_unit(one.aspect, one.found) or "-",
            one.to_do,
            one.where,
        )
        for one in compared.lines
    ]
    rows += [
        (f"{one.by} {one.identity}", "", "(nothing)", "-", one.seen.value, FIND_IT, "") for one in compared.strangers
    ]
    printer.heading(f"Planned, rehearsed and found, revision {compared.revision}")
    if rows:
        printer.table(("part", "what", "planned", "rehearsed", "found", "what to do", "where"), rows)
    printer.line(
        f"Found {compared.seen_count} of {compared.parts_count} units and switches;"
        f" {counted(len(compared.differences), 'difference')}, {len(compared.strangers)} not in the plan."
    )
    printer.line(told_rehearsal(compared.rehearsal, compared.revision))


def print_rehearsed(printer: Printer, compared: Compared) -> None:
    """Print planned and rehearsed side by side, of a building that was asked on the wire."""
    rows = [
        (
            one.part.label,
            one.aspect,
            with_unit(one.aspect, one.planned) or "(not in the plan)",
            with_unit(one.aspect, one.rehearsed) or "-",
            one.to_do,
        )
        for one in compared.lines
    ]
    printer.heading(f"Planned and rehearsed, revision {compared.revision}")
    if rows:
        printer.table(("part", "what", "planned", "rehearsed", "what to do"), rows)
    printer.line(f"{counted(len(rows), 'difference')}; nothing of it counts as found.")


def told_rehearsal(rehearsal: Rehearsal | None, revision: int) -> str:
    """Return in words which rehearsal the book keeps, and whether the plan has changed since."""
    if rehearsal is None:
        return "Not rehearsed yet: doorwright rehearse BOOK"
    head = rehearsal.head
    told = (
        f"Rehearsed at revision {head.revision} on {rehearsal.at:%Y-%m-%d}: {head.proved_count} of"
        f" {counted(head.calls_count, 'call')} as proved; {counted(len(rehearsal.differences), 'difference')}"
    )
    conditions = f" ({head.conditions})" if head.conditions else ""
    if rehearsal.is_stale:
        return f"{told}{conditions}. The plan is at {revision}: rehearse again."
    return f"{told}{conditions}."
