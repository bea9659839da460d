"""The difference of two revisions as a person would tell it: part by part, and what befell many parts at once."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from typing import Any, Final

from doorwright.kernel.words import plural
from doorwright.model.calling import Divert, Window
from doorwright.model.change import SITE_KIND, Add, Change, Remove, Set
from doorwright.model.door import ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, where_is
from doorwright.model.network import CableRun, Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling
from doorwright.model.profile import Profile
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.profiling import differences
from doorwright.plan.hours import window_text

MANY_COUNT: Final = 5
"""From this many parts of a kind on, the same thing done to each is told once, as a count. Our choice."""
_LISTED_COUNT: Final = 3
_IDENTITY: Final = ("profile", "serial", "mac", "firmware")
_WORDS: Final = {
    "mac": "MAC address", "serial": "serial number", "profile": "type", "cidr": "range", "vlan": "VLAN",
    "near": "near end", "far": "far end", "freed_by": "unit that frees it", "door_label": "door label",
    "kind": "use", "registrations_max": "registrations at most", "release_s": "release time", "ring_s": "ring time",
    "first": "first address to issue", "last": "last address to issue", "reserved": "reserved addresses",
    "calls_desk": "calls the desk", "divert_to": "desk that takes the calls", "to_dwelling": "dwelling that takes them",
    "to_desk": "desk that takes them", "serves_buildings": "buildings served",
    "serves_cores": "cores served", "serves_dwellings": "dwellings served",
    "lock_takes": "what the lock keeps", "lock_suppressed": "suppressed lock", "crosses": "crossing of cables",
    "main": "place where the network begins", "switches_max_count": "switches at most", "per": "measure",
    "bundle_count": "cables in its bundle", "battery_temperature_c": "coldest temperature of its battery",
    "calls_max_count": "calls at once", "poe_diversity_ratio": "share of PoE power drawn at once",
    "poe_efficiency_ratio": "share of its power that a switch gives by PoE",
}  # fmt: skip
_WHERE: Final = ("dwelling", "entrance", "place")
"""Fields that say where a unit or switch is."""
_NAMES: Final = ("name", "door_label")
_UNITS: Final = {
    "mm": "mm", "m": "m", "s": "s", "ms": "ms", "min": "min", "h": "h", "v": "V", "a": "A", "ah": "Ah", "c": "°C",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What befell one part, or many of a kind at once; each sentence stands alone."""

    kind: str
    part: str
    sentences: tuple[str, ...]


def told(before: Walk, after: Walk, changes: Iterable[Change]) -> tuple[Story, ...]:
    """Return the stories of a list of changes: what befell many first, then part by part as the changes stand."""
    teller = _Teller(before, after)
    many, alone = _sorted_out(changes)
    stories = [teller.many(group) for group in many]
    of_part: dict[tuple[str, str], list[Change]] = {}
    for change in alone:
        of_part.setdefault(teller.owner(change), []).append(change)
    stories += [teller.one(owner, group) for owner, group in of_part.items()]
    return tuple(story for story in stories if story.sentences)


def _sorted_out(changes: Iterable[Change]) -> tuple[list[list[Change]], list[Change]]:
    """Separate what many parts share from the rest."""
    alike: dict[tuple[Any, ...], list[Change]] = {}
    for change in changes:
        alike.setdefault(_sort(change), []).append(change)
    many = [group for sort, group in alike.items() if len(group) >= MANY_COUNT and sort[1] != SITE_KIND]
    alone = [
        change for sort, group in alike.items() if len(group) < MANY_COUNT or sort[1] == SITE_KIND for change in group
    ]
    return many, alone


def _sort(change: Change) -> tuple[Any, ...]:
    match change:
        case Set(kind, _, field, old, new):
            return "set", kind, field, old is None, new is None
        case Add(SecretMark(use=use)) | Remove(SecretMark(use=use)):
            return type(change).__name__, SecretMark.KIND, use
        case Add(part) | Remove(part):
            return type(change).__name__, part.KIND


