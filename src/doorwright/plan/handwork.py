"""What is done by hand at a unit or switch when the plan changes: boxes swapped, labels stuck, legend strips hung."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.settings import Holder


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
    entries_count: int,
) -> Handwork:
    """Return what is done by hand at one holder; ``old`` or ``new`` is None where it was not, or is no more, there."""
    there = new or old
    if there is None or isinstance(there, SipServer):
        return Handwork((), (), label_differs=False)
    label_differs = new is not None and (old is None or _label(before, old) != _label(after, new))
    work = [
        *_box(before, after, old, new, fresh=fresh),
        *_modules(before, after, there.id),
        *(f"hang a new legend strip: {'built-in keys' if not module else f'module {module}'}" for module in strips),
    ]
    if label_differs:
        work.append("print and stick its label")
    if not fresh and _position(old) != _position(new) and _at(new) is not None and entries_count:
        work.append("wait while it restarts: its position changes")
    shut_off = fresh or new is None or _at(old) != _at(new)
    cautions = tuple(_cautions(before, there)) if shut_off else ()
    return Handwork(tuple(work), cautions, label_differs)


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
