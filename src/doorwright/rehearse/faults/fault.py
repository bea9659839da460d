"""What a fault is: a cause, what it looks like, who can have it, and what it alters.

A fault alters a plan as somebody would who enters, plugs, wires or sets something wrongly. What that looks like then
comes over the wire; nothing here says so to the actors. ``look`` is what the trade sees (common practice): the tests
hold that the rehearsal shows it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from ipaddress import AddressValueError, IPv4Address
from random import Random
from typing import TypeAlias

from doorwright.model.calling import DivertCause
from doorwright.rehearse.box import Box, Registration, Role
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned

Boxes: TypeAlias = Mapping[str, Box]
Put: TypeAlias = Callable[[Planned, Box, Random], Planned]
"""Returns a plan with the fault at a box in it."""
Alters: TypeAlias = Callable[[Boxes, Box, Random], Boxes]
"""Returns the boxes that a fault at one of them alters."""


class UnfitError(Exception):
    """The fault cannot be put into this building, or not at this unit; the message says why."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause, what it looks like, the units that can have it, and what it does to the plan."""

    name: str
    cause: str
    look: Look
    fits: Callable[[Planned, Box], bool]
    put: Put


def in_boxes(alters: Alters) -> Put:
    """Return what puts in a fault that alters nothing but what is entered in boxes, or how they hang on the network."""

    def put(plan: Planned, box: Box, chance: Random) -> Planned:
        return replace(plan, boxes={**plan.boxes, **alters(plan.boxes, box, chance)})

    return put


def altered(box: Box, **fields: object) -> Boxes:
    """Return a box with fields altered, as the only altered one."""
    return {box.id: replace(box, **fields)}  # type: ignore[arg-type]


# who can have what


def is_unit(_plan: Planned, box: Box) -> bool:
    """Whether it is a unit, not a server."""
    return box.role is not Role.SERVER


def registers(plan: Planned, box: Box) -> bool:
    """Whether it registers with another box."""
    return box.registers is not None and registrar_of(plan.boxes, box) is not None


def answers(plan: Planned, box: Box) -> bool:
    """Whether somebody can take calls at it."""
    return box.role in (Role.URU, Role.SMU) and registers(plan, box)


def frees(_plan: Planned, box: Box) -> bool:
    """Whether it has a door to free."""
    return any(release.relay is not None for release in box.releases)


# who is who


def registration_of(box: Box) -> Registration:
    """Return what is entered for its registrar.

    Raises:
        UnfitError: it registers with nothing.
    """
    if box.registers is None:
        raise UnfitError(f"{box.name} registers with nothing")
    return box.registers


def registrar_of(boxes: Boxes, box: Box) -> Box | None:
    """Return what a box registers with; None where that is no box."""
    entered = box.registers
    if entered is None:
        return None
    return next((one for one in boxes.values() if one.jack.address == entered.address and one.admits), None)


def sent_on(boxes: Boxes, box: Box) -> set[str]:
    """Return the numbers whose calls ring elsewhere at some hour: a fault there might not be seen."""
    router = registrar_of(boxes, box) or box
    return {n for n, lines in router.sending.items() if any(line.cause is DivertCause.ALWAYS for line in lines)}


def beside(address: str) -> str:
    """Return an address one step beside another, where nobody is."""
    try:
        return str(IPv4Address(int(IPv4Address(address)) ^ 0x80))
    except AddressValueError:
        raise UnfitError(f"{address} is no IPv4 address") from None
