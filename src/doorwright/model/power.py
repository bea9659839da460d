"""Supplies: extra-low-voltage power for locks, switches and units."""

from dataclasses import dataclass
from typing import ClassVar

from doorwright.model.part import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply(Part):
    """A power supply; its output voltage and current are its profile's. ``battery_ah`` is None where there is none.

    ``battery_rate_h`` is the discharge time at which the capacity is quoted, ``battery_temperature_c`` the coldest that
    the battery gets; ``standby_h`` is how long the owner wants the loads carried without mains, of which
    ``standby_busy_h`` with every lock worked as in a busy hour.
    """

    KIND: ClassVar[str] = "supply"
    TABLE: ClassVar[str] = "supplies"

    name: str
    profile: str
    place: str | None = None
    battery_ah: float | None = None
    battery_rate_h: float | None = None
    battery_temperature_c: float | None = None
    standby_h: float | None = None
    standby_busy_h: float | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name
