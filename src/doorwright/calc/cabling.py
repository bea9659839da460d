"""Structured cabling: how long a permanent link may be, and how warmth shortens it."""

from typing import Final

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

PERMANENT_LINK_M: Final = 90.0
"""Longest permanent link at 20 °C, without its cords of up to 10 m (TIA-568.2-D, ISO/IEC 11801-1)."""


@calculation("Length of a warm horizontal cable", Cite("tia568", "568-C.2, clause 6.4.7 and Annex G"))
def warm_link_m(*, reference_m: float, temperature_c: float, screened: bool) -> float:
    """Return the length to which a horizontal cable must shrink so that its loss when warm is that at 20 °C.

    Formula: L = L20/(1 + k), k = 0.004·(t - 20) up to 40 °C and 0.08 + 0.006·(t - 40) above for unscreened cable,
    k = 0.002·(t - 20) for screened.

    Valid when: 20 to 60 °C. Below 20 °C nothing is gained; above 60 °C the last slope goes on, outside the clause.
    The table of Annex G prints 84 m for unscreened cable at 40 °C where the clause gives 83.3 m; the clause is the
    stricter and is used here.

    Args:
        reference_m: length allowed at 20 °C, metres.
        temperature_c: mean temperature of the cable, degrees Celsius.
        screened: whether the cable is screened.

    Returns:
        Length allowed at the temperature, metres.
    """
    over_20_c = max(0.0, temperature_c - 20.0)
    over_40_c = max(0.0, temperature_c - 40.0)
    rise_ratio = 0.002 * over_20_c if screened else 0.004 * over_20_c + 0.002 * over_40_c
    return reference_m / (1.0 + rise_ratio)
