"""The way around a site: every look-up that planners, studies and rules make, through one gate.

A ``Walk`` builds an index when it is first asked for and keeps it. ``after`` gives the walk around a changed site by
mending only what the changes touch. Every look-up passes through ``_look``; a ``recording`` collects what was
looked at, and ``altered`` says which look-ups the changes can have altered: all that checking again after one edit
needs. A question that is put ``once`` is a look-up of its own: where its answer is worked out again after an edit and
is the same as before, whoever relied on it need not be asked again.
The order of the parts that a look-up returns means nothing; who needs one sorts.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, Final, TypeAlias, TypeVar

from doorwright.model.calling import Divert, Timetable
from doorwright.model.change import SITE_KIND, Add, Change, Remove, Set, apply
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.profile import Profile
from doorwright.model.site import PART_BY_KIND, PARTS, Site
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit, UnitKind

PartT = TypeVar("PartT", bound=Part)
R = TypeVar("R")

Question: TypeAlias = Callable[["Walk", Any], Any]
"""What can be asked of a walk about a part. Its answer rests on the part and on look-ups alone."""

Look: TypeAlias = tuple[str | Question, str]
"""A look-up: the name of an index and the key asked for, or a question and the identifier of the part."""


@dataclass(frozen=True, slots=True)
class Index:
    """A way to find parts of one kind by something else than their identifier."""

    name: str
    kind: type[Part]
    keys: Callable[[Any], Iterable[str | None]]


EVERY: Final = "*"
"""Key of the diverts that are for all dwellings."""


def _serves(entrance: Entrance) -> tuple[str, ...]:
    return entrance.serves_buildings + entrance.serves_cores + entrance.serves_dwellings


INDEXES: Final = (
    Index("cores of building", Core, lambda core: (core.building,)),
    Index("levels of building", Level, lambda level: (level.building,)),
    Index("dwellings of core", Dwelling, lambda dwelling: (dwelling.core,)),
    Index("dwellings on level", Dwelling, lambda dwelling: (dwelling.level,)),
    Index("dwellings numbered", Dwelling, lambda dwelling: (dwelling.call_number,)),
    Index("dwellings labelled", Dwelling, lambda dwelling: (dwelling.door_label.casefold(),)),
    Index("entrances serving", Entrance, _serves),
    Index("doors of entrance", Door, lambda door: (door.entrance,)),
    Index("doors freed by", Door, lambda door: (door.freed_by,)),
    Index("units at entrance", Unit, lambda unit: (unit.entrance,)),
    Index("units in dwelling", Unit, lambda unit: (unit.dwelling,)),
    Index("units of kind", Unit, lambda unit: (unit.kind.value,)),
    Index("units numbered", Unit, lambda unit: (unit.call_number,)),
    Index("units registered with", Unit, lambda unit: (unit.registrar,)),
    Index("units in subnet", Unit, lambda unit: (unit.subnet,)),
    Index("units with address", Unit, lambda unit: (unit.address,)),
    Index("units with serial", Unit, lambda unit: (unit.serial,)),
    Index("units named", Unit, lambda unit: (unit.name.casefold(),)),
    Index("units with MAC", Unit, lambda unit: (unit.mac,)),
    Index("modules of unit", KeyModule, lambda module: (module.unit,)),
    Index("modules with serial", KeyModule, lambda module: (module.serial,)),
    Index("keys of unit", Key, lambda key: (key.unit,)),
    Index("keys ringing", Key, lambda key: (key.dwelling, key.desk)),
    Index("secrets of", SecretMark, lambda secret: (secret.owner,)),
    Index("switches in subnet", Switch, lambda switch: (switch.subnet,)),
    Index("switches with address", Switch, lambda switch: (switch.address,)),
    Index("switches with serial", Switch, lambda switch: (switch.serial,)),
    Index("switches with MAC", Switch, lambda switch: (switch.mac,)),
    Index("servers with address", SipServer, lambda server: (server.address,)),
    Index("runs from", CableRun, lambda run: (run.near,)),
    Index("runs to", CableRun, lambda run: (run.far,)),
    Index("timetables of entrance", Timetable, lambda timetable: (timetable.entrance,)),
    Index("diverts for dwelling", Divert, lambda divert: (divert.dwelling or (None if divert.desk else EVERY),)),
    Index("diverts for desk", Divert, lambda divert: (None if divert.dwelling else divert.desk,)),
    Index("diverts in hours", Divert, lambda divert: (divert.timetable,)),
    Index("rights in hours", ReleaseRight, lambda right: (right.timetable,)),
    Index("diverts to", Divert, lambda divert: (divert.to_dwelling, divert.to_desk)),
    Index("rights to door", ReleaseRight, lambda right: (right.door,)),
    Index("places with core", Place, lambda place: (place.core,)),
)  # fmt: skip

_INDEX_BY_NAME: Final = {index.name: index for index in INDEXES}
_INDEXES_BY_KIND: Final = {kind: tuple(index for index in INDEXES if index.kind is kind) for kind in PARTS}
_SITE_LOOK: Final[Look] = (SITE_KIND, "")
_REFERRED_FIRST: Final[tuple[type[Part], ...]] = tuple(
    dict.fromkeys((Unit, Switch, Door, Supply, SipServer, Dwelling, Entrance, Place, Subnet, *PARTS))
)
"""Every kind of part, those first that references lead to most often."""


@dataclass(frozen=True, slots=True)
class _Answer:
    """An answer about a part of some kind, and the look-ups that it rests on."""

    value: Any
    kind: type[Part]
    looks: frozenset[Look]


class Walk:
    """The way around one site."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._tables: dict[str, dict[str, tuple[Any, ...]]] = {}
        self._reads: set[Look] | None = None
        self._profiles: dict[str, Profile] | None = None
        self._said: dict[Look, Any] = {}  # what was answered while nobody was recording
        self._answers: dict[Look, _Answer] = {}
        self._askers: dict[Look, set[Look]] = {}  # the answers that rest on a look-up, or once did
        self._doubtful: dict[Look, _Answer] = {}
        self._altered: set[Look] = set()

    # the gate

    def _look(self, table: str, key: str) -> tuple[Any, ...]:
        if self._reads is not None:
            self._reads.add((table, key))
        parts = self._tables.get(table)
        if parts is None:
            parts = self._table(table)
        return parts.get(key, ())

    def _table(self, table: str) -> dict[str, tuple[Any, ...]]:
        if table not in self._tables:
            self._tables[table] = self._build(table)
        return self._tables[table]

    def _build(self, table: str) -> dict[str, tuple[Any, ...]]:
        if table in PART_BY_KIND:
            return {part.id: (part,) for part in self._site.table(PART_BY_KIND[table])}
        index = _INDEX_BY_NAME[table]
        lists: dict[str, list[Part]] = {}
        for part in self._site.table(index.kind):
            for key in dict.fromkeys(index.keys(part)):
                if key is not None:
                    lists.setdefault(key, []).append(part)
        return {key: tuple(parts) for key, parts in lists.items()}

    def once(self, question: Callable[["Walk", PartT], R], part: PartT) -> R:
        """Answer a question about a part; asked again, of this walk or of one after it, it is answered from memory.

        The answer is a value that can be compared. In a recording it counts as one look-up.
        """
        look: Look = (question, part.id)
        value: R
        if self._reads is None:
            if look not in self._said:
                self._said[look] = question(self, part)
            value = self._said[look]
        else:
            if look in self._doubtful:
                self._settle(look)
            if look not in self._answers:
                self._answers[look] = self._work_out(question, part)
            self._reads.add(look)
            value = self._answers[look].value
        return value

    def once_of(self, question: Callable[["Walk", PartT], R], kind: type[PartT], ident: str) -> R | None:
        """Answer a question about the part of this kind and identifier, or None where there is none.

        Unlike finding the part first, this does not count as looking at all that the part has.
        """
        found: tuple[PartT, ...] = self._table(kind.KIND).get(ident, ())
        if found:
            return self.once(question, found[0])
        if self._reads is not None:
            self._reads.add((kind.KIND, ident))
        return None

    def _work_out(self, question: Question, part: Part) -> _Answer:
        outer, self._reads = self._reads, {(part.KIND, part.id)}
        try:
            value = question(self, part)
        except Exception:
            if outer is not None:
                outer |= self._reads  # who asked fails with it, and rests on the same
            raise
        else:
            for read in self._reads:
                self._askers.setdefault(read, set()).add((question, part.id))
            return _Answer(value, type(part), frozenset(self._reads))
        finally:
            self._reads = outer

    @contextmanager
    def recording(self) -> Iterator[set[Look]]:
        """Collect every look-up made inside the block."""
        outer, self._reads = self._reads, set()
        try:
            yield self._reads
        finally:
            if outer is not None:
                outer |= self._reads
            self._reads = outer

    # changed sites

    @staticmethod
    def touched_by(walk_before: "Walk", changes: Iterable[Change]) -> frozenset[Look]:
        """Return every look-up whose answer the changes may alter."""
        looks: set[Look] = set()
        for old, new in _versions(walk_before, changes):
            looks |= _looks_of(old) | _looks_of(new)
            if old is None and new is None:
                looks.add(_SITE_LOOK)
        return frozenset(looks)

    def after(self, changes: tuple[Change, ...]) -> "Walk":
        """Return the walk around the changed site; indexes and answers that the changes leave alone are shared."""
        walk = Walk(apply(self._site, changes))
        walk._tables = dict(self._tables)
        copied: set[str] = set()
        for old, new in _versions(self, changes):
            part = new or old
            if part is None:
                continue
            looks_new = _looks_of(new)
            for table, key in _looks_of(old) | looks_new:
                if table not in walk._tables or (table, key) == (part.KIND, ""):
                    continue  # not asked for yet, or the look at all parts, which has no table
                if table not in copied:
                    walk._tables[table] = dict(walk._tables[table])
                    copied.add(table)
                kept = tuple(other for other in walk._tables[table].get(key, ()) if other.id != part.id)
                walk._tables[table][key] = (*kept, part) if (table, key) in looks_new else kept
        walk._answers, walk._askers = dict(self._answers), self._askers
        walk._altered = set(Walk.touched_by(self, changes))
        walk._settle_all()
        return walk

    @property
    def altered(self) -> frozenset[Look]:
        """Every look-up whose answer may be another than in the walk that this one came after."""
        return frozenset(self._altered)

    def _settle_all(self) -> None:
        """Settle every answer of the walk before that rests, directly or by way of others, on what has altered."""
        waiting = list(self._altered)
        while waiting:
            for asker in self._askers.get(waiting.pop(), ()):
                if asker in self._answers:
                    self._doubtful[asker] = self._answers.pop(asker)
                    waiting.append(asker)
        with self.recording():
            while self._doubtful:
                self._settle(next(iter(self._doubtful)))

    def _settle(self, look: Look) -> None:
        """Keep a doubtful answer if nothing that it rests on has altered, else work it out again and compare."""
        question, ident = look
        known = self._doubtful.pop(look)
        for other in known.looks & self._doubtful.keys():
            if other in self._doubtful:  # settling the others may have settled it
                self._settle(other)
        if known.looks.isdisjoint(self._altered):
            self._answers[look] = known
            return
        part = self.find(known.kind, ident)
        with suppress(Exception):  # whoever asks again fails again, and tells of it
            if part is not None and not isinstance(question, str):
                self._answers[look] = self._work_out(question, part)
        if look not in self._answers or self._answers[look].value != known.value:
            self._altered.add(look)

    # the site and its tables

    @property
    def site(self) -> Site:
        """The whole site. Reading it counts as reading everything: rules ask for what they need instead."""
        return self._site

    def settings(self) -> Site:
        """Return the site for its own fields: name, choices, time zone, profiles. Not for its tables."""
        if self._reads is not None:
            self._reads.add(_SITE_LOOK)
        return self._site

    def all(self, kind: type[PartT]) -> tuple[PartT, ...]:
        """Return every part of one kind."""
        if self._reads is not None:
            self._reads.add((kind.KIND, ""))
        return self._site.table(kind)

    def find(self, kind: type[PartT], ident: str | None) -> PartT | None:
        """Return the part of this kind and identifier, or None."""
        found = self._look(kind.KIND, ident) if ident is not None else ()
        return found[0] if found else None

    def get(self, kind: type[PartT], ident: str) -> PartT:
        """Return the part of this kind and identifier.

        Raises:
            LookupError: the site has no such part.
        """
        part = self.find(kind, ident)
        if part is None:
            raise LookupError(f"the site has no {kind.KIND} {ident!r}")
        return part

    def profile(self, key: str | None) -> Profile | None:
        """Return the profile of this key, or None."""
        site = self.settings()
        if self._profiles is None:
            self._profiles = {profile.key: profile for profile in reversed(site.profiles)}
        return self._profiles.get(key) if key is not None else None

    # the building

    def cores_of(self, building: str) -> tuple[Core, ...]:
        """Cores of a building."""
        return self._look("cores of building", building)

    def dwellings_of_core(self, core: str) -> tuple[Dwelling, ...]:
        """Dwellings of a core."""
        return self._look("dwellings of core", core)

    def dwellings_on(self, level: str) -> tuple[Dwelling, ...]:
        """Dwellings on a level."""
        return self._look("dwellings on level", level)

    def dwellings_numbered(self, call_number: str) -> tuple[Dwelling, ...]:
        """Dwellings that a call number reaches."""
        return self._look("dwellings numbered", call_number)

    def dwellings_labelled(self, door_label: str) -> tuple[Dwelling, ...]:
        """Dwellings with this door label, in any case of letters."""
        return self._look("dwellings labelled", door_label.casefold())

    def dwellings_served(self, entrance: Entrance) -> tuple[Dwelling, ...]:
        """Dwellings that visitors can call from an entrance, each once."""
        cores = [core.id for building in entrance.serves_buildings for core in self.cores_of(building)]
        served = {
            dwelling.id: dwelling
            for core in dict.fromkeys([*cores, *entrance.serves_cores])
            for dwelling in self.dwellings_of_core(core)
        }
        for ident in entrance.serves_dwellings:
            dwelling = self.find(Dwelling, ident)
            if dwelling is not None:
                served[ident] = dwelling
        return tuple(served.values())

    def entrances_serving(self, dwelling: Dwelling) -> tuple[Entrance, ...]:
        """Entrances from which visitors can call a dwelling, each once."""
        core = self.find(Core, dwelling.core)
        keys = (dwelling.id, dwelling.core, *((core.building,) if core else ()))
        entrances = {e.id: e for key in keys for e in self._look("entrances serving", key)}
        return tuple(entrances.values())

    def entrances_naming(self, served: str) -> tuple[Entrance, ...]:
        """Entrances that name this building, core or dwelling as served."""
        return self._look("entrances serving", served)

    def building_of(self, dwelling: Dwelling) -> Building | None:
        """Return the building of a dwelling, through its core."""
        core = self.find(Core, dwelling.core)
        return self.find(Building, core.building) if core else None

    def doors_of(self, entrance: str) -> tuple[Door, ...]:
        """Doors of an entrance."""
        return self._look("doors of entrance", entrance)

    def doors_freed_by(self, unit: str) -> tuple[Door, ...]:
        """Doors that an output of this unit frees."""
        return self._look("doors freed by", unit)

    def timetables_of(self, entrance: str) -> tuple[Timetable, ...]:
        """Timetables of an entrance."""
        return self._look("timetables of entrance", entrance)

    def diverts_for(self, dwelling: str | None) -> tuple[Divert, ...]:
        """Diverts of one dwelling, or with None those that are for all dwellings."""
        return self._look("diverts for dwelling", dwelling or EVERY)

    def diverts_for_desk(self, desk: str) -> tuple[Divert, ...]:
        """Diverts of calls to one desk."""
        return self._look("diverts for desk", desk)

    def users_of_hours(self, timetable: str) -> tuple[Divert | ReleaseRight, ...]:
        """Diverts and rights that hold inside the windows of a timetable only."""
        return (*self._look("diverts in hours", timetable), *self._look("rights in hours", timetable))

    def diverts_to(self, target: str) -> tuple[Divert, ...]:
        """Diverts that lead to a dwelling or desk."""
        return self._look("diverts to", target)

    def rights_to(self, door: str) -> tuple[ReleaseRight, ...]:
        """Rights to free a door."""
        return self._look("rights to door", door)

    # units

    def units_of_kind(self, kind: UnitKind) -> tuple[Unit, ...]:
        """Units of one kind."""
        return self._look("units of kind", kind.value)

    def units_at(self, entrance: str) -> tuple[Unit, ...]:
        """VCUs of an entrance."""
        return self._look("units at entrance", entrance)

    def units_in(self, dwelling: str) -> tuple[Unit, ...]:
        """URUs of a dwelling."""
        return self._look("units in dwelling", dwelling)

    def units_numbered(self, call_number: str) -> tuple[Unit, ...]:
        """Units with a call number of their own."""
        return self._look("units numbered", call_number)

    def units_named(self, name: str) -> tuple[Unit, ...]:
        """Units with this name, in any case of letters."""
        return self._look("units named", name.casefold())

    def units_registered_with(self, registrar: str) -> tuple[Unit, ...]:
        """Units that register with a unit or server."""
        return self._look("units registered with", registrar)

    def modules_of(self, unit: str) -> tuple[KeyModule, ...]:
        """Modules of a unit."""
        return self._look("modules of unit", unit)

    def keys_of(self, unit: str) -> tuple[Key, ...]:
        """Keys of a unit."""
        return self._look("keys of unit", unit)

    def keys_ringing(self, target: str) -> tuple[Key, ...]:
        """Keys that ring a dwelling or desk."""
        return self._look("keys ringing", target)

    def secrets_of(self, owner: str) -> tuple[SecretMark, ...]:
        """Secrets issued to a unit, switch or server."""
        return self._look("secrets of", owner)

    def holders_of_serial(self, serial: str) -> tuple[Part, ...]:
        """Units, key modules and switches with this serial number."""
        return (
            *self._look("units with serial", serial),
            *self._look("modules with serial", serial),
            *self._look("switches with serial", serial),
        )

    def holders_of_mac(self, mac: str) -> tuple[Part, ...]:
        """Units and switches with this MAC address."""
        return (*self._look("units with MAC", mac), *self._look("switches with MAC", mac))

    # the network

    def holders_of_address(self, address: str) -> tuple[Part, ...]:
        """Units, switches and servers with this IP address."""
        return (
            *self._look("units with address", address),
            *self._look("switches with address", address),
            *self._look("servers with address", address),
        )

    def holders_in_subnet(self, subnet: str) -> tuple[Unit | Switch, ...]:
        """Units and switches whose address is to come from a subnet."""
        return (*self._look("units in subnet", subnet), *self._look("switches in subnet", subnet))

    def runs_from(self, near: str) -> tuple[CableRun, ...]:
        """Cable runs that a switch or supply feeds."""
        return self._look("runs from", near)

    def runs_to(self, far: str) -> tuple[CableRun, ...]:
        """Cable runs that end at a unit, switch or door."""
        return self._look("runs to", far)

    def part(self, ident: str | None) -> Part | None:
        """Return whatever part has this identifier, of any kind: for references that may point at several kinds."""
        for kind in _REFERRED_FIRST:
            found = self.find(kind, ident)
            if found is not None:
                return found
        return None


def _looks_of(part: Part | None) -> frozenset[Look]:
    if part is None:
        return frozenset()
    looks: set[Look] = {(part.KIND, part.id), (part.KIND, "")}
    for index in _INDEXES_BY_KIND[type(part)]:
        looks.update((index.name, key) for key in index.keys(part) if key is not None)
    return frozenset(looks)


def _versions(walk: Walk, changes: Iterable[Change]) -> Iterator[tuple[Part | None, Part | None]]:
    """Yield each changed part before and after; (None, None) where a field of the site itself changed."""
    changes_of: dict[tuple[type[Part], str], list[Change]] = {}
    for change in changes:
        match change:
            case Set(kind) if kind == SITE_KIND:
                yield None, None
            case Set(kind, ident):
                changes_of.setdefault((PART_BY_KIND[kind], ident), []).append(change)
            case Add(part) | Remove(part):
                changes_of.setdefault((type(part), part.id), []).append(change)
    for (table, ident), group in changes_of.items():
        old = walk.find(table, ident)
        alone = Site(name="").with_tables({table: (old,) if old else ()})
        yield old, next(iter(apply(alone, group).table(table)), None)
