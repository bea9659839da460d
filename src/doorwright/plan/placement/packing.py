"""How the units of one cupboard share out among its switches: in the order of their names, else the hungriest first."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Room:
    """What one switch takes: how many units, how many milliwatts together, and how many each at most."""

    ports_count: int
    power_mw: int
    port_mw: int


def pack(rooms: Sequence[Room], units_mw: Sequence[int]) -> tuple[int, ...] | None:
    """Return for each unit the switch that takes it, or None where neither order fits; another might.

    The first tried leaves the units in the order given and fills the switches one after the other, so that neighbours
    stay together.
    """
    return _fill(rooms, units_mw, range(len(units_mw))) or _fill(
        rooms, units_mw, sorted(range(len(units_mw)), key=lambda at: -units_mw[at])
    )


def _fill(rooms: Sequence[Room], units_mw: Sequence[int], order: Sequence[int]) -> tuple[int, ...] | None:
    ports = [room.ports_count for room in rooms]
    power = [room.power_mw for room in rooms]
    on = [-1] * len(units_mw)
    for at in order:
        need = units_mw[at]
        for number, room in enumerate(rooms):
            if ports[number] and power[number] >= need and room.port_mw >= need:
                ports[number] -= 1
                power[number] -= need
                on[at] = number
                break
        else:
            return None
    return tuple(on)
