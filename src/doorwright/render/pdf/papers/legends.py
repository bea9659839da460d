"""The key legends: strips in true scale, to print at 100 %, cut out and slide in beside the keys."""

from collections.abc import Iterator
from typing import Any, Final

from doorwright.model.naming import where_is
from doorwright.model.place import Dwelling
from doorwright.model.profile import Profile
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.render.pdf.papers.paper import Paper

WIDE_MM: Final = 170.0
"""The widest strip that an A4 page takes beside its crop marks."""
HIGH_MM: Final = 200.0
"""The longest row of strips; a longer one goes on beside it."""


def legends(walk: Walk) -> Paper | None:
    """Return the legends of all VCUs with keys, or None where no unit has any."""
    panels = [
        panel for unit in WalkingOrder(walk).units(walk.units_of_kind(UnitKind.VCU)) if (panel := _panel(walk, unit))
    ]
    if not panels:
        return None
    return {
        "kind": "legends",
        "title": "Key legends",
        "purpose": "strips to cut out, in true scale: print at 100 %",
        "panels": panels,
    }


def _panel(walk: Walk, unit: Unit) -> dict[str, Any] | None:
    profile = walk.profile(unit.profile)
    rows = [(0, "Built-in keys", profile)] if profile and profile.keys_count else []
    for module in sorted(walk.modules_of(unit.id), key=lambda module: module.ordinal):
        own = walk.profile(module.profile)
        if own is not None and own.keys_count:
            rows.append((module.ordinal, f"Module {module.ordinal}", own))
    if not rows:
        return None
    keys = {(key.module, key.slot): key for key in walk.keys_of(unit.id)}
    strips = [strip for ordinal, name, own in rows for strip in _strips(walk, keys, ordinal, name, own)]
    left_out = [name for _, name, own in rows if not _fits(own)]
    return {
        "unit": unit.name,
        "where": where_is(walk, unit),
        "strips": strips,
        "left_out": f"{', '.join(left_out)}: no strip, because the data sheet gives no legend size, or one too large "
        "for this paper."
        if left_out
        else "",
    }


def _fits(profile: Profile) -> bool:
    wide, high = profile.legend_width_mm, profile.legend_height_mm
    return wide is not None and high is not None and 0 < wide <= WIDE_MM and 0 < high <= HIGH_MM


def _strips(
    walk: Walk, keys: dict[tuple[int, int], Key], ordinal: int, name: str, profile: Profile
) -> Iterator[dict[str, Any]]:
    wide, high = profile.legend_width_mm, profile.legend_height_mm
    if wide is None or high is None or not _fits(profile):
        return
    at_most = int(HIGH_MM // high)
    slots = range(1, profile.keys_count + 1)
    for start in range(0, len(slots), at_most):
        part = slots[start : start + at_most]
        more = f", keys {part[0]} to {part[-1]}" if len(slots) > at_most else ""
        yield {
            "name": name + more,
            "width_mm": wide,
            "height_mm": high,
            "keys": [_text(walk, keys.get((ordinal, slot))) for slot in part],
        }


def _text(walk: Walk, key: Key | None) -> str:
    if key is None:
        return ""
    dwelling = walk.find(Dwelling, key.dwelling)
    if dwelling is not None:
        return dwelling.legend or dwelling.door_label
    desk = walk.find(Unit, key.desk)
    return desk.name if desk else ""
