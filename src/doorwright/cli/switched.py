"""Find units and ask switches for `verify`, and tell what came of it, for people and as JSON."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from doorwright.app.find_units import FoundUnits, find_units
from doorwright.app.means import Means
from doorwright.app.take_found import Compared
from doorwright.app.verify_switches import VaultKeys, VerifiedSwitches, verify_switches
from doorwright.cli.printer import Printer
from doorwright.cli.switch_keys import Given
from doorwright.kernel.verdict import Subject
from doorwright.kernel.words import counted
from doorwright.probe.ask import Manner
from doorwright.probe.reach import Outcome
from doorwright.probe.snmp import Key

_WORDS: Final = {Outcome.ANSWERED: "yes", Outcome.REFUSED: "refused", Outcome.SILENT: "none", Outcome.NO_WAY: "no way"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Further:
    """What came of finding units and of asking switches; None where it was not asked for."""

    found: FoundUnits | None = None
    switches: VerifiedSwitches | None = None

    def compared(self, before: Compared) -> Compared:
        """Return what is found beside the plan now."""
        return self.switches.compared if self.switches else self.found.compared if self.found else before

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON tells it."""
        return {
            "discovery": found_as_json(self.found) if self.found else None,
            "switches": switches_as_json(self.switches) if self.switches else None,
        }

    def tell(self, printer: Printer, *, everywhere: bool) -> None:
        """Print it."""
        if self.found is not None:
            print_found(printer, self.found, everywhere=everywhere)
        if self.switches is not None:
            print_switches(printer, self.switches)


def ask_further(
    book: Path,
    means: Means,
    given: Given,
    keys: Key | VaultKeys | None,
    *,
    manner: Manner,
    only: tuple[str, ...],
    there: frozenset[Subject],
    permitted: bool,
) -> Further:
    """Find units by discovery among those who are ``there``, and ask switches over SNMP, as far as was asked for."""
    found = None
    if (given.discovery_port and there) or given.everywhere:
        found = find_units(
            book, means, manner=manner, everywhere=given.everywhere, port=given.discovery_port or None, only=only,
            among=there, permitted=permitted,
        )  # fmt: skip
    switches = None
    if keys is not None:
        switches = verify_switches(
            book, means, manner=manner, keys=keys, port=given.snmp_port, only=only, permitted=permitted
        )
    return Further(found=found, switches=switches)


def switches_as_json(said: VerifiedSwitches) -> dict[str, Any]:
    """Return what switches told."""
    return {
        "asked": [
            {
                "part": {"kind": one.target.subject.kind, "id": one.target.subject.id, "label": one.target.name},
                "address": one.target.address,
                "snmp": _WORDS[one.outcome],
                "poe_supply": one.seen.supply if one.seen else None,
                "poe_budget_w": one.seen.budget_w if one.seen else None,
                "poe_given_w": one.seen.given_w if one.seen else None,
                "unplaced": one.seen.unplaced if one.seen else (),
                "ports": [
                    {
                        "port": number,
                        "name": port.name,
                        "link": port.is_up,
                        "speed_mbps": port.speed_mbps,
                        "frames": port.frames_count,
                        "frames_with_errors": port.errors_count,
                        "macs": port.macs,
                        "neighbours": [{"name": other.name, "macs": other.macs} for other in port.neighbours],
                        "poe": port.poe,
                        "poe_class": port.poe_class,
                    }
                    for number, port in (one.seen.ports.items() if one.seen else ())
                ],
            }
            for one in said.heard
        ],
        "left_out": [{"label": one.name, "reason": one.reason} for one in said.left_out],
        "new": said.new_count,
    }


def print_switches(printer: Printer, said: VerifiedSwitches) -> None:
    """Print a line for each switch."""
    printer.line()
    rows = [
        (
            one.target.name,
            one.target.address,
            _WORDS[one.outcome],
            str(sum(port.is_up is True for port in one.seen.ports.values())) if one.seen else "-",
            f"{one.seen.given_w} of {one.seen.budget_w} W" if one.seen and one.seen.given_w is not None else "-",
            "; ".join(one.seen.unplaced) if one.seen and one.seen.unplaced else "-",
        )
        for one in said.heard
    ]
    if rows:
        printer.table(("switch", "address", "SNMP", "links up", "PoE given", "could not be read"), rows)
    for one in said.left_out:
        printer.line(f"Not asked over SNMP: {one.name}, because {one.reason}.")


def found_as_json(said: FoundUnits) -> dict[str, Any]:
    """Return who answered to discovery."""
    return {
        "answered": [
            {"address": one.address, "endpoint": one.endpoint, "part": one.part, "planned_address": one.planned,
             "is_elsewhere": one.is_elsewhere}
            for one in said.answered
        ],
        "no_way": said.no_way,
        "new": said.new_count,
    }  # fmt: skip


def print_found(printer: Printer, said: FoundUnits, *, everywhere: bool) -> None:
    """Print who is elsewhere and who is a stranger; who answers where it should, only by the count."""
    elsewhere = [one for one in said.answered if one.is_elsewhere]
    strangers = [one for one in said.answered if one.part is None]
    if said.answered or everywhere:
        printer.line()
        printer.line(
            f"To discovery answered {counted(len(said.answered), 'device')}: {len(elsewhere)} of the plan elsewhere"
            f" than planned, {len(strangers)} that {'is' if len(strangers) == 1 else 'are'} not known by what they say."
        )
    rows = [
        (one.address, one.part or "not known", one.planned or "-", one.endpoint) for one in (*elsewhere, *strangers)
    ]
    if rows:
        printer.table(("answers at", "part", "planned at", "calls itself"), rows)
    if said.no_way:
        printer.line(f"The local network was not asked: {said.no_way}.")
