"""How rules say what they found: parts by name and place, long lists cut short, one speaker for parts that clash."""

from collections.abc import Iterable

from doorwright.model.door import Door
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.unit import Key, KeyModule, Unit
from doorwright.model.walk import Walk
from doorwright.rules.rule import HOLDS, Found, Said


def found_or_holds(found: Iterable[Found]) -> Said:
    """Yield what was found, or that the rule holds where nothing was."""
    holds = True
    for one in found:
        holds = False
        yield one
    if holds:
        yield HOLDS


def named(walk: Walk, part: Part) -> str:
    """Return what a person calls a part, and where it is: "switch S2 (Riser B, level 3)"."""
    kind = part.kind.value if isinstance(part, Unit) else part.KIND
    # many names say what they name: not "VCU VCU main" or "door Main door"
    says_so = kind.rpartition(" ")[2].casefold() in part.label.casefold().split()
    name = part.label if says_so else f"{kind} {part.label}"
    where = _where(walk, part)
    return f"{name} ({where})" if where else name


def _where(walk: Walk, part: Part) -> str:
    match part:
        case Unit(dwelling=str() as ident):
            return _labelled("dwelling ", walk.find(Dwelling, ident))
        case Unit(entrance=str() as ident) | Door(entrance=ident):
            return _labelled("", walk.find(Entrance, ident))
        case Unit(place=ident) | Switch(place=ident) | Supply(place=ident):
            place = walk.find(Place, ident)
            level = _labelled("level ", walk.find(Level, place.level)) if place else ""
            return ", ".join(filter(None, (_labelled("", place), level)))
        case Dwelling():
            core = _labelled("", walk.find(Core, part.core))
            return ", ".join(filter(None, (core, _labelled("level ", walk.find(Level, part.level)))))
        case Key(unit=ident) | KeyModule(unit=ident):
            return _labelled("", walk.find(Unit, ident))
    return ""


def _labelled(word: str, part: Part | None) -> str:
    return f"{word}{part.label}" if part else ""


def some(texts: Iterable[str], at_most_count: int = 3) -> str:
    """Return the first few texts in order, and how many more there are."""
    ordered = sorted(texts)
    text = ", ".join(ordered[:at_most_count])
    more = len(ordered) - at_most_count
    return f"{text} and {more} more" if more > 0 else text


def speaks_for(part: Part, sharers: Iterable[Part]) -> bool:
    """Say whether ``part`` reports a clash for its kind: of all that share in it, the least identifier does."""
    return not any(other.id < part.id for other in sharers if type(other) is type(part))


def others(part: Part, sharers: Iterable[Part]) -> tuple[Part, ...]:
    """Return the sharers of a clash other than ``part``, in order of kind and identifier."""
    return tuple(sorted((one for one in sharers if one is not part), key=lambda one: (one.KIND, one.id)))
