"""The building itself: buildings, cores, levels, places, dwellings and entrances."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from doorwright.model.calling import RingMode
from doorwright.model.part import Part


class PlaceKind(StrEnum):
    """What a place is used for."""

    LOBBY = "lobby"
    LANDING = "landing"
    RISER_CUPBOARD = "riser cupboard"
    OFFICE = "office"
    OUTDOORS = "outdoors"


@dataclass(frozen=True, slots=True, kw_only=True)
class Building(Part):
    """A building on the premises."""

    KIND: ClassVar[str] = "building"
    TABLE: ClassVar[str] = "buildings"

    name: str

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Core(Part):
    """A stair-and-lift core of a building. ``x_m`` and ``y_m`` say where its riser stands on the plan."""

    KIND: ClassVar[str] = "core"
    TABLE: ClassVar[str] = "cores"

    building: str
    name: str
    x_m: float | None = None
    y_m: float | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Level(Part):
    """A storey. ``order`` counts upwards, 0 at the ground; ``height_m`` is its floor above the ground floor.

    ``crosses`` says whether cables may run from core to core on it.
    """

    KIND: ClassVar[str] = "level"
    TABLE: ClassVar[str] = "levels"

    building: str
    name: str
    order: int
    height_m: float | None = None
    crosses: bool = False

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Place(Part):
    """Somewhere that units, switches and supplies are mounted.

    ``run_m`` is the way of a cable from the core's riser to it, on its level. A cupboard takes ``switches_max_count``
    switches; the network begins at the one that is ``main``.
    """

    KIND: ClassVar[str] = "place"
    TABLE: ClassVar[str] = "places"

    name: str
    kind: PlaceKind
    building: str | None = None
    core: str | None = None
    level: str | None = None
    run_m: float | None = None
    switches_max_count: int | None = None
    main: bool = False

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Dwelling(Part):
    """A home or office that visitors call.

    ``door_label`` is what a visitor reads on its door, ``call_number`` the digits that reach it (its SIP user part),
    ``legend`` what stands beside its key where that is not the door label. ``ring_mode`` and ``ring_s`` (seconds each
    receiver or all of them ring) stand in for the site's choices where they are given. ``run_m`` is the way of a cable
    from the core's riser to its receiver, on its level.
    """

    KIND: ClassVar[str] = "dwelling"
    TABLE: ClassVar[str] = "dwellings"

    door_label: str
    core: str
    level: str
    call_number: str | None = None
    legend: str | None = None
    ring_mode: RingMode | None = None
    ring_s: int | None = None
    run_m: float | None = None

    @property
    def label(self) -> str:
        """Its door label."""
        return self.door_label


@dataclass(frozen=True, slots=True, kw_only=True)
class Entrance(Part):
    """A way in from outside or from a lobby, and whom it serves: whole buildings, whole cores, single dwellings."""

    KIND: ClassVar[str] = "entrance"
    TABLE: ClassVar[str] = "entrances"

    name: str
    place: str | None = None
    serves_buildings: tuple[str, ...] = ()
    serves_cores: tuple[str, ...] = ()
    serves_dwellings: tuple[str, ...] = ()
    calls_desk: bool = False

    @property
    def label(self) -> str:
        """Its name."""
        return self.name
