"""Facts that a question needs and the site does not tell: gathered by kind, told all at once."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from doorwright.kernel.errors import Mistake
from doorwright.model.label import natural_key

_NAMED_MOST_COUNT: Final = 12


@dataclass(slots=True)
class Lacking:
    """What is missing or wrong, as it is come upon."""

    _named: dict[tuple[str, str, str], dict[str, None]] = field(default_factory=dict)

    def add(self, kind: str, problem: str, remedy: str, name: str) -> None:
        """Note a part by its name under what is wrong with it."""
        self._named.setdefault((kind, problem, remedy), {})[name] = None

    def mistakes(self) -> tuple[Mistake, ...]:
        """Return one mistake for each thing that is wrong, with the parts that it concerns."""
        return tuple(
            Mistake(where=kind, read="", problem=f"{problem}: {first_of(names)}", remedy=remedy)
            for (kind, problem, remedy), names in self._named.items()
        )


def first_of(names: Iterable[str]) -> str:
    """Return the first names in natural order, and how many more there are."""
    ordered = sorted(names, key=natural_key)
    more_count = len(ordered) - _NAMED_MOST_COUNT
    return ", ".join(ordered[:_NAMED_MOST_COUNT]) + (f" and {more_count} more" if more_count > 0 else "")
