"""Doors and their locks."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from doorwright.model.part import Part


class LockKind(StrEnum):
    """How the leaf is held."""

    STRIKE = "strike"
    MAGNET = "magnet"
    MOTOR = "motor"


class FailMode(StrEnum):
    """What the lock does without power: fail-safe frees the door, fail-secure keeps it locked."""

    SAFE = "fail-safe"
    SECURE = "fail-secure"


class LockTakes(StrEnum):
    """What stays the same of a lock when its voltage sinks."""

    CURRENT = "current"
    POWER = "power"
    RESISTANCE = "resistance"


@dataclass(frozen=True, slots=True, kw_only=True)
class Door(Part):
    """A leaf with a lock in it, the unit output that frees it, and the questions that the fire strategy asks.

    Yes-or-no facts are None until somebody has answered: an unanswered question is reported, never assumed.
    ``lock_operate_a`` is the steady current while the lock is energised, ``lock_minimum_v`` the least voltage
    at the lock at which its maker promises operation. ``lock_inrush_a`` flows at the moment of switching on,
    ``lock_hold_a`` once the lock has pulled in, where they differ; ``lock_takes`` says how the current follows the
    voltage. ``lock_suppressed`` says whether a diode or varistor across the coil takes its spark. ``relock_s`` is how
    long the lock takes to hold again once ``release_s`` is over. ``exit_button_height_mm`` is that of the button inside
    above the finished floor.
    """

    KIND: ClassVar[str] = "door"
    TABLE: ClassVar[str] = "doors"

    name: str
    entrance: str
    lock: LockKind | None = None
    fail_mode: FailMode | None = None
    freed_by: str | None = None
    output: int | None = None
    release_s: float | None = None
    lock_rated_v: float | None = None
    lock_operate_a: float | None = None
    lock_minimum_v: float | None = None
    lock_takes: LockTakes = LockTakes.CURRENT
    lock_inrush_a: float | None = None
    lock_hold_a: float | None = None
    lock_suppressed: bool | None = None
    relock_s: float | None = None
    escape_route: bool | None = None
    fire_door: bool | None = None
    fire_release: bool | None = None
    emergency_release: bool | None = None
    exit_button: bool | None = None
    exit_button_height_mm: int | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseRight(Part):
    """Who may free a door: buildings, cores, single dwellings, desks; with a timetable, inside its windows only.

    A door with no right of its own may be freed by those whom its entrance serves, and by the desk if the entrance
    calls one.
    """

    KIND: ClassVar[str] = "release right"
    TABLE: ClassVar[str] = "rights"

    door: str
    buildings: tuple[str, ...] = ()
    cores: tuple[str, ...] = ()
    dwellings: tuple[str, ...] = ()
    desks: tuple[str, ...] = ()
    timetable: str | None = None

    @property
    def label(self) -> str:
        """What it is."""
        return "release right"
