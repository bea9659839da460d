"""Which part of the plan a device is, by what it says of itself."""

from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.probe.discovery import Match

_SERIAL_MIN_COUNT = 5
"""Shorter serial numbers could be any word of a device's scopes by accident."""


def part_named(walk: Walk, match: Match) -> Unit | Switch | None:
    """Return the one part of the plan whose MAC address or else serial number a device tells; None for strangers.

    Who tells those of several parts is not known.
    """
    of_macs = {part.id: part for mac in match.macs for part in walk.holders_of_mac(mac)}
    of_serials = {
        part.id: part for word in match.words if len(word) >= _SERIAL_MIN_COUNT for part in walk.holders_of_serial(word)
    }
    for found in (of_macs, of_serials):
        if len(found) == 1:
            part = next(iter(found.values()))
            return part if isinstance(part, Unit | Switch) else None
        if found:
            return None
    return None
