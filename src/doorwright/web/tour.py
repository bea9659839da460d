"""The tour: a few pages of a book, in the order in which a newcomer meets them, and what to look at on each."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop: its step in the address (the building itself has none), its name, what to look at, what to point at."""

    step: str
    name: str
    look: str
    points: str


_HERE: Final = ".phases a[aria-current]"

STOPS: Final = (
    Stop(
        "",
        "The building",
        "The drawing is the way around. Choose a home, a unit or a door, and its sheet opens. Signs with E, W or N "
        "mark where the rules found something.",
        ".drawing",
    ),
    Stop(
        "check",
        "What the rules find",
        "Every finding names the part, why it matters and what to do. What could not be judged is listed too, with the "
        "fact that is missing.",
        "#tally",
    ),
    Stop(
        "calls",
        "Who rings when",
        "For every entrance, home and hour of the week: who rings, in which order, and who may free which door.",
        _HERE,
    ),
    Stop(
        "rehearsal",
        "The rehearsal",
        "Every unit live on a virtual network, every key and number called, before anything is mounted. Put a fault "
        "in, and see what it would look like; each call can be drawn.",
        _HERE,
    ),
    Stop(
        "changes",
        "A change",
        "Replace a unit or add a home. First you see what would come of it and which units must be visited; then you "
        "carry it out. What was issued before stays.",
        _HERE,
    ),
    Stop(
        "papers",
        "The papers",
        "The pack for site: cards for every unit, drawings, schedules, labels, the bill. None of them holds a secret.",
        _HERE,
    ),
    Stop(
        "run-sheet",
        "On site",
        "The work in order, for a phone: tick, note, photograph, read off. It goes on where the link drops.",
        _HERE,
    ),
)
