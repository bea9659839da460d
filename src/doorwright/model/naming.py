"""What people call a part, and where it is, in words."""

from doorwright.kernel.verdict import Subject
from doorwright.model.change import SITE_KIND
from doorwright.model.door import Door
from doorwright.model.network import Junction, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk


def titled(kind: str, name: str) -> str:
    """Return a name, or where nobody has given one, what it names: "building without a name"."""
    return name.strip() or f"{kind} without a name"


def site_title(name: str) -> str:
    """Return what a site is called on papers and in reports, also where nobody has named it."""
    return titled(SITE_KIND.capitalize(), name)


def name_of(walk: Walk, part: Part) -> str:
    """Return what a person calls a part; what belongs to another part is called by both: "Main gate key 1.3"."""
    match part:
        case Key(unit=owner) | KeyModule(unit=owner):
            return f"{_label(walk.find(Unit, owner))} {part.label}".strip()
        case SecretMark(owner=owner):
            return f"{part.use.value} of {_label(walk.part(owner))} ({part.label})"
    return titled(part.KIND, part.label)


def name_of_subject(walk: Walk, subject: Subject) -> str:
    """Return what a person calls a subject; a part that is gone is called by its kind."""
    if subject.kind == SITE_KIND:
        return site_title(walk.settings().name)
    part = walk.find(PART_BY_KIND[subject.kind], subject.id)
    return name_of(walk, part) if part else f"a {subject.kind} that is gone"


def named(walk: Walk, part: Part) -> str:
    """Return what a person calls a part, and where it is: "switch S2 (Riser B, level 3)"."""
    kind = part.kind.value if isinstance(part, Unit) else part.KIND
    # many names say what they name: not "VCU VCU main" or "door Main door"
    says_so = kind.rpartition(" ")[2].casefold() in part.label.casefold().replace(":", " ").split()
    name = part.label if says_so else f"{kind} {part.label}" if part.label.strip() else titled(kind, "")
    dwelling = walk.find(Dwelling, part.dwelling) if isinstance(part, Unit) else None
    where = f"dwelling {dwelling.door_label}" if dwelling else where_is(walk, part)
    return f"{name} ({where})" if where else name


def where_is(walk: Walk, part: Part) -> str:
    """Return where a part is: its core, level and dwelling, its entrance, its place, or the unit it belongs to."""
    match part:
        case Unit(dwelling=str() as ident):
            dwelling = walk.find(Dwelling, ident)
            return _joined(where_is(walk, dwelling), dwelling.door_label) if dwelling else ""
        case Unit(entrance=str() as ident) | Door(entrance=ident):
            return _label(walk.find(Entrance, ident))
        case (
            Unit(place=ident)
            | Switch(place=ident)
            | Supply(place=ident)
            | Junction(place=ident)
            | Entrance(place=ident)
        ):
            place = walk.find(Place, ident)
            return _joined(place.name, _level(walk, place.level)) if place else ""
        case Dwelling(core=core, level=level):
            return _joined(_label(walk.find(Core, core)), _level(walk, level))
        case Key(unit=ident) | KeyModule(unit=ident):
            return _label(walk.find(Unit, ident))
    return ""


def _level(walk: Walk, ident: str | None) -> str:
    level = walk.find(Level, ident)
    return f"level {level.name}" if level else ""


def _label(part: Part | None) -> str:
    return part.label if part else ""


def _joined(*texts: str) -> str:
    return ", ".join(text for text in texts if text)
