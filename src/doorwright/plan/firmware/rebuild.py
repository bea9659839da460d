"""What must be entered again at units that were cleared, one entry a line, in the order of work.

A cleared unit loses its own settings, its clock and hours, how it rings, its keys and doors, and what it knew of the
units that register with it. What a registrar that keeps its settings knows of a cleared unit is still there and is not
entered again.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.place import Dwelling
from doorwright.model.unit import Key, SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.plan.pairing import Entry, pairing_of
from doorwright.plan.piece import Piece, PieceKind
from doorwright.plan.settings import pieces_of, settings_in

OWN: Final = "its own settings"
"""The end at which a unit's own side of its pairing is entered."""

LISTED: Final = "name, number"
"""The field of an entry of a directory."""

DIRECTORY: Final = "its directory"
"""The end at which the entries of a directory are made."""

CLOCK: Final = "its clock"
"""The end at which the time zone and the holidays are entered."""

_IN_HOURS: Final = (PieceKind.CLOCK, PieceKind.TIMETABLE, PieceKind.RINGING, PieceKind.DIVERT)
_OF_DOOR: Final = ("lock", "in calls from", "freed by")
"""What a unit is told of a door besides its output and its release time, which are asked for where they are missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One entry to make at a cleared unit. ``about`` is the unit whose entry it is; ``value`` None where nobody knows.

    A secret's value is its line on the sealed sheet, and ``mark`` the identifier under which the vault keeps it.
    """

    unit: Unit
    where: str
    end: str
    about: Unit
    field: str
    value: str | None
    secret: SecretUse | None = None
    mark: str | None = None


def in_order_of_work(walk: Walk, units: Iterable[Unit]) -> tuple[Unit, ...]:
    """Return cleared units in the order in which they are set up: the VCUs that others register with come first."""
    ordered = WalkingOrder(walk).units(units)
    return tuple(
        sorted(ordered, key=lambda unit: not (unit.kind is UnitKind.VCU and walk.units_registered_with(unit.id)))
    )


def rebuild_lines(walk: Walk, unit: Unit) -> Iterator[Line]:
    """Yield every entry to make at a unit that was cleared."""
    where = where_is(walk, unit)

    def line(about: Unit, end: str, field: str, value: str | None) -> Line:
        return Line(unit=unit, where=where, end=end, about=about, field=field, value=value)

    for entry in pairing_of(walk, unit).at_unit:
        yield _of_pairing(walk, line(unit, OWN, entry.name, entry.value), entry)
    pieces = tuple(pieces_of(walk, unit))
    for piece in (piece for kind in _IN_HOURS for piece in pieces if piece.kind is kind):
        for setting, value in settings_in(walk, piece).items():
            yield line(unit, *_in_hours(walk, piece, setting), value)
    for key in sorted(walk.keys_of(unit.id), key=lambda key: (key.module, key.slot)):
        yield line(unit, "its keys", key.label, _rung(walk, key))
    listed = (piece for piece in pieces if piece.kind is PieceKind.DIRECTORY)
    for value in sorted((value for piece in listed for value in settings_in(walk, piece).values()), key=natural_key):
        yield line(unit, DIRECTORY, LISTED, value)
    for door in sorted(walk.doors_freed_by(unit.id), key=lambda door: natural_key(door.name)):
        yield line(unit, "its doors", f"output that frees {door.name}", _whole(door.output))
        yield line(unit, "its doors", f"release time of {door.name}", _seconds(door))
        told = settings_in(walk, Piece(unit.id, PieceKind.DOOR, door.id))
        for name in _OF_DOOR:
            setting = f"{PieceKind.DOOR} {door.id}: {name}"
            if setting in told:
                yield line(unit, "its doors", f"{door.name}, {name}", told[setting])
    for other in WalkingOrder(walk).units(walk.units_registered_with(unit.id)):
        for entry in pairing_of(walk, other).at_registrar:
            yield _of_pairing(walk, line(other, f"what it knows of {other.name}", entry.name, entry.value), entry)


def _of_pairing(walk: Walk, line: Line, entry: Entry) -> Line:
    if not entry.secret:
        return line
    use = SecretUse(entry.name)
    mark = next((mark.id for mark in walk.secrets_of(line.about.id) if mark.use is use), None)
    return Line(
        unit=line.unit, where=line.where, end=line.end, about=line.about, field=line.field, value=line.value,
        secret=use, mark=mark,
    )  # fmt: skip


def _in_hours(walk: Walk, piece: Piece, setting: str) -> tuple[str, str]:
    """Return at which end a setting of clock, timetable, ringing or divert is entered, and its field."""
    part = walk.part(piece.about)
    label = part.label if part is not None else ""
    match piece.kind:
        case PieceKind.TIMETABLE:
            return f"its timetable {label}".rstrip(), setting.partition(": ")[2]
        case PieceKind.RINGING:
            return "how calls ring", f"rings for {label}" if label else "rings"
        case PieceKind.DIVERT:
            return "its diverts", "divert"
        case _:
            return CLOCK, setting.partition(": ")[2]


def _rung(walk: Walk, key: Key) -> str | None:
    dwelling = walk.find(Dwelling, key.dwelling)
    if dwelling is not None:
        return dwelling.call_number and f"rings {dwelling.call_number} (dwelling {dwelling.door_label})"
    desk = walk.find(Unit, key.desk)
    return desk.call_number and f"rings {desk.call_number} ({desk.name})" if desk else None


def _whole(number: int | None) -> str | None:
    return None if number is None else str(number)


def _seconds(door: Door) -> str | None:
    return None if door.release_s is None else f"{door.release_s:g} s"
