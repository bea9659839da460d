"""What follows the asks of `verify_book`: units are found by discovery, and switches are asked over SNMP."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from doorwright.app.find_units import FoundUnits, find_units
from doorwright.app.means import Means
from doorwright.app.take_found import Compared
from doorwright.app.verify_switches import SwitchHeard, VaultKeys, VerifiedSwitches, verify_switches
from doorwright.kernel.verdict import Subject
from doorwright.probe.ask import Manner
from doorwright.probe.discovery import PORT as DISCOVERY_PORT
from doorwright.probe.snmp import PORT, Key


@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherAsks:
    """What is wanted.

    Attributes:
        discovery_port: at which port those who answered are asked by WS-Discovery; None asks none of them.
        everywhere: whether one Probe goes to everybody on the local network.
        keys: what opens the switches; None asks none of them.
        snmp_port: where they listen.
    """

    discovery_port: int | None = DISCOVERY_PORT
    everywhere: bool = False
    keys: Key | VaultKeys | None = field(default=None, repr=False)
    snmp_port: int = PORT


@dataclass(frozen=True, slots=True, kw_only=True)
class Further:
    """What came of finding units and of asking switches; None where it was not asked for."""

    found: FoundUnits | None = None
    switches: VerifiedSwitches | None = None

    def compared(self, before: Compared) -> Compared:
        """Return what is found beside the plan now."""
        return self.switches.compared if self.switches else self.found.compared if self.found else before


def ask_further(
    book: Path,
    means: Means,
    asks: FurtherAsks,
    *,
    manner: Manner,
    only: tuple[str, ...],
    there: frozenset[Subject],
    permitted: bool = False,
    begin: Callable[[str], None] = lambda _: None,
    found_by: Callable[[FoundUnits], None] = lambda _: None,
    listen: Callable[[SwitchHeard, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
) -> Further:
    """Find units by discovery among those who are ``there``, and ask switches over SNMP, as far as was asked for.

    Args:
        book: the book.
        means: the world.
        asks: what is wanted.
        manner: how fast, how many at once, with how much patience.
        only: the names of parts; none means all.
        there: who answered before; nobody else is asked by discovery.
        permitted: that the network's owner permits it. Once it was said, the book remembers.
        begin: is told in words what begins now.
        found_by: is told who was found, before any switch is asked.
        listen: hears what each switch told, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.

    Raises:
        Refused: as ``find_units`` and ``verify_switches`` have it.
    """
    found = None
    if (asks.discovery_port and there) or asks.everywhere:
        begin("finding units by discovery")
        found = find_units(
            book, means, manner=manner, everywhere=asks.everywhere, port=asks.discovery_port, only=only, among=there,
            permitted=permitted, still_wanted=still_wanted,
        )  # fmt: skip
        found_by(found)
    switches = None
    if asks.keys is not None:
        begin("asking the switches over SNMP")
        switches = verify_switches(
            book, means, manner=manner, keys=asks.keys, port=asks.snmp_port, only=only, permitted=permitted,
            listen=listen, still_wanted=still_wanted,
        )  # fmt: skip
    return Further(found=found, switches=switches)
