"""The resistance of copper conductors: by nominal area, by gauge, by temperature, there and back."""

from enum import StrEnum
from math import pi
from typing import Final

from doorwright import data
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of the resistance of annealed copper at 20 °C (IEC 60028, as quoted by handbooks)."""

COPPER_OHM_MM2_PER_KM: Final = 17.241
"""Resistivity of annealed copper of 100 % IACS conductivity at 20 °C (IEC 60028, as quoted): 1/58 Ω·mm²/m."""

LAY_RATIO: Final = 1.02
"""Resistance of concentric-lay strands over that of a solid wire of the same area (ASTM B8, from memory)."""


class ConductorForm(StrEnum):
    """How a conductor is built: IEC 60228 class 1 (class 2 has the same limits), and class 5."""

    SOLID = "solid"
    FLEXIBLE = "flexible"


@calculation("Maximum conductor resistance by nominal area", Cite("iec60228", "Tables 1 to 3"))
def maximum_conductor_ohm_per_km(*, nominal_mm2: float, form: ConductorForm, tinned: bool = False) -> float:
    """Return the highest resistance at 20 °C that the standard allows a copper conductor of this nominal area.

    Formula: table look-up.

    Valid when: the area is one of 0.5, 0.75, 1, 1.5, 2.5 and 4 mm². Resistivity over nominal area would be too low by
    4 to 7 % (class 1) or 13 to 16 % (class 5), because the nominal area is a name and not a measurement.

    Args:
        nominal_mm2: nominal area, square millimetres.
        form: solid (classes 1 and 2) or flexible (class 5).
        tinned: whether the wires are coated with tin.

    Returns:
        Resistance of one conductor, ohm per kilometre.

    Raises:
        LookupError: the table has no such area.
    """
    column = data.table("conductors")[f"{form.value}-tinned" if tinned else form.value]
    key = f"{nominal_mm2:g}"
    if key not in column:
        raise LookupError(f"no conductor of {key} mm² in the table; it has {', '.join(column)} mm²")
    return float(column[key])


@calculation("Resistance of copper against 20 °C", Cite("iec60028", "temperature coefficient at constant mass"))
def warm_ratio(*, temperature_c: float) -> float:
    """Return how many times its resistance at 20 °C a copper conductor has at another temperature.

    Formula: 1 + 0.00393·(t - 20).

    Valid when: the conductor is annealed copper between about -10 and 90 °C; the linear form is the one of the
    standard. IEC 60228 rounds the coefficient to 0.004 for its own correction.

    Args:
        temperature_c: temperature of the conductor, degrees Celsius.

    Returns:
        Ratio of resistances.
    """
    return 1.0 + COPPER_PER_K * (temperature_c - 20.0)


@calculation("Correction of a measured resistance to 20 °C", Cite("iec60228", "Annex A, approximate factor"))
def reduction_to_20_c_ratio(*, temperature_c: float) -> float:
    """Return the factor that takes a resistance measured at another temperature to 20 °C, by the rounded coefficient.

    Formula: 1 / (1 + 0.004·(t - 20)).

    Valid when: the conductor is copper between 0 and 90 °C. This is the form printed as k_t in the standard.

    Args:
        temperature_c: temperature of the conductor when measured, degrees Celsius.

    Returns:
        Ratio of the resistance at 20 °C to the one measured.
    """
    return 1.0 / (1.0 + 0.004 * (temperature_c - 20.0))


@calculation("Correction of a measured resistance to 20 °C, finer form", Cite("iec60228", "Annex A, exact factor"))
def fine_reduction_to_20_c_ratio(*, temperature_c: float) -> float:
    """Return the factor that takes a resistance measured at another temperature to 20 °C, by the finer coefficient.

    Formula: 254.5 / (234.5 + t).

    Valid when: the conductor is copper between 0 and 90 °C. It differs from the rounded form by up to 0.3 %.

    Args:
        temperature_c: temperature of the conductor when measured, degrees Celsius.

    Returns:
        Ratio of the resistance at 20 °C to the one measured.
    """
    return 254.5 / (234.5 + temperature_c)


@calculation("Diameter of a wire gauge", Cite("astm-b258", "definition of the gauge"))
def gauge_diameter_mm(*, gauge_awg: int) -> float:
    """Return the diameter of a solid round wire of an American wire gauge.

    Formula: 0.127·92^((36 - n)/39), n = -3 for gauge 0000.

    Valid when: the gauge lies between 0000 (n = -3) and 56; the standard's own table is rounded to four figures.

    Args:
        gauge_awg: the number of the gauge; -1, -2, -3 for gauges 00, 000, 0000.

    Returns:
        Diameter, millimetres.
    """
    diameter: float = 0.127 * 92.0 ** ((36 - gauge_awg) / 39)
    return diameter


@calculation("Area of a wire gauge", Cite("astm-b258", "definition of the gauge"))
def gauge_area_mm2(*, gauge_awg: int) -> float:
    """Return the cross-section of a solid round wire of an American wire gauge.

    Formula: π·d²/4.

    Valid when: as for the diameter of a gauge.

    Args:
        gauge_awg: the number of the gauge; -1, -2, -3 for gauges 00, 000, 0000.

    Returns:
        Area, square millimetres.
    """
    return pi * gauge_diameter_mm(gauge_awg=gauge_awg) ** 2 / 4.0


@calculation(
    "Resistance of a wire gauge",
    Cite("astm-b258", "definition of the gauge"),
    Cite("iec60028", "resistivity of annealed copper"),
    Cite("astm-b8", "lay of concentric strands"),
)
def gauge_ohm_per_km(*, gauge_awg: int, stranded: bool = False) -> float:
    """Return the resistance at 20 °C of a copper wire of an American wire gauge.

    Formula: 17.241/A for a solid wire, 1.02·17.241/A for strands.

    Valid when: plain annealed copper of 100 % IACS. NEC Chapter 9 Table 8 prints figures about 24 % higher, because it
    stands at 75 °C and counts the lay of the strands; the two must not be mixed.

    Args:
        gauge_awg: the number of the gauge.
        stranded: whether the conductor is made of concentric strands, whose lay makes each longer than the cable.

    Returns:
        Resistance of one conductor, ohm per kilometre.
    """
    solid_ohm_per_km = COPPER_OHM_MM2_PER_KM / gauge_area_mm2(gauge_awg=gauge_awg)
    return LAY_RATIO * solid_ohm_per_km if stranded else solid_ohm_per_km


@calculation("Loop resistance of a two-wire run", Cite("ohm1827", "conductors in series"), Cite("iec60028"))
def two_wire_loop_ohm(*, conductor_ohm_per_km: float, length_m: float, temperature_c: float = 20.0) -> float:
    """Return the resistance there and back of a run of two equal copper conductors.

    Formula: 2·r·L·(1 + 0.00393·(t - 20)).

    Valid when: both conductors are copper of the same size; joints and terminals are not counted.

    Args:
        conductor_ohm_per_km: resistance of one conductor at 20 °C, ohm per kilometre.
        length_m: length of the run, one way, metres.
        temperature_c: temperature of the conductors, degrees Celsius.

    Returns:
        Loop resistance, ohm.
    """
    return 2.0 * conductor_ohm_per_km * length_m / 1000.0 * warm_ratio(temperature_c=temperature_c)
