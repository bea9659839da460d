"""What is done by hand at a unit or switch when the plan changes: boxes swapped, labels stuck, legend strips hung."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from doorwright.model.calling import Divert
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.piece import Holder, PieceKind


@dataclass(frozen=True, slots=True)
class Handwork:
    """The work at one holder in order, the cautions that go with it, and whether its label says something else now."""

    work: tuple[str, ...]
    cautions: tuple[str, ...]
    label_differs: bool


def is_another_box(old: Holder, new: Holder) -> bool:
    """Say whether a different box now stands for the same part: another serial number, MAC address or type.

    A serial number or MAC address that was not known before is no sign of that.
    """
    if isinstance(old, SipServer) or isinstance(new, SipServer):
        return False
    known = ((old.serial, new.serial), (old.mac, new.mac), (old.profile, new.profile))
    return any(a is not None and a != b for a, b in known)


def handwork(
    before: Walk,
    after: Walk,
    old: Holder | None,
    new: Holder | None,
    *,
    fresh: bool,
    strips: tuple[int, ...],
    altered: Collection[tuple[PieceKind, str]],
) -> Handwork:
    """Return what is done by hand at one holder.

    Args:
        before: the way around the earlier site.
        after: the way around the later one.
        old: the holder as it was; None where it was not there.
        new: the holder as it is to be; None where it is no more.
        fresh: whether the box there is new.
        strips: the ordinals of the modules whose legend strips say something else.
        altered: which pieces of its settings differ, by kind and what they are about.
    """
    there = new or old
    if there is None:
        return Handwork((), (), label_differs=False)
    if isinstance(there, SipServer):
        return Handwork(tuple(_trials(after, altered)) if new is not None else (), (), label_differs=False)
    label_differs = new is not None and (old is None or _label(before, old) != _label(after, new))
    work = [
        *_box(before, after, old, new, fresh=fresh),
        *_modules(before, after, there.id),
        *(f"hang a new legend strip: {'built-in keys' if not module else f'module {module}'}" for module in strips),
    ]
    if label_differs:
        work.append("print and stick its label")
    if not fresh and _position(old) != _position(new) and _at(new) is not None and altered:
        work.append("wait while it restarts: its position changes")
    shut_off = fresh or new is None or _at(old) != _at(new)
    cautions = list(_cautions(before, there)) if shut_off else []
    if new is not None:
        work += _trials(after, altered)
        cautions += [] if cautions else _cautions_of_doors(after, altered)
    return Handwork(tuple(work), tuple(cautions), label_differs)


def legend_strips_altered(
    before: Walk, after: Walk, keys: Iterable[tuple[str, int, int]]
) -> Mapping[str, tuple[int, ...]]:
    """Return, by unit, the ordinals of the modules whose legend strips say something else now (0: built-in keys)."""
    altered: dict[str, set[int]] = {}
    for unit, module, slot in keys:
        if after.find(Unit, unit) is not None and _legend(before, unit, module, slot) != _legend(
            after, unit, module, slot
        ):
            altered.setdefault(unit, set()).add(module)
    return {unit: tuple(sorted(modules)) for unit, modules in altered.items()}


def _box(before: Walk, after: Walk, old: Holder | None, new: Holder | None, *, fresh: bool) -> Iterator[str]:
    if old is not None and not isinstance(old, SipServer) and (fresh or new is None):
        serial = f" (serial number {old.serial})" if old.serial else ""
        yield f"take the old one down{serial}, and clear it before it leaves the site: it holds secrets"
    if new is None or isinstance(new, SipServer):
        return
    profile = after.profile(new.profile)
    if fresh:
        serial = f", serial number {new.serial}" if new.serial else ""
        yield f"mount the new one{serial}" + (f": {profile.title}" if profile else "")
        yield "power it up, and wait until it has started"
        baseline = profile.firmware_baseline if profile else None
        if baseline is not None and isinstance(new, Unit) and new.firmware != baseline:
            yield f"see that it runs firmware {baseline}, and load that where it does not"
    elif old is not None and _at(old) != _at(new):
        to = _place(after, new)
        yield f"move it from {_place(before, old) or 'where it was'} to {to}" if to else "take it down: it has no place"


def _modules(before: Walk, after: Walk, ident: str) -> Iterator[str]:
    old = {module.ordinal: module.profile for module in before.modules_of(ident)}
    new = {module.ordinal: module.profile for module in after.modules_of(ident)}
    for ordinal in sorted(old.keys() | new.keys()):
        if old.get(ordinal) == new.get(ordinal):
            continue
        if ordinal in old:
            yield f"take module {ordinal} off"
        if ordinal in new:
            profile = after.profile(new[ordinal])
            yield f"fit module {ordinal}: {profile.title if profile else new[ordinal]}"


def _trials(after: Walk, altered: Collection[tuple[PieceKind, str]]) -> Iterator[str]:
    """Yield what is tried at once after settings that no call from an entrance to a dwelling shows by itself."""
    if any(kind is PieceKind.CLOCK for kind, _ in altered):
        yield "see that its clock shows the right time and date"
    for name in _labels(after, altered, PieceKind.TIMETABLE):
        yield f"try a call just before and just after an edge of {name}"
    if any(kind is PieceKind.DIVERT and after.find(Divert, about) is not None for kind, about in altered):
        yield "let a call divert, and see where it rings"
    for name in _labels(after, altered, PieceKind.DOOR):
        yield f"free {name} by a call: see how long it is free, that it locks again, and that nobody else can free it"


def _labels(walk: Walk, altered: Collection[tuple[PieceKind, str]], kind: PieceKind) -> list[str]:
    parts = [walk.part(about) for of, about in altered if of is kind]
    return sorted((part.label for part in parts if part is not None), key=natural_key)


def _cautions_of_doors(after: Walk, altered: Collection[tuple[PieceKind, str]]) -> Iterator[str]:
    doors = [after.find(Door, about) for kind, about in altered if kind is PieceKind.DOOR]
    names = sorted(
        (door.name for door in doors if door is not None and door.escape_route is not False), key=natural_key
    )
    if names:
        yield (
            f"{', '.join(names)}: where a door is on an escape route, the competent person tests its release by hand, "
            "on fire alarm and on loss of power again, as the fire strategy and the local code ask."
        )


def _cautions(before: Walk, there: Unit | Switch) -> Iterator[str]:
    doors = sorted((door.name for door in before.doors_freed_by(there.id)), key=natural_key)
    if doors:
        yield (
            f"While it is off, no call frees {', '.join(doors)}. Keep the way out free as the fire strategy and the "
            "local code ask; where the door is on an escape route, have the competent person test every release again."
        )
    if isinstance(there, Switch):
        yield "While it is off, all that it feeds is dark: tell the residents and the desk before."


def _label(walk: Walk, holder: Holder) -> tuple[object, ...]:
    if isinstance(holder, SipServer):
        return ()
    return holder.name, where_is(walk, holder), holder.serial, holder.address


def _at(holder: Holder | None) -> str | None:
    """Return the identifier of where a box hangs: its dwelling, entrance or place."""
    match holder:
        case Unit():
            return holder.dwelling or holder.entrance or holder.place
        case Switch():
            return holder.place
    return None


def _place(walk: Walk, holder: Holder | None) -> str:
    part = walk.part(_at(holder))
    if part is None:
        return ""
    return f"dwelling {part.label}" if isinstance(part, Dwelling) else part.label


def _position(holder: Holder | None) -> int | None:
    return holder.position if isinstance(holder, Unit) else None


def _legend(walk: Walk, unit: str, module: int, slot: int) -> tuple[str, ...]:
    texts = []
    for key in walk.keys_of(unit):
        if (key.module, key.slot) == (module, slot):
            dwelling, desk = walk.find(Dwelling, key.dwelling), walk.find(Unit, key.desk)
            texts.append((dwelling.legend or dwelling.door_label) if dwelling else desk.name if desk else "")
    return tuple(sorted(texts))
