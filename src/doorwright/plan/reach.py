"""The heights that accessibility sources give for the controls of a visitor call unit, and how it is to be operated.

The tool compares and notes; the local code decides which of them holds, and where they differ from each other.
"""

from dataclasses import dataclass
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.model.unit import Unit


@dataclass(frozen=True, slots=True)
class Reach:
    """A range of heights above the finished floor in one source, and for what."""

    name: str
    cite: Cite
    what: str
    low_mm: int
    high_mm: int

    def holds(self, height_mm: int) -> bool:
        """Say whether a height lies in the range, its ends included."""
        return self.low_mm <= height_mm <= self.high_mm


REACHES: Final = (
    Reach("ADA", Cite("ada", "308.2.1, 308.3.1"), "unobstructed reach", 380, 1220),
    Reach(
        "AD M vol. 2", Cite("ad-m", "volume 2, paragraph 4.30"), "controls for fine movements of the hand", 750, 1200
    ),
    Reach(
        "AD M vol. 1", Cite("ad-m", "volume 1, communal entrance of M4(2) and M4(3) homes"), "entry controls", 900, 1000
    ),
    Reach("BS 8300", Cite("bs8300", "10.5.2 of the 2001 edition"), "controls that need dexterity", 750, 1000),
)
"""Widest first within what each is for; BS 8300 allows simple push buttons up to 1200 mm."""

OPERATION: Final = (
    "ADA 309.4 (from memory): one hand, no tight grasp, pinch or twist, at most 22 N (5 lbf).",
    "AD M vol. 1: entry controls at least 300 mm from a projecting corner.",
)
"""How controls are to be operated and placed, beside their height."""

DECIDES: Final = "The local code decides."


def reach_notes(unit: Unit) -> tuple[str, ...]:
    """Return a note for each source: its range, and how the planned height of the unit's highest control lies to it."""
    planned = "Height not planned yet" if unit.height_mm is None else f"Highest control planned at {unit.height_mm} mm"
    ranges = (
        f"{one.name} {one.low_mm}–{one.high_mm} mm, {one.what}{_lies(one, unit.height_mm)} ({one.cite.held})."
        for one in REACHES
    )
    return (f"{planned}.", *ranges, *OPERATION, DECIDES)


def _lies(reach: Reach, height_mm: int | None) -> str:
    if height_mm is None:
        return ""
    return ": within" if reach.holds(height_mm) else ": outside"
