"""Serial numbers, MAC addresses and IP addresses that stand twice, across sheets."""

from typing import Any, Final

from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.unit import KeyModule, Unit
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.draft import Draft

_SINGLE: Final[tuple[tuple[str, str, tuple[type[Part], ...]], ...]] = (
    ("serial", "serial number", (Unit, KeyModule, Switch)),
    ("mac", "MAC address", (Unit, Switch)),
    ("address", "address", (Unit, Switch, SipServer)),
)


def check_twice(assembly: Assembly) -> None:
    """Add a mistake for each value that stands a second time, unless both stood so before."""
    for field, what, kinds in _SINGLE:
        first: dict[Any, Draft] = {}
        for kind in kinds:
            for draft in assembly.drafts[kind].values():
                value = draft.value(field)
                if value is None:
                    continue
                other = first.setdefault(value.casefold(), draft)
                if other is not draft and (_changed(draft, field) or _changed(other, field)):
                    _tell(assembly, field, what, *((other, draft) if _changed(draft, field) else (draft, other)))


def _changed(draft: Draft, field: str) -> bool:
    return field in draft.given and draft.given[field] != getattr(draft.old, field, None)


def _tell(assembly: Assembly, field: str, what: str, known: Draft, draft: Draft) -> None:
    row = draft.row
    if row is None:
        return
    column = field if any(column.field == field for column in row.layout.sheet.columns) else f"unit_{field}"
    where = f"{known.spot()}" if known.row else f'the {known.kind.KIND} "{known.value("name")}"'
    assembly.report.mistake(
        row.spot(column), draft.value(field), f"this {what} stands twice; the other is at {where}",
        "Read the label again and correct the wrong one, or leave it blank until it is known.",
    )  # fmt: skip
