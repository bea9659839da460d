"""Tell what came of finding units and of asking switches for `verify`, for people and as JSON."""

from typing import Any

from doorwright.app.ask_further import Further
from doorwright.app.find_units import FoundUnits
from doorwright.app.tell_further import (
    DISCOVERY_HEADINGS,
    SNMP_WORDS,
    SWITCH_HEADINGS,
    discovery_row,
    discovery_words,
    switch_row,
)
from doorwright.app.verify_switches import VerifiedSwitches
from doorwright.cli.printer import Printer


def further_as_json(further: Further) -> dict[str, Any]:
    """Return it as JSON tells it."""
    return {
        "discovery": found_as_json(further.found) if further.found else None,
        "switches": switches_as_json(further.switches) if further.switches else None,
    }


def print_further(printer: Printer, further: Further, *, everywhere: bool) -> None:
    """Print it."""
    if further.found is not None:
        print_found(printer, further.found, everywhere=everywhere)
    if further.switches is not None:
        print_switches(printer, further.switches)


def switches_as_json(said: VerifiedSwitches) -> dict[str, Any]:
    """Return what switches told."""
    return {
        "asked": [
            {
                "part": {"kind": one.target.subject.kind, "id": one.target.subject.id, "label": one.target.name},
                "address": one.target.address,
                "snmp": SNMP_WORDS[one.outcome],
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
    if said.heard:
        printer.table(SWITCH_HEADINGS, [switch_row(one) for one in said.heard])
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
        printer.line(discovery_words(said))
    rows = [discovery_row(one) for one in (*elsewhere, *strangers)]
    if rows:
        printer.table(DISCOVERY_HEADINGS, rows)
    if said.no_way:
        printer.line(f"The local network was not asked: {said.no_way}.")
