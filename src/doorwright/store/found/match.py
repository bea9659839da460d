"""Which part of the plan a row of a settings table is about."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

from doorwright.model.aspect import Aspect
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk


class SeveralParts(Exception):  # noqa: N818  (an answer about a row, not an error of the program)
    """What identifies the row is that of several parts."""

    def __init__(self, by: Aspect, parts: tuple[Part, ...]) -> None:
        super().__init__(by)
        self.by = by
        self.parts = parts


class Socket:
    """A port of a switch of the plan, and what the plan has at the other end of its cable."""

    def __init__(self, walk: Walk, switch: Switch, port: int) -> None:
        self.switch = switch
        self.port = port
        here = [run.far for run in walk.runs_from(switch.id) if run.near_port == port]
        here += [run.near for run in walk.runs_to(switch.id) if run.far_port == port]
        self.is_between_switches = any(walk.find(Switch, ident) for ident in here)
        self.units = tuple(unit for ident in here if (unit := walk.find(Unit, ident)))


def switches_named(walk: Walk, name: str) -> tuple[Switch, ...]:
    """Return the switches of a name, in any case of letters."""
    return tuple(switch for switch in walk.all(Switch) if switch.name.casefold() == name.casefold())


def _by_name(walk: Walk, name: str) -> tuple[Part, ...]:
    return (*walk.units_named(name), *switches_named(walk, name))


FINDERS: Final[Mapping[Aspect, Callable[[Walk, str], tuple[Part, ...]]]] = MappingProxyType(
    {
        Aspect.NAME: _by_name,
        Aspect.SERIAL: lambda walk, text: walk.holders_of_serial(text) or walk.holders_of_serial(text.upper()),
        Aspect.MAC: Walk.holders_of_mac,
        Aspect.ADDRESS: Walk.holders_of_address,
    }
)


def part_of(walk: Walk, values: Mapping[Aspect, str], socket: Socket | None) -> Part | None:
    """Return the unit or switch that the values of a row are about, or None where the plan has no such part.

    What is on the unit comes first, then where it is plugged in, then what was entered in it.

    Raises:
        SeveralParts: nothing tells one part, and something is that of several.
    """
    several: SeveralParts | None = None
    for by in (Aspect.NAME, Aspect.SERIAL, Aspect.MAC, Aspect.PORT, Aspect.ADDRESS):
        if by is Aspect.PORT:
            parts: tuple[Part, ...] = socket.units if socket else ()
        elif by in values:
            parts = tuple(part for part in FINDERS[by](walk, values[by]) if isinstance(part, Unit | Switch))
        else:
            parts = ()
        if len(parts) == 1:
            return parts[0]
        if parts and several is None:
            several = SeveralParts(by, parts)
    if several is not None:
        raise several
    return None
