"""Faults of pairing: what was entered at one end and not at the other, full registrars, firmware between steps."""

from collections.abc import Iterator
from dataclasses import replace
from ipaddress import IPv4Address
from random import Random
from typing import Final

from doorwright.rehearse.box import Admitted, Box, Registration, Ringing, Role
from doorwright.rehearse.faults.fault import (
    Boxes,
    Fault,
    UnfitError,
    altered,
    answers,
    beside,
    in_boxes,
    registers,
    registrar_of,
    registration_of,
    sent_on,
)
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned

_DEFAULT_ADDRESS: Final = "192.168.1.100"
"""Where a unit answers whose settings were cleared (our own choice)."""


def pairing_faults() -> Iterator[Fault]:
    """Yield the faults of pairing."""
    address = "registrar's address wrong"
    yield Fault("registrar-address", address, Look.NO_ATTEMPT, registers, in_boxes(_registrar_address))
    yield Fault("wrong-secret", "SIP secret differs", Look.REFUSED_401, registers, in_boxes(_wrong_secret))
    yield Fault("number-swapped", "call number differs", Look.RINGS_ELSEWHERE, _is_first, in_boxes(_number_swapped))
    yield Fault("number-twice", "call number used twice", Look.TWO_RING, _is_first, in_boxes(_number_twice))
    entered = "unit not entered at the registrar"
    yield Fault("not-entered", entered, Look.REFUSED_404, registers, in_boxes(_not_entered))
    serial = "wrong serial at the registrar"
    yield Fault("wrong-serial", serial, Look.REFUSED_403, _is_known_by_serial, in_boxes(_wrong_serial))
    yield Fault("registrar-full", "registrar full", Look.REFUSED_403, _admits_units, in_boxes(_full))
    yield Fault("server-full", "SIP server full", Look.REFUSED_503, _serves_units, in_boxes(_full))
    step = "firmware on the other side of a pairing step"
    yield Fault("firmware-step", step, Look.NEVER_THOUGH, _pairs_by_generation, in_boxes(_firmware_step))
    cleared = "settings cleared by firmware"
    yield Fault("settings-cleared", cleared, Look.ELSEWHERE, answers, in_boxes(_settings_cleared))


# who can have what


def _is_first(plan: Planned, box: Box) -> bool:
    """Whether calls to its dwelling come to it, and another such unit registers with the same registrar."""
    first = registers(plan, box) and box.role is Role.URU and "-" not in box.user
    return first and bool(_others(plan.boxes, box))


def _admits_units(_plan: Planned, box: Box) -> bool:
    return len(box.admits) > 1 and box.role is not Role.SERVER


def _serves_units(_plan: Planned, box: Box) -> bool:
    return len(box.admits) > 1 and box.role is Role.SERVER


def _is_known_by_serial(plan: Planned, box: Box) -> bool:
    registrar = registrar_of(plan.boxes, box)
    return registrar is not None and any(one.unit == box.id and one.serial is not None for one in registrar.admits)


def _pairs_by_generation(plan: Planned, box: Box) -> bool:
    registrar = registrar_of(plan.boxes, box)
    return registrar is not None and None not in (box.generation, registrar.generation)


def _others(boxes: Boxes, box: Box) -> list[Box]:
    """Return the first receivers of other dwellings at the same registrar, in order of name."""
    at = box.registers.address if box.registers else ""
    elsewhere = sent_on(boxes, box)
    return [
        one
        for one in boxes.values()
        if one.id != box.id
        and one.role is Role.URU
        and "-" not in one.user
        and one.registers
        and one.user not in elsewhere
        and one.registers.address == at
    ]


def _registrar(boxes: Boxes, box: Box) -> Box:
    found = registrar_of(boxes, box)
    if found is None:
        raise UnfitError(f"{box.name} registers with nothing that is there")
    return found


# what each does


def _registrar_address(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    entered = registration_of(box)
    wrong = beside(entered.address)
    taken = {one.jack.address for one in boxes.values()}
    while wrong in taken:
        wrong = str(IPv4Address(int(IPv4Address(wrong)) + 1))
    return altered(box, registers=replace(entered, address=wrong))


def _wrong_secret(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    entered = registration_of(box)
    return altered(box, registers=replace(entered, secret=entered.secret[::-1] + "0"))


def _number_twice(boxes: Boxes, box: Box, chance: Random) -> Boxes:
    """The line of another dwelling was entered, at both ends."""
    theirs = registration_of(chance.choice(_others(boxes, box)))
    registrar = _registrar(boxes, box)
    admits = (_entered_as(one, theirs) if one.unit == box.id else one for one in registrar.admits)
    return {box.id: _as(box, theirs), **altered(registrar, admits=tuple(admits))}


def _number_swapped(boxes: Boxes, box: Box, chance: Random) -> Boxes:
    """Two lines of the list were entered each at the other's unit, at both ends."""
    other = chance.choice(_others(boxes, box))
    mine, theirs = registration_of(box), registration_of(other)
    instead = {box.id: theirs, other.id: mine}
    registrar = _registrar(boxes, box)
    admits = (_entered_as(one, instead[one.unit]) if one.unit in instead else one for one in registrar.admits)
    return {box.id: _as(box, theirs), other.id: _as(other, mine), **altered(registrar, admits=tuple(admits))}


def _entered_as(one: Admitted, entered: Registration) -> Admitted:
    return replace(one, user=entered.user, secret=entered.secret)


def _as(box: Box, entered: Registration) -> Box:
    """Return the box entered as another: its number is what it answers, too."""
    ringing: dict[str, tuple[Ringing, ...]] = dict(box.ringing)
    if box.user in ringing:
        ringing[entered.user] = ringing.pop(box.user)
    own = registration_of(box)
    registration = replace(own, user=entered.user, secret=entered.secret)
    return replace(box, user=entered.user, registers=registration, ringing=ringing)


def _not_entered(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    registrar = _registrar(boxes, box)
    return altered(registrar, admits=tuple(one for one in registrar.admits if one.unit != box.id))


def _wrong_serial(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """Two digits of the serial were typed the wrong way round, or one twice where they are alike."""
    registrar = _registrar(boxes, box)

    def mistyped(serial: str) -> str:
        swapped = serial[:-2] + serial[-1] + serial[-2]
        return swapped if swapped != serial else serial + serial[-1]

    admits = (
        replace(one, serial=mistyped(one.serial)) if one.unit == box.id and one.serial is not None else one
        for one in registrar.admits
    )
    return altered(registrar, admits=tuple(admits))


def _full(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, room=len(box.admits) - 1)


def _firmware_step(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """The unit was brought past the step, what it registers with was not; all that is entered was entered again."""
    return altered(box, generation=(box.generation or 0) + 1)


def _settings_cleared(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    jack = replace(box.jack, address=_DEFAULT_ADDRESS, cidr=f"{_DEFAULT_ADDRESS}/24", gateway=None)
    return altered(box, jack=jack, registers=None)