class _Teller:
    """Words for the changes between two sites."""

    def __init__(self, before: Walk, after: Walk) -> None:
        self._before = before
        self._after = after

    def owner(self, change: Change) -> tuple[str, str]:
        """Return the part under which a change is told: a secret and a key under their unit."""
        if isinstance(change, Set):
            return change.kind, change.id
        match change.part:
            case SecretMark(owner=ident) | Key(unit=ident):
                part = self._after.part(ident) or self._before.part(ident)
                return (part.KIND, part.id) if part else (change.part.KIND, change.part.id)
        return change.part.KIND, change.part.id

    def one(self, owner: tuple[str, str], changes: list[Change]) -> Story:
        """Tell what befell one part."""
        kind, ident = owner
        if kind == SITE_KIND:
            sets = [change for change in changes if isinstance(change, Set)]
            return Story(kind=kind, part=self._after.site.name, sentences=tuple(self._site(sets)))
        part_kind = PART_BY_KIND[kind]
        old, new = self._before.find(part_kind, ident), self._after.find(part_kind, ident)
        part: Part = new or old  # type: ignore[assignment]  # a change names a part of one of the two sites
        name = name_of(self._after if new else self._before, part)
        title = self._of_hours(self._after if new else self._before, part) or _title(part, name)
        return Story(kind=kind, part=name, sentences=tuple(self._sentences(part, title, changes)))

    def _of_hours(self, walk: Walk, part: Part) -> str:
        """Return what a divert or right is called that has no name of its own; nothing for other parts."""
        match part:
            case Divert():
                called, to = part.dwelling or part.desk, part.to_dwelling or part.to_desk
                whose = f"of {self._label(walk, called)}" if called else "of every dwelling"
                at = f" at {self._label(walk, part.entrance)}" if part.entrance else ""
                return f"The divert {whose}{at} ({part.cause.value}) to {self._label(walk, to)}"
            case ReleaseRight():
                holders = (*part.buildings, *part.cores, *part.dwellings, *part.desks)
                names = [self._label(walk, ident) for ident in holders[:_LISTED_COUNT]]
                more = [f"{len(holders) - _LISTED_COUNT} others"] if len(holders) > _LISTED_COUNT else []
                return f"The right of {', '.join([*names, *more]) or 'nobody'} to free {self._label(walk, part.door)}"
        return ""

    def many(self, changes: list[Change]) -> Story:
        """Tell what befell many parts of a kind."""
        first = changes[0]
        count = len(changes)
        kind = first.kind if isinstance(first, Set) else first.part.KIND
        match first:
            case Add(SecretMark(use=use)):
                text = f"{count} {use.value}s were issued"
            case Remove(SecretMark(use=use)):
                text = f"{count} {use.value}s no longer hold"
            case Add():
                text = f"{count} {plural(kind)} were added{self._spread(changes, self._after)}"
            case Remove():
                text = f"{count} {plural(kind)} were removed{self._spread(changes, self._before)}"
            case Set(_, _, field, None, _):
                text = f"{count} {plural(kind)} were given {plural(_words(field))}{self._spread(changes, self._after)}"
            case Set(_, _, field, _, None):
                text = f"{count} {plural(kind)} lost their {_words(field)}{self._spread(changes, self._before)}"
            case Set(_, _, field, _, _):
                text = f"{count} {plural(kind)} have another {_words(field)}{self._spread(changes, self._after)}"
        return Story(kind=kind, part="", sentences=(text,))

    def _spread(self, changes: list[Change], walk: Walk) -> str:
        """Return the few values that many changes share, or the first and last of them."""
        values: dict[str, None] = {}
        reference = False
        for change in changes:
            if isinstance(change, Set):
                walk, value = (self._after, change.new) if change.new is not None else (self._before, change.old)
                reference = reference or (isinstance(value, str) and _find(walk, value) is not None)
                values[self._value(walk, change.field, value)] = None
            else:
                values[name_of(walk, change.part)] = None
        ordered = sorted(values, key=natural_key)
        if not ordered or ordered == [""]:
            return ""
        if len(ordered) <= _LISTED_COUNT:
            return f" ({', '.join(ordered)})"
        if reference:  # the names of parts are no scale: "from the gate to the garage" would say nothing
            return f" ({', '.join(ordered[: _LISTED_COUNT - 1])} and {len(ordered) - _LISTED_COUNT + 1} others)"
        return f" ({ordered[0]} to {ordered[-1]})"

    def _sentences(self, part: Part, title: str, changes: list[Change]) -> Iterator[str]:
        sets = {change.field: change for change in changes if isinstance(change, Set)}
        for change in changes:
            match change:
                case Add(added) if added.id == part.id:
                    yield self._added(added, title)
                case Remove(removed) if removed.id == part.id:
                    where = where_is(self._before, removed)
                    yield f"{title} was removed" + (f" ({where})" if where else "")
                case Add(Key() as key):
                    yield f"{name_of(self._after, key)} was given to {self._rung(self._after, key)}"
                case Remove(Key() as key):
                    yield f"{name_of(self._before, key)} no longer rings {self._rung(self._before, key)}"
                case Add(SecretMark() as mark):
                    yield f"A new {mark.use.value} was issued to {title}: line {mark.line} of the sealed sheet"
                case Remove(SecretMark() as mark):
                    yield f"The {mark.use.value} of {title} on line {mark.line} of the sealed sheet no longer holds"
        told: set[str] = set()
        if isinstance(part, Unit | Switch) and _swapped(sets):
            told = set(_IDENTITY) & set(sets)
            values = (self._from_to(field, sets[field]) for field in _IDENTITY if field in told)
            yield f"{title} was replaced: {', '.join(values)}"
        named = next((sets[field] for field in _NAMES if field in sets), None)
        if named is not None and named.old and named.new:
            told |= {named.field}
            yield f"{_title(part, named.old)} is called {named.new} now"
        moves = [sets[field] for field in _WHERE if field in sets] if isinstance(part, Unit | Switch) else []
        if moves and all(move.old is not None and move.new is not None for move in moves):
            told |= {move.field for move in moves}
            came = ", ".join(self._spot(self._before, move.field, move.old) for move in moves)
            went = ", ".join(self._spot(self._after, move.field, move.new) for move in moves)
            yield f"{title} was moved from {came} to {went}"
        rest = [change for field, change in sets.items() if field not in told]
        if rest:
            yield f"{title}: {'; '.join(self._set(change) for change in rest)}"

    def _added(self, part: Part, title: str) -> str:
        match part:
            case Dwelling():
                level, core = self._label(self._after, part.level), self._label(self._after, part.core)
                number = f", call number {part.call_number}" if part.call_number else ", without a call number"
                return f"{title} was added on level {level} of {core}{number}"
            case Unit():
                where = where_is(self._after, part)
                facts = [self._type(part.profile), f"serial number {part.serial}" if part.serial else ""]
                facts += [f"address {part.address}" if part.address else ""]
                place = f" at {where}" if where else ""
                return f"{title} was added{place}: {', '.join(fact for fact in facts if fact)}"
            case CableRun():
                ends = f"{self._label(self._after, part.near)} to {self._label(self._after, part.far)}"
                return f"{title} was added, from {ends}"
            case KeyModule():
                return f"{part.label.capitalize()} was added to {self._label(self._after, part.unit)}"
        where = where_is(self._after, part)
        return f"{title} was added" + (f" ({where})" if where else "")

    def _spot(self, walk: Walk, field: str, ident: str) -> str:
        label = self._label(walk, ident)
        return f"dwelling {label}" if field == "dwelling" else label

    def _set(self, change: Set) -> str:
        if change.old is None:
            return f"{_words(change.field)} {self._value(self._after, change.field, change.new)} was given"
        if change.new is None:
            return f"{_words(change.field)} {self._value(self._before, change.field, change.old)} was taken away"
        if isinstance(change.old, tuple) and isinstance(change.new, tuple):
            return f"{_words(change.field)}: {self._items(change)}"
        return self._from_to(change.field, change)

    def _from_to(self, field: str, change: Set) -> str:
        old = self._value(self._before, field, change.old) or "not known"
        new = self._value(self._after, field, change.new) or "not known"
        return f"{_words(field)} {old} -> {new}"

    def _items(self, change: Set) -> str:
        old = {self._value(self._before, change.field, item) for item in change.old}
        new = {self._value(self._after, change.field, item) for item in change.new}
        said = [f"{', '.join(sorted(new - old, key=natural_key))} came in"] if new - old else []
        said += [f"{', '.join(sorted(old - new, key=natural_key))} went out"] if old - new else []
        return " and ".join(said) or "in another order"

    def _site(self, changes: Iterable[Set]) -> Iterator[str]:
        for change in changes:
            old, new = change.old, change.new
            if change.field == "profiles":
                yield from _types(old, new)
            elif is_dataclass(old) and is_dataclass(new):
                for field in fields(old):
                    was, now = getattr(old, field.name), getattr(new, field.name)
                    if was != now:
                        yield f"The site: {self._set(Set(SITE_KIND, '', field.name, was, now))}"
            else:
                yield f"The site: {self._set(change)}"

    def _rung(self, walk: Walk, key: Key) -> str:
        return self._label(walk, key.dwelling or key.desk)

    def _type(self, key: str) -> str:
        profile = self._after.profile(key) or self._before.profile(key)
        return profile.title if profile else key

    def _label(self, walk: Walk, ident: str | None) -> str:
        found = _find(walk, ident)
        return name_of(walk, found) if found else ident or "nothing"

    def _value(self, walk: Walk, field: str, value: Any) -> str:
        """Say a value in words: references by name, nothing as nothing, quantities with their unit."""
        match value:
            case None:
                text = ""
            case bool():
                text = "yes" if value else "no"
            case tuple():
                text = ", ".join(self._value(walk, field, item) for item in value)
            case str():
                found = _find(walk, value)
                text = name_of(walk, found) if found else value
            case Window():
                text = window_text(value)
            case date():
                text = value.isoformat()
            case int() | float():
                unit = _UNITS.get(field.rpartition("_")[2], "") if "_" in field else ""
                text = f"{value:g} {unit}".strip() if isinstance(value, float) else f"{value} {unit}".strip()
            case _:
                text = str(value)
        return text


