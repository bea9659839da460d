"""How numbers and names of quantities are printed: four significant digits, the unit from the name."""

from decimal import Decimal
from enum import Enum

from doorwright.kernel.calculation import Quantity
from doorwright.kernel.units import UNITS, unit_of


def figure(value: object) -> str:
    """Return a value as it is printed: numbers to four significant digits, never in powers of ten."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, float):
        if value == round(value) or abs(value) >= 1000:
            return f"{value:.0f}"
        return f"{Decimal(f'{value:.4g}'):f}"
    return str(value)


def quantity(name: str, value: object) -> tuple[str, str]:
    """Return the words of a quantity's name and its printed value with its unit: ("loop", "1.803 Ω")."""
    unit = unit_of(name)
    words = name
    if unit is not None:
        suffix = max((key for key in UNITS if name.endswith(f"_{key}") or name == key), key=len)
        words = name.removesuffix(suffix).rstrip("_") or unit.name
    symbol = unit.symbol if unit is not None and isinstance(value, int | float) else ""
    return words.replace("_", " ").replace("poe ", "PoE "), f"{figure(value)} {symbol}".strip()


def line(quantities: tuple[Quantity, ...]) -> str:
    """Return quantities as one line: "loop 1.803 Ω, load 0.5 A"."""
    return ", ".join(" ".join(quantity(one.name, one.value)) for one in quantities)
