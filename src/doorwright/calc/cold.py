"""What cold takes off a battery: factors at some temperatures, with their source, and straight lines between them."""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from doorwright import data
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdTable:
    """The factors for cold of one kind of battery, from ``data/cold.toml``: (temperature, factor), coldest first."""

    title: str
    points: tuple[tuple[float, float], ...]
    edition: str
    cite: Cite

    @property
    def coldest_c(self) -> float:
        """Below this temperature no factor is known, degrees Celsius."""
        return self.points[0][0]


@cache
def lead_table() -> ColdTable:
    """Return the factors for lead-acid batteries."""
    row = data.table("cold")["lead"]
    return ColdTable(
        title=row["title"],
        points=tuple((temperature_c, ratio) for temperature_c, ratio in row["points"]),
        edition=row["edition"],
        cite=Cite(row["source"], row["place"]),
    )


@calculation(
    "Factor for a cold battery",
    Cite("solar-sheets", "battery temperature multiplier, 20 to 80 °F"),
    Cite("practice", "warmth earns nothing: what it adds to the capacity it takes off the life"),
)
def cold_ratio(*, battery_c: float) -> float:
    """Return how much larger a lead-acid battery must be at a temperature than at that of its data sheet.

    Formula: K by the table, straight lines between its points, 1 above the warmest.

    Valid when: the battery is of lead and acid, and soaked through at the temperature. A sheet that quotes capacity at
    20 °C and not at 25 °C has part of the factor in it already; that errs towards the larger battery.

    Args:
        battery_c: coldest temperature of the battery, degrees Celsius.

    Returns:
        Factor on the capacity, 1 or more.

    Raises:
        ValueError: colder than the table goes; there the maker must be asked.
    """
    table = lead_table()
    if battery_c < table.coldest_c:
        raise ValueError(f"no factor is known below {table.coldest_c:g} °C, and the battery gets {battery_c:g} °C")
    for (low_c, low_ratio), (high_c, high_ratio) in pairwise(table.points):
        if battery_c <= high_c:
            return low_ratio + (high_ratio - low_ratio) * (battery_c - low_c) / (high_c - low_c)
    return table.points[-1][1]
