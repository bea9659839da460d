"""Fuses and contacts: what a circuit asks of them against what they are rated for."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

FUSE_CARRIES_RATIO: Final = 1.0
"""Share of its rating that a fuse to IEC 60127 or IEC 60269 carries for good at room temperature (as quoted)."""

FUSE_AN_HOUR_RATIO: Final = 1.5
"""Multiple of its rating that a 5 × 20 mm fuse to IEC 60127 carries for an hour at least (as quoted)."""

FUSE_OPENS_RATIO: Final = 2.1
"""Multiple of its rating at which a 5 × 20 mm fuse to IEC 60127 must open in time (as quoted)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseDuty:
    """The currents of a circuit over the rating of its fuse."""

    standing_ratio: float
    peak_ratio: float

    @property
    def carries(self) -> bool:
        """Whether the fuse carries the standing current for good."""
        return self.standing_ratio <= FUSE_CARRIES_RATIO

    @property
    def rides_peak(self) -> bool | None:
        """Whether the fuse rides through a short peak: True, or None where only the maker's melting curve can tell."""
        return True if self.peak_ratio <= FUSE_AN_HOUR_RATIO else None


@calculation(
    "Fuse against its circuit",
    Cite("iec60127", "rated current carried continuously; 1.5 times for an hour; opens at 2.1 times"),
    Cite("iec60269", "rated current carried continuously without deterioration"),
)
def fuse_duty(*, standing_a: float, peak_a: float, fuse_a: float) -> FuseDuty:
    """Return how far the standing current and the highest peak load a fuse.

    Formula: standing/rating, peak/rating.

    Valid when: the fuse is made to IEC standards and sits at room temperature; in a warm cabinet its maker asks for
    less. A fuse to UL 248-14 is by common practice loaded to three quarters of its rating. A peak above 1.5 times the
    rating is for the maker's melting curve: milliseconds of it may pass.

    Args:
        standing_a: current that flows for hours, amperes.
        peak_a: highest current of a short peak, amperes.
        fuse_a: rating of the fuse, amperes.

    Returns:
        Both currents over the rating.
    """
    return FuseDuty(standing_ratio=standing_a / fuse_a, peak_ratio=peak_a / fuse_a)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactDuty:
    """What a circuit asks of a contact over what the contact is rated for: 1 is the limit of each."""

    voltage_ratio: float
    carried_ratio: float
    closing_ratio: float

    @property
    def within(self) -> bool:
        """Whether every figure is within its rating."""
        return max(self.voltage_ratio, self.carried_ratio, self.closing_ratio) <= 1.0


@calculation("Contact against its circuit", Cite("practice", "ratings of the data sheet hold for a resistive load"))
def contact_duty(
    *, open_v: float, carried_a: float, closing_a: float, rated_v: float, rated_a: float, rated_closing_a: float
) -> ContactDuty:
    """Return how far a circuit loads the contact that switches it.

    Formula: voltage/rated voltage, current/rated current, inrush/rated inrush.

    Valid when: the load is resistive, or a coil with a diode or varistor across it. The coil of a lock without one
    drives the voltage at the opening contact far above that of the supply, and the ratings say nothing about that. A
    contact whose data sheet names no inrush is held to its rated current at the first instant too.

    Args:
        open_v: voltage across the open contact, volts.
        carried_a: current while closed, amperes.
        closing_a: current at the instant of closing, amperes.
        rated_v: highest voltage of the contact, volts.
        rated_a: highest current of the contact, amperes.
        rated_closing_a: highest current at closing, amperes.

    Returns:
        Each figure over its rating.
    """
    return ContactDuty(
        voltage_ratio=open_v / rated_v, carried_ratio=carried_a / rated_a, closing_ratio=closing_a / rated_closing_a
    )


class CoilCaution(StrEnum):
    """What to say of the coil behind a contact (common practice of the trade)."""

    BARE = (
        "no diode or varistor across the coil: fit one at the lock, or the contact burns and nearby electronics suffer"
    )
    FITTED = "the diode across the coil delays the release of the lock; a varistor or a Zener diode shortens the delay"
    UNKNOWN = "nobody said whether a diode or varistor is fitted across the coil: look at the lock"


def coil_caution(*, suppressed: bool | None) -> CoilCaution:
    """Return what to say of a lock coil, by whether a diode or varistor is fitted across it (None: not known)."""
    if suppressed is None:
        return CoilCaution.UNKNOWN
    return CoilCaution.FITTED if suppressed else CoilCaution.BARE
