"""Cords against horizontal cable: flexible cords lose more, so a link with long cords must be shorter."""

from typing import Final

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

CORD_RISE_24_AWG_RATIO: Final = 0.2
"""How much more a cord of 24 AWG strands attenuates than solid horizontal cable (TIA-568, ISO/IEC 11801:2002)."""

CORD_RISE_26_AWG_RATIO: Final = 0.5
"""How much more a cord of 26 AWG strands attenuates than solid horizontal cable (TIA-568, ISO/IEC 11801:2002)."""

WORK_CORD_MAX_M: Final = 22.0
"""Longest cord at the far end by TIA-568, 24 AWG; ISO/IEC 11801 stops at 20 m."""

_CHANNEL_M: Final = 102.0
_EQUIPMENT_CORDS_M: Final = 5.0


@calculation("Cords for a horizontal cable", Cite("tia568", "trade-off of horizontal cable against cords"))
def cords_m(*, horizontal_m: float, rise_ratio: float, channel_m: float = _CHANNEL_M) -> float:
    """Return how many metres of cord a link of solid horizontal cable leaves, all its cords together.

    Formula: C = (102 - H)/(1 + D).

    Valid when: the horizontal cable is at most 90 m long and at 20 °C, every cord of one gauge.

    Args:
        horizontal_m: length of the horizontal cable, metres.
        rise_ratio: how much more a cord attenuates than solid cable, 0.2 for 24 AWG and 0.5 for 26 AWG.
        channel_m: length of solid cable that loses as much as the whole channel, metres.

    Returns:
        Length of all cords together, metres; 0 where the horizontal cable alone uses up the channel.
    """
    return max(0.0, channel_m - horizontal_m) / (1.0 + rise_ratio)


@calculation("Cord at the far end of a link", Cite("tia568", "trade-off of horizontal cable against cords"))
def far_cord_m(
    *,
    horizontal_m: float,
    rise_ratio: float,
    near_cords_m: float = _EQUIPMENT_CORDS_M,
    channel_m: float = _CHANNEL_M,
    most_m: float = WORK_CORD_MAX_M,
) -> float:
    """Return the longest cord at the far end of a link whose cupboard takes its own cords.

    Formula: W = C - 5, at most 22 m; C as for all cords together.

    Valid when: as for all cords together.

    Args:
        horizontal_m: length of the horizontal cable, metres.
        rise_ratio: how much more a cord attenuates than solid cable.
        near_cords_m: patch and equipment cords at the near end, metres.
        channel_m: length of solid cable that loses as much as the whole channel, metres.
        most_m: longest cord that the standard allows whatever is left, metres.

    Returns:
        Length of the far cord, metres.
    """
    left_m = cords_m(horizontal_m=horizontal_m, rise_ratio=rise_ratio, channel_m=channel_m) - near_cords_m
    return min(most_m, max(0.0, left_m))
