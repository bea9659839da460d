"""The ways through a book: the phases of IEC 62820-3-2, and what is done in each."""

from dataclasses import dataclass
from typing import Final

from doorwright.kernel.verdict import Phase as Life


@dataclass(frozen=True, slots=True)
class Way:
    """A page of a book: what it is called, its step in the address, and what it is for."""

    name: str
    step: str
    what: str


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase, and the pages for its work."""

    life: Life
    ways: tuple[Way, ...]

    @property
    def name(self) -> str:
        """The phase in the words of the standard, short enough for a tab of paper."""
        return self.life.value.partition(" ")[0].capitalize()


PHASES: Final = (
    Phase(
        Life.PLANNING,
        (
            Way("Tables", "tables", "Type and paste homes, units, keys, addresses, cables"),
            Way("Plan", "plan", "Issue numbers, keys, addresses, ports and pairings"),
            Way("Check", "check", "What the rules find, and what they cannot judge yet"),
            Way("Calculations", "studies", "Power, cable, standby, traffic, streams, speech"),
            Way("Calls", "calls", "Who rings at which hour, and who may free which door"),
            Way("Switch places", "places", "Which switch goes where, and which cable to which port"),
            Way("Day", "day", "The building's day, played visitor by visitor"),
            Way("Rehearsal", "rehearsal", "Every unit live on a virtual network, every call played"),
        ),
    ),
    Phase(
        Life.INSTALLATION,
        (
            Way("Papers", "papers", "The pack: drawings, cards, schedules, labels, bill"),
            Way("Drawings", "drawings", "Riser, network, power, entrances, levels"),
            Way("Schedule", "schedule", "The work shared among technicians"),
            Way("Services", "services", "Files for SIP, DHCP, DNS and time servers"),
        ),
    ),
    Phase(
        Life.COMMISSIONING,
        (
            Way("Run sheet", "run-sheet", "The work in order: tick, note, photograph, read off"),
            Way("Verify", "verify", "Ask the real building over its network, gently"),
            Way("Found", "found", "What the units say, beside the plan"),
        ),
    ),
    Phase(
        Life.HANDOVER,
        (
            Way("Signatures", "signatures", "Who tested, certified or received what"),
            Way("Secrets", "secrets", "The vault: one secret, or the sealed sheet"),
        ),
    ),
    Phase(
        Life.OPERATION,
        (
            Way("Changes", "changes", "Replace a unit, add a dwelling: what to touch"),
            Way("History", "history", "Every revision; compare, go back"),
            Way("Firmware", "firmware", "Steps from one firmware to another, and what they cost"),
        ),
    ),
)