def _find(walk: Walk, ident: str | None) -> Part | None:
    found = walk.part(ident)
    for kind in PART_BY_KIND.values():
        found = found or walk.find(kind, ident)
    return found


def _types(old: Iterable[Profile], new: Iterable[Profile]) -> Iterator[str]:
    was, now = {one.key: one for one in old}, {one.key: one for one in new}
    groups = (("came in", now.keys() - was.keys()), ("went out", was.keys() - now.keys()))
    said = [f"{', '.join(sorted(keys))} {word}" for word, keys in groups if keys]
    if said:
        yield f"The site's types: {'; '.join(said)}"
    altered = [key for key in was if key in now and was[key] != now[key]]
    for key in altered:
        yield f"Type {key}: {'; '.join(differences(was[key], now[key]))}"
    if not said and not altered:
        yield "The site's types: in another order"


def _swapped(sets: dict[str, Set]) -> bool:
    return any(field in sets and sets[field].old is not None for field in ("serial", "mac", "profile"))


def _title(part: Part, name: str) -> str:
    """Return a name that says what it names, with a capital letter: "Dwelling 14", but not "Unit URU 14"."""
    if isinstance(part, Unit | Switch) or part.KIND.casefold() in name.casefold().split():
        return name
    return f"{part.KIND[0].upper()}{part.KIND[1:]} {name}"


def _words(field: str) -> str:
    stem, _, unit = field.rpartition("_")
    return _WORDS.get(field) or (stem if stem and unit in _UNITS else field).replace("_", " ")
