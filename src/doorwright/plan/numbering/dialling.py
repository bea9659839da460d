"""What a call number must be: its holder's own within one system, not reserved, and within reach of every keypad."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.reserved import Reserved, reserved_of
from doorwright.model.site import NumberPrefix
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.systems import server_of_dwelling

EVERYWHERE = ""
"""The one system of a site whose numbers are all told apart; its numbers are taken in every system."""


@dataclass(frozen=True, slots=True)
class Keypad:
    """A keypad that is to reach a dwelling: how many digits it takes, and whether it calls without an end key."""

    vcu: Unit
    digits_max: int | None
    at_once: bool


class Dialling:
    """The keypads, reservations and systems of a site, each looked up once."""

    def __init__(
        self,
        walk: Walk,
        *,
        no_digits_max: frozenset[str] | None = frozenset(),
        not_at_once: frozenset[str] = frozenset(),
        not_reserved: frozenset[str] = frozenset(),
    ) -> None:
        """Look at a site, or at it as it would be with some limits gone.

        Args:
            walk: the way around the site.
            no_digits_max: visitor call units that take any number of digits; None means all of them.
            not_at_once: visitor call units that dial on an end key after all.
            not_reserved: texts of reservations that are given up.
        """
        reserved = reserved_of(walk.settings().choices.reserved_numbers)
        self.reserved: tuple[Reserved, ...] = tuple(one for one in reserved if one.text not in not_reserved)
        self._no_digits_max = no_digits_max
        self._not_at_once = not_at_once
        self._walk = walk
        self._keypads: dict[tuple[str, ...], tuple[Keypad, ...]] = {}
        self._systems = _systems(walk)

    def system_of(self, dwelling: Dwelling, prefix: NumberPrefix) -> str:
        """Return the system within which the number of a dwelling must be its own.

        Only where no prefix is wanted may a number come again in another system of the site.
        """
        return self._systems.get(dwelling.id, EVERYWHERE) if prefix is NumberPrefix.NONE else EVERYWHERE

    def keypads(self, dwelling: Dwelling) -> tuple[Keypad, ...]:
        """Return the keypads that are to reach a dwelling, in order of name."""
        entrances = tuple(sorted(entrance.id for entrance in self._walk.entrances_serving(dwelling)))
        if entrances not in self._keypads:
            found = [keypad for entrance in entrances for keypad in self.keypads_at(entrance)]
            self._keypads[entrances] = tuple(sorted(found, key=lambda keypad: (keypad.vcu.name, keypad.vcu.id)))
        return self._keypads[entrances]

    def digits_max(self, dwelling: Dwelling) -> int | None:
        """Return the least that a keypad takes that is to reach a dwelling; None where none has a limit."""
        return min((keypad.digits_max for keypad in self.keypads(dwelling) if keypad.digits_max), default=None)

    def at_once(self, dwelling: Dwelling) -> frozenset[str]:
        """Return the visitor call units that reach a dwelling and dial without an end key."""
        return frozenset(keypad.vcu.id for keypad in self.keypads(dwelling) if keypad.at_once)

    def is_reserved(self, number: str) -> bool:
        """Say whether a number is never to be issued."""
        return any(one.holds(number) for one in self.reserved)

    def keypads_at(self, entrance: str) -> Iterator[Keypad]:
        """Yield the keypads of an entrance."""
        for vcu in self._walk.units_at(entrance):
            profile = self._walk.profile(vcu.profile)
            if profile is not None and profile.keypad:
                limited = self._no_digits_max is not None and vcu.id not in self._no_digits_max
                digits_max = profile.keypad_digits_max_count if limited else 0
                yield Keypad(vcu, digits_max or None, profile.keypad_dials_at_once and vcu.id not in self._not_at_once)


def begins(one: str, other: str) -> bool:
    """Say whether one of two different numbers begins the other: a keypad without end key never dials the longer."""
    return one != other and (one.startswith(other) or other.startswith(one))


def _systems(walk: Walk) -> dict[str, str]:
    """Return the system of each dwelling: joined are those that share an entrance, a server, or a desk.

    A dwelling that no entrance serves cannot be told from anybody: then the whole site is one system.
    """
    joined = _Joined()
    desk = "desk"
    for entrance in walk.all(Entrance):
        served = walk.dwellings_served(entrance)
        joined.join(dwelling.id for dwelling in served)
        if entrance.calls_desk and served:
            joined.join((desk, served[0].id))
    servers = bool(walk.all(SipServer))
    for dwelling in walk.all(Dwelling):
        if not walk.entrances_serving(dwelling):
            return {}
        if servers and (server := server_of_dwelling(walk, dwelling)) is not None:
            joined.join((server.id, dwelling.id))
    return {dwelling.id: joined.root(dwelling.id) for dwelling in walk.all(Dwelling)}


@dataclass(slots=True)
class _Joined:
    """Sets that grow together (union-find)."""

    _parent: dict[str, str] = field(default_factory=dict)

    def root(self, one: str) -> str:
        path = []
        while (parent := self._parent.setdefault(one, one)) != one:
            path.append(one)
            one = parent
        for step in path:
            self._parent[step] = one
        return one

    def join(self, members: Iterable[str]) -> None:
        roots = sorted({self.root(member) for member in members})
        for other in roots[1:]:
            self._parent[other] = roots[0]


class Taken:
    """The numbers taken in each system while they are issued. A unit's own number is taken everywhere."""

    def __init__(self) -> None:
        self._in: dict[str, dict[str, Dwelling | Unit]] = defaultdict(dict)
        self._by_units: dict[str, Unit] = {}

    def give(self, system: str, number: str, holder: Dwelling | Unit) -> None:
        """Note that a number is taken: by a dwelling in its system, by a unit everywhere."""
        if isinstance(holder, Unit):
            self._by_units[number] = holder
            for numbers in self._in.values():
                numbers.setdefault(number, holder)
        else:
            self.numbers(system)[number] = holder

    def numbers(self, system: str) -> dict[str, Dwelling | Unit]:
        """Return the numbers taken in a system, with their holders."""
        if system not in self._in:
            self._in[system] = dict(self._by_units)
        return self._in[system]

    def anywhere(self) -> set[str]:
        """Return every number that is taken."""
        return set(self._by_units).union(*self._in.values())
