"""The units a quantity's name may carry: ``length_m``, ``loop_ohm``, ``drop_v``.

One unit per quantity in the whole code. Conversion happens only where text comes in or goes out.
The dimension of each unit is kept beside it, so that a test can rescale metres, kilograms, seconds and
amperes and see every formula follow.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: how it is printed, what it is called, and its exponents of metre, kilogram, second, ampere."""

    symbol: str
    name: str
    exponents: tuple[int, int, int, int] = (0, 0, 0, 0)


UNITS: Final[dict[str, Unit]] = {
    # suffix: printed, spoken, (m, kg, s, A)
    "m": Unit("m", "metre", (1, 0, 0, 0)),
    "mm": Unit("mm", "millimetre", (1, 0, 0, 0)),
    "km": Unit("km", "kilometre", (1, 0, 0, 0)),
    "mm2": Unit("mm²", "square millimetre", (2, 0, 0, 0)),
    "s": Unit("s", "second", (0, 0, 1, 0)),
    "ms": Unit("ms", "millisecond", (0, 0, 1, 0)),
    "min": Unit("min", "minute", (0, 0, 1, 0)),
    "h": Unit("h", "hour", (0, 0, 1, 0)),
    "a": Unit("A", "ampere", (0, 0, 0, 1)),
    "ah": Unit("Ah", "ampere-hour", (0, 0, 1, 1)),
    "v": Unit("V", "volt", (2, 1, -3, -1)),
    "w": Unit("W", "watt", (2, 1, -3, 0)),
    "wh": Unit("Wh", "watt-hour", (2, 1, -2, 0)),
    "ohm": Unit("Ω", "ohm", (2, 1, -3, -2)),
    "ohm_per_km": Unit("Ω/km", "ohm per kilometre", (1, 1, -3, -2)),
    "c": Unit("°C", "degree Celsius"),
    "per_k": Unit("1/K", "per kelvin"),
    "bit": Unit("bit", "bit"),
    "byte": Unit("B", "byte"),
    "kbps": Unit("kb/s", "kilobit per second", (0, 0, -1, 0)),
    "mbps": Unit("Mb/s", "megabit per second", (0, 0, -1, 0)),
    "per_s": Unit("1/s", "per second", (0, 0, -1, 0)),
    "db": Unit("dB", "decibel"),
    "dbm": Unit("dBm0p", "decibel over a milliwatt at the zero relative level, weighted"),
    "dba": Unit("dB(A)", "decibel of room noise, weighted A"),
    "points": Unit("", "points of a rating"),
    "erl": Unit("E", "erlang"),
    "ratio": Unit("", "ratio"),
    "percent": Unit("%", "per cent"),
    "exponent": Unit("", "exponent"),
    "count": Unit("", "number"),
    "awg": Unit("AWG", "American wire gauge"),
}

_LONGEST_FIRST: Final = tuple(sorted(UNITS, key=len, reverse=True))


def unit_of(name: str) -> Unit | None:
    """Return the unit that ``name`` carries as its suffix, or None where it carries none."""
    for suffix in _LONGEST_FIRST:
        if name == suffix or name.endswith(f"_{suffix}"):
            return UNITS[suffix]
    return None
