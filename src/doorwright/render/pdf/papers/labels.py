"""The label sheet: one sticky label for each unit and switch, with its code."""

from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Any, Final

from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.render.pdf.papers.codes import code_svg, identity
from doorwright.render.pdf.papers.paper import Paper


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """The geometry of a sheet of labels on A4. A stock of another size means other figures here, and nothing else."""

    columns: int = 3
    rows: int = 8
    width_mm: float = 63.5
    height_mm: float = 33.9
    left_mm: float = 7.2
    top_mm: float = 12.9
    gap_x_mm: float = 2.55
    gap_y_mm: float = 0.0


SHEET: Final = LabelSheet()
"""Three by eight, as commonly sold (common practice)."""


def labels(walk: Walk, only: Collection[str] | None = None) -> Paper | None:
    """Return the label sheets, of everything or only what has these identifiers; None where nothing is labelled."""
    units = WalkingOrder(walk).units(unit for unit in walk.all(Unit) if only is None or unit.id in only)
    switches = [switch for switch in walk.all(Switch) if only is None or switch.id in only]
    switches.sort(key=lambda switch: natural_key(switch.name))
    all_labels = [_label(walk, "unit", unit, unit.kind.value) for unit in units]
    all_labels += [_label(walk, "switch", switch, "switch") for switch in switches]
    if not all_labels:
        return None
    per_page = SHEET.columns * SHEET.rows
    return {
        "kind": "labels",
        "title": "Labels",
        "purpose": f"{SHEET.columns} × {SHEET.rows} a sheet, {SHEET.width_mm} × {SHEET.height_mm} mm: print at 100 %",
        "sheet": asdict(SHEET),
        "pages": [all_labels[start : start + per_page] for start in range(0, len(all_labels), per_page)],
    }


def _label(walk: Walk, word: str, part: Unit | Switch, kind: str) -> dict[str, Any]:
    says = identity(word, part.name, part.serial)
    return {
        "name": part.name,
        "kind": kind,
        "where": where_is(walk, part),
        "serial": part.serial,
        "address": part.address,
        "code": code_svg(says),
        "code_says": says,
    }
