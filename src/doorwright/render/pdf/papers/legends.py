"""The key legends: strips in true scale, to print at 100 %, cut out and slide in beside the keys."""

from collections.abc import Collection, Iterator, Mapping
from functools import partial
from typing import Any, Final

from doorwright.model.legend import shortened
from doorwright.model.naming import where_is
from doorwright.model.place import Dwelling
from doorwright.model.profile import Profile
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.render.pdf.papers.paper import Paper
from doorwright.render.svg.lettering import width_mm

WIDE_MM: Final = 170.0
"""The widest strip that an A4 page takes beside its crop marks."""
HIGH_MM: Final = 200.0
"""The longest row of strips; a longer one goes on beside it."""

LETTER_MM: Final = 2.5
"""The least height of capitals that people read at a door. Common practice."""
_CAPITAL: Final = 0.714
"""Height of a capital of the papers' typeface, in em, from its ``OS/2`` table."""
_LINE: Final = 1.36
"""Ascender to descender of the papers' typeface, in em, from its ``hhea`` table."""
_EDGE_MM: Final = (4.0, 2.0)
"""What the template leaves free of a strip's width and height."""


def legends(walk: Walk, only: Mapping[str, Collection[int]] | None = None) -> Paper | None:
    """Return the legends of all VCUs with keys, or None where no unit has any.

    With ``only``, those of these units alone, and of each the modules of these ordinals (0: the built-in keys).
    """
    panels = [
        panel
        for unit in WalkingOrder(walk).units(walk.units_of_kind(UnitKind.VCU))
        if (only is None or unit.id in only) and (panel := _panel(walk, unit, only[unit.id] if only else None))
    ]
    if not panels:
        return None
    return {
        "kind": "legends",
        "title": "Key legends",
        "purpose": "strips to cut out, in true scale: print at 100 %",
        "panels": panels,
    }


def _panel(walk: Walk, unit: Unit, only: Collection[int] | None) -> dict[str, Any] | None:
    profile = walk.profile(unit.profile)
    rows = [(0, "Built-in keys", profile)] if profile and profile.keys_count else []
    for module in sorted(walk.modules_of(unit.id), key=lambda module: module.ordinal):
        own = walk.profile(module.profile)
        if own is not None and own.keys_count:
            rows.append((module.ordinal, f"Module {module.ordinal}", own))
    rows = [row for row in rows if only is None or row[0] in only]
    if not rows:
        return None
    keys = {(key.module, key.slot): key for key in walk.keys_of(unit.id)}
    strips = [strip for ordinal, name, own in rows for strip in _strips(walk, keys, ordinal, name, own)]
    left_out = [name for _, name, own in rows if not _fits(own)]
    return {
        "unit": unit.name,
        "where": where_is(walk, unit),
        "strips": strips,
        "too_long": list(_too_long(walk, keys, rows)),
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


def _too_long(
    walk: Walk, keys: dict[tuple[int, int], Key], rows: list[tuple[int, str, Profile]]
) -> Iterator[dict[str, str]]:
    """Yield the legends that would stand smaller than people can read, each with a shorter form if there is one."""
    for ordinal, _, own in rows:
        wide, high = own.legend_width_mm, own.legend_height_mm
        if wide is None or high is None:
            continue
        for slot in range(1, own.keys_count + 1):
            key = keys.get((ordinal, slot))
            legend = _text(walk, key)
            if key is not None and not fits_strip(legend, wide, high):
                shorter = shortened(legend, partial(fits_strip, wide_mm=wide, high_mm=high))
                yield {"key": key.label, "legend": legend, "shorter": shorter or ""}


def fits_strip(legend: str, wide_mm: float, high_mm: float) -> bool:
    """Say whether a legend has room on a strip, over as many lines as it is high, in letters that people can read.

    Widths are the averages of the drawings' typeface, which is the wider one: what fits by them fits in print.
    """
    size_mm = LETTER_MM / _CAPITAL
    room_mm = wide_mm - _EDGE_MM[0]
    lines_max = max(1, int((high_mm - _EDGE_MM[1]) / (size_mm * _LINE)))
    lines_count, used_mm = 1, 0.0
    for word in legend.split():
        word_mm = width_mm(word, size_mm)
        if word_mm > room_mm:
            return False
        joined_mm = used_mm + width_mm(" ", size_mm) + word_mm if used_mm else word_mm
        if joined_mm > room_mm:
            lines_count, joined_mm = lines_count + 1, word_mm
        used_mm = joined_mm
    return lines_count <= lines_max


def _text(walk: Walk, key: Key | None) -> str:
    if key is None:
        return ""
    dwelling = walk.find(Dwelling, key.dwelling)
    if dwelling is not None:
        return dwelling.legend or dwelling.door_label
    desk = walk.find(Unit, key.desk)
    return desk.name if desk else ""
