"""The site: the building as it is to be, an immutable value."""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any, Final, Self

from doorwright.model.calling import Divert, RingMode, Timetable
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.habits import USUAL_HABITS, CallHabits
from doorwright.model.media import USUAL_MEDIA, MediaChoices
from doorwright.model.network import CableRun, Junction, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.price import Price
from doorwright.model.profile import Profile
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit


class NumberScheme(StrEnum):
    """How call numbers are made for dwellings that have none."""

    DOOR = "as on the door"
    LEVEL = "level and position"
    RUNNING = "running"


class NumberPrefix(StrEnum):
    """What stands in front of the numbers that a scheme makes, where there are several buildings or cores.

    ``AS_NEEDED``: the core, where numbers would clash. ``NONE``: nothing; then a number may come again where no
    entrance, desk or server is shared. ``BUILDING`` and ``CORE``: always, counted in order of name.
    """

    AS_NEEDED = "as needed"
    NONE = "none"
    BUILDING = "building"
    CORE = "core"


class KeyOrder(StrEnum):
    """In which order keys are given out."""

    TOP_DOWN = "top level first"
    BOTTOM_UP = "bottom level first"
    DOOR = "door label"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What the planners are asked to do. They steer what is still to be issued, never what was issued.

    ``reserved_numbers`` are call numbers or ranges ``a-b`` that are never issued (``model/reserved.py`` reads them).
    ``slack_m`` is added to each planned run for both its ends together, ``link_max_m`` the longest that it may be;
    ``waste_ratio`` of cable and ``spare_parts_ratio`` of each unit type are ordered more than is needed.
    ``standby_practice`` is a key of ``data/standby.toml``. ``poe_diversity_ratio`` is the share of what all units on a
    switch may draw that they draw at once at the most: 1 where all of them may. ``poe_efficiency_ratio`` is what a
    switch gives by PoE of what it takes for it, where its profile does not say.
    """

    number_scheme: NumberScheme = NumberScheme.DOOR
    number_prefix: NumberPrefix = NumberPrefix.AS_NEEDED
    number_digits_count: int | None = None
    key_order: KeyOrder = KeyOrder.TOP_DOWN
    spare_ratio: float = 0.2
    ambient_c: float = 30.0
    ring_mode: RingMode = RingMode.TOGETHER
    ring_s: int = 30
    reserved_numbers: tuple[str, ...] = ()
    slack_m: float = 5.0
    link_max_m: float = 90.0
    waste_ratio: float = 0.1
    spare_parts_ratio: float = 0.05
    standby_practice: str = "plain"
    poe_diversity_ratio: float = 1.0
    poe_efficiency_ratio: float = 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Everything planned about the premises, with the profiles of the unit types in use.

    ``standard_edition`` and ``grade`` record what the owner asked for under IEC 62820-1-1 (grade 1 or 2).
    """

    name: str
    reference: str | None = None
    time_zone: str | None = None
    standard_edition: str | None = None
    grade: int | None = None
    record_keeper: str | None = None
    holidays: tuple[date, ...] = ()
    currency: str | None = None
    choices: Choices = Choices()
    habits: CallHabits = USUAL_HABITS
    media: MediaChoices = USUAL_MEDIA
    notes: tuple[tuple[str, str], ...] = ()
    profiles: tuple[Profile, ...] = ()
    buildings: tuple[Building, ...] = ()
    cores: tuple[Core, ...] = ()
    levels: tuple[Level, ...] = ()
    places: tuple[Place, ...] = ()
    dwellings: tuple[Dwelling, ...] = ()
    entrances: tuple[Entrance, ...] = ()
    doors: tuple[Door, ...] = ()
    units: tuple[Unit, ...] = ()
    modules: tuple[KeyModule, ...] = ()
    keys: tuple[Key, ...] = ()
    secrets: tuple[SecretMark, ...] = ()
    subnets: tuple[Subnet, ...] = ()
    servers: tuple[SipServer, ...] = ()
    switches: tuple[Switch, ...] = ()
    supplies: tuple[Supply, ...] = ()
    junctions: tuple[Junction, ...] = ()
    runs: tuple[CableRun, ...] = ()
    timetables: tuple[Timetable, ...] = ()
    diverts: tuple[Divert, ...] = ()
    rights: tuple[ReleaseRight, ...] = ()
    prices: tuple[Price, ...] = ()

    def table(self, kind: type[Part]) -> tuple[Any, ...]:
        """Return the tuple of parts of one kind."""
        parts: tuple[Any, ...] = getattr(self, kind.TABLE)
        return parts

    def with_tables(self, tables: dict[type[Part], tuple[Part, ...]]) -> Self:
        """Return this site with whole tables of parts exchanged."""
        exchanged: dict[str, Any] = {kind.TABLE: parts for kind, parts in tables.items()}
        return replace(self, **exchanged)


PARTS: Final[tuple[type[Part], ...]] = (
    Building, Core, Level, Place, Dwelling, Entrance, Door, Unit, KeyModule, Key, SecretMark,
    Subnet, SipServer, Switch, Supply, Junction, CableRun, Timetable, Divert, ReleaseRight, Price,
)  # fmt: skip
"""Every kind of part, so ordered that a part comes after those it refers to, except for mutual references."""

PART_BY_KIND: Final[dict[str, type[Part]]] = {kind.KIND: kind for kind in PARTS}
