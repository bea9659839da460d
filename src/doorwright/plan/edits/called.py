"""Finding the part that somebody means by a label."""

from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Final

from doorwright.kernel.errors import Refused
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk

_LISTED_COUNT: Final = 12
_NEAR_COUNT: Final = 3


def called(walk: Walk, text: str, *kinds: type[Part]) -> Any:
    """Return the one part of these kinds that a text means.

    A text is a label ("12"), a label behind what it belongs to ("Stair A/12", for a dwelling, level, unit, door or
    place), or a label behind its kind ("dwelling 12").

    Raises:
        Refused: no part is called that (the nearest names are given), or several are (they are listed).
    """
    parts = [part for kind in kinds for part in walk.all(kind)]
    wanted = text.strip().casefold()
    found = [part for part in parts if part.label.casefold() == wanted]
    found = found or [part for part in parts if f"{part.KIND} {part.label}".casefold() == wanted]
    if not found and "/" in wanted:
        found = [part for part in parts if wanted in _ways(walk, part)]
    if len(found) == 1:
        return found[0]
    what = _either(kind.KIND for kind in kinds)
    if not found:
        near = get_close_matches(wanted, {part.label.casefold() for part in parts}, _NEAR_COUNT)
        labels = sorted({part.label for part in parts if part.label.casefold() in near}, key=natural_key)
        raise Refused(
            f"no {what} is called {text!r}",
            remedy=f"The nearest names: {', '.join(labels)}" if labels else "Names are in: doorwright show BOOK",
        )
    several = [(named(walk, part), _way_to(walk, part, found)) for part in found]
    several.sort(key=lambda pair: natural_key(pair[1]))
    listed = "; ".join(f"{name}: {way!r}" for name, way in several[:_LISTED_COUNT])
    more = f"; and {len(several) - _LISTED_COUNT} more" if len(several) > _LISTED_COUNT else ""
    raise Refused(f"{len(found)} parts are called {text!r}", remedy=f"Say which one: {listed}{more}")


def profile_called(profiles: Mapping[str, Profile], key: str, kinds: Iterable[str]) -> Profile:
    """Return the profile of a key that must be of one of these kinds.

    Raises:
        Refused: there is none, or it is of another kind.
    """
    wanted = tuple(kinds)
    fitting = sorted(known for known, profile in profiles.items() if profile.kind.value in wanted)
    profile = profiles.get(key)
    listed = f"Types of that kind: {', '.join(fitting[:_LISTED_COUNT]) or 'none'}"
    if profile is None:
        near = nearest(key, fitting)
        raise Refused(f"there is no type {key!r}", remedy=f"The nearest: {', '.join(near)}" if near else listed)
    if profile.kind.value not in wanted:
        raise Refused(f"{key!r} is a {profile.kind.value}, where a {_either(wanted)} is wanted", remedy=listed)
    return profile


def nearest(text: str, names: Iterable[str]) -> list[str]:
    """Return the few names that somebody may have meant by a text, the nearest first."""
    return get_close_matches(text, list(names), _NEAR_COUNT)


def _way_to(walk: Walk, part: Part, found: list[Part]) -> str:
    """Return the shortest text that means this part alone among those found."""
    others = {way for other in found if other is not part for way in _ways(walk, other)}
    own_kind = sum(1 for other in found if other.KIND == part.KIND) == 1
    if own_kind and len({other.KIND for other in found}) > 1:
        return f"{part.KIND} {part.label}"
    owners = [way for way in _owners(walk, part) if f"{way}/{part.label}".casefold() not in others]
    return f"{owners[0]}/{part.label}" if owners else part.label


def _ways(walk: Walk, part: Part) -> set[str]:
    return {f"{owner}/{part.label}".casefold() for owner in _owners(walk, part)}


def _owners(walk: Walk, part: Part) -> Iterator[str]:
    """Yield what a label may stand behind: what the part belongs to, then that behind its building."""
    match part:
        case Core(building=ident) | Level(building=ident):
            yield from _labels(walk.find(Building, ident))
        case Dwelling(core=ident):
            core = walk.find(Core, ident)
            if core is not None:
                yield core.name
                yield from (f"{owner}/{core.name}" for owner in _owners(walk, core))
        case Unit():
            dwelling = walk.find(Dwelling, part.dwelling)
            if dwelling is not None:
                yield dwelling.door_label
                yield from (f"{owner}/{dwelling.door_label}" for owner in _owners(walk, dwelling))
            yield from _labels(walk.find(Entrance, part.entrance))
            yield from _labels(walk.find(Place, part.place))
        case Door(entrance=ident):
            yield from _labels(walk.find(Entrance, ident))
        case Place():
            yield from _labels(walk.find(Core, part.core))
            yield from _labels(walk.find(Building, part.building))
        case Switch():
            yield from _labels(walk.find(Place, part.place))


def _labels(part: Part | None) -> Iterator[str]:
    if part is not None:
        yield part.label


def _either(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last
